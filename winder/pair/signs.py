"""The two signs of a coil in its place, and what joining two coils does to hum and signal.

Follow the wire from start to finish, seen from the string's side. Counter-clockwise encloses area that
points to the string (right hand), so a field B growing that way gives, by Faraday's law,

    V_FS = - h F dB/dt,    h = direction x mounting: the hum sign,

V_FS the finish against the start and F the turns-area. A pole magnetises the string along its own field, so
the string's flux through the coil has the sign m of the pole and grows as the string comes near:

    V_FS = - s N dw/dt,    s = h x m: the signal sign, w > 0 larger the nearer the string.

Where the first turn lies, layers to and fro, taper and pitch have no say. Joined, a second coil counts
with the sign j: in series V1 + j V2, in parallel the mean of the two. So

    hum cancels if j h1 h2 = -1,    signals add if j s1 s2 = +1.

Checked against the flux through every turn, by Faraday's law, in ``tests/pair/test_truth_table.py``.
"""

from __future__ import annotations

import enum

from firmware_protocol.records import dataclass
from winder.recipe.model import Direction


class Mounted(enum.Enum):
    """Which side of the coil faces the string in the instrument; nothing to do with the winder."""

    TOP_TO_STRING = "top to the string"
    TOP_AWAY = "top away from the string"


class Pole(enum.Enum):
    """The end of the magnet that faces the string: north repels the needle's north-marked end."""

    NORTH = "north"
    SOUTH = "south"


class Lead(enum.Enum):
    """The start is the inner lead, at the core; the finish the outer one."""

    START = "S"
    FINISH = "F"

    @property
    def other(self) -> Lead:
        return Lead.FINISH if self is Lead.START else Lead.START


class Circuit(enum.Enum):
    SERIES = "series"
    PARALLEL = "parallel"


@dataclass(frozen=True, slots=True)
class Placed:
    """One coil as it sits in the instrument."""

    direction: Direction  # from start to finish, seen from the coil's top
    mounted: Mounted
    pole: Pole

    @property
    def hum_sign(self) -> int:
        """h: +1 if, from the string's side, it runs counter-clockwise from start to finish."""
        turning = 1 if self.direction is Direction.COUNTER_CLOCKWISE else -1
        return turning if self.mounted is Mounted.TOP_TO_STRING else -turning

    @property
    def pole_sign(self) -> int:
        """m: +1 for north."""
        return 1 if self.pole is Pole.NORTH else -1

    @property
    def signal_sign(self) -> int:
        """s: +1 if the finish goes positive while the string moves away from the pole."""
        return self.hum_sign * self.pole_sign


@dataclass(frozen=True, slots=True)
class Join:
    """Which lead of the first coil is soldered to which of the second.

    In series the two others are the output; in parallel the two others are together as well.
    """

    circuit: Circuit
    first: Lead
    second: Lead

    @property
    def sign(self) -> int:
        """j: with which sign the second coil's V_FS counts beside the first's."""
        like = self.first is self.second
        return 1 if like is (self.circuit is Circuit.PARALLEL) else -1

    @property
    def turned(self) -> Join:
        """The join after the second coil's two leads changed places."""
        return Join(self.circuit, self.first, self.second.other)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What becomes of what both coils hear."""

    hum_cancels: bool
    signals_add: bool


def outcome(one: Placed, other: Placed, join: Join) -> Outcome:
    """Hum and signals of two coils joined; of a stack, the pole of both is the one at the string."""
    return Outcome(
        hum_cancels=join.sign * one.hum_sign * other.hum_sign == -1,
        signals_add=join.sign * one.signal_sign * other.signal_sign == 1,
    )


def joins(circuit: Circuit) -> tuple[Join, ...]:
    """Every way to solder two coils; in parallel two of the four are one circuit."""
    return tuple(Join(circuit, first, second) for first in Lead for second in Lead)
