"""How a pair sits in the instrument: above each other or side by side, its iron, what is heard by both.

Facts that a person is asked in the pair only. Iron matters most: poles and plates gather hum and signal,
and a coil that has more of them than the other hears more of both. The factors are those of two round coils
(7 mm hub, 19 mm outside, 9 mm wide, 2 mm apart) with 5 mm poles, computed by finite differences
(``tests/pair/iron_field.py``, table in ``docs/pairs.md``); for other coils they say the order of size, so
their doubt is wide.
"""

from __future__ import annotations

import enum
import math

from firmware_protocol.records import dataclass
from winder.errors import UserMistake
from winder.files.quantities import show_length


class Iron(enum.Enum):
    """What passes through the coils or lies beside them."""

    NONE = "no iron"
    MAGNETS = "rod magnets through both coils, or one in each"
    STEEL = "steel poles through both coils, or in each"
    STEEL_PLATE = "steel poles through both coils and a steel plate under the far one"
    MAGNET_IN_ONE = "a rod magnet in one coil only"
    STEEL_IN_ONE = "steel poles in one coil only"
    STEEL_IN_ONE_PLATE = "steel poles in the near coil and a steel plate between the coils"
    NOT_TOLD = "not told"


@dataclass(frozen=True, slots=True)
class IronFacts:
    """Hum of the near (or first) and the far coil, times that without iron; and how sure their ratio is."""

    near: float
    far: float
    log_doubt: float  # 95 % of the logarithm of near over far


# Doubt of equal iron: that of a pole 1 mm further out at one end, 4 % of steel (finite differences), a quarter
# of it for rod magnets. Of unequal iron: half of the logarithm, a judgement, for other coils and poles.
IRON_FACTS = {
    Iron.NONE: IronFacts(1.0, 1.0, 0.0),
    Iron.MAGNETS: IronFacts(1.28, 1.28, 0.01),
    Iron.STEEL: IronFacts(2.95, 2.95, 0.04),
    Iron.STEEL_PLATE: IronFacts(4.06, 5.50, math.log(5.50 / 4.06) / 2),
    Iron.MAGNET_IN_ONE: IronFacts(1.18, 1.04, math.log(1.18 / 1.04) / 2),
    Iron.STEEL_IN_ONE: IronFacts(1.67, 1.14, math.log(1.67 / 1.14) / 2),
    Iron.STEEL_IN_ONE_PLATE: IronFacts(2.65, 1.13, math.log(2.65 / 1.13) / 2),
    # Nobody said: as much as steel in one of them, either way.
    Iron.NOT_TOLD: IronFacts(1.0, 1.0, math.log(1.67 / 1.14)),
}


@dataclass(frozen=True, slots=True)
class Stacked:
    """One above the other on one magnet; lengths in metres."""

    gap_m: float  # between the windings
    near: int = 0  # the coil at the string: 0 the first, 1 the second

    @property
    def stacked(self) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class Beside:
    """Side by side, axes parallel."""

    apart_m: float  # between the axes
    end_to_end: bool = False  # else the long sides face each other
    own_strings: bool = (
        False  # each coil under strings or tines of its own; else one string over both
    )
    string: String | None = None  # told: for the thin way's partials

    @property
    def stacked(self) -> bool:
        return False

    @property
    def near(self) -> int:
        return 0


@dataclass(frozen=True, slots=True)
class String:
    """A string over both poles: its length and where the middle of the pair lies, metres from its end."""

    length_m: float
    from_end_m: float


Mounting = Stacked | Beside


def check_mounting(mounting: Mounting) -> None:
    """``UserMistake`` for a place that cannot be, as far as it shows without the coils."""
    length_m = mounting.gap_m if isinstance(mounting, Stacked) else mounting.apart_m
    name = "gap" if isinstance(mounting, Stacked) else "apart"
    if not 0 < length_m <= APART_MAX_M:
        raise UserMistake(
            f"two coils of a pair cannot be {show_length(length_m, 4)} apart",
            where=name,
            remedy=f"give more than nothing and at most {show_length(APART_MAX_M)}",
        )
    if isinstance(mounting, Beside) and mounting.string is not None:
        string = mounting.string
        if not 0 < string.from_end_m < string.length_m < math.inf:
            raise UserMistake(
                "the pair does not lie under its string",
                where="string",
                remedy="give the string's length and a shorter distance from its end",
            )


APART_MAX_M = 1.0  # farther apart they are two coils, not a pair
