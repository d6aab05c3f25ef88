"""What hum a pair leaves, as a band against one coil alone, and what spoils it.

Where the join cancels, what is left is the difference of what both coils hear: by their turns-areas (counts,
packing as far as readings leave it open), by unequal iron, by the field of a near source that is not the same
in both, by a coil that leans. All have one frequency and nearly one phase, so amplitudes add in the
worst case and may cancel in the best. A hum ratio measured coil against coil in one place takes
the place of turns-area and iron both. In parallel the coils' ohms weigh in: F/R has to match, not F.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band
from winder.errors import UserMistake
from winder.pair.circuit import Side, weights
from winder.pair.mounting import IRON_FACTS, Iron
from winder.pair.signs import Circuit

FLOOR_SHARE = 1e-3  # -60 dB: below it what these rules know nothing of is louder; our judgement
RATIO_DOUBT = 0.02  # of two hum voltages measured one after the other, 95 %; our judgement
HUM_HZ = 50.0


@dataclass(frozen=True, slots=True)
class Ears:
    """What makes two coils hear differently. Logarithms of first over second; 95 % limits."""

    turns_area: Band  # ln F1/F2
    iron: Iron = Iron.NOT_TOLD
    near: int = 0  # the coil at the string, or with the iron if only one has it
    measured_ratio: float | None = None  # hum of the first over the second, each alone in its place
    ratio_doubt: float = RATIO_DOUBT
    source_share: float = 0.0  # of a near source, turned the worst way; 0: none near
    lean_rad: float = 0.0  # angle between both axes

    @property
    def ratio_log(self) -> Band:
        """ln of the first coil's hum over the second's in an even field."""
        if self.measured_ratio is not None:
            middle, doubt = math.log(self.measured_ratio), math.log1p(self.ratio_doubt)
            return Band(middle, middle - doubt, middle + doubt)
        facts = IRON_FACTS[self.iron]
        shift = math.log(facts.near / facts.far) * (1 if self.near == 0 else -1)
        f = self.turns_area
        doubts = [
            math.hypot(side, facts.log_doubt) for side in (f.nominal - f.low, f.high - f.nominal)
        ]
        middle = f.nominal + shift
        return Band(middle, middle - doubts[0], middle + doubts[1])


@dataclass(frozen=True, slots=True)
class Left:
    """Shares of what the louder coil alone hears, and what they are made of."""

    share: Band
    mismatch: Band  # by turns-area and iron, or by the measured ratio
    source: float  # at most, of the near source
    lean: float  # at most

    @property
    def decibel(self) -> Band:
        return Band(
            *(decibel(each) for each in (self.share.nominal, self.share.low, self.share.high))
        )


def decibel(share: float) -> float:
    """20 log10, with the floor under it."""
    return 20 * math.log10(max(share, FLOOR_SHARE))


def check_ears(ears: Ears) -> None:
    """``UserMistake`` for a ratio or an angle that cannot be."""
    if ears.measured_ratio is not None and not 0.01 <= ears.measured_ratio <= 100:
        raise UserMistake(
            f"a hum ratio of {ears.measured_ratio:g}",
            where="ratio",
            remedy="give the first coil's hum over the second's, 0.01 to 100",
        )
    if not 0 <= ears.lean_rad <= math.pi / 4:
        raise UserMistake(
            f"a coil that leans by {math.degrees(ears.lean_rad):g} degrees",
            where="lean",
            remedy="give 0 to 45 degrees",
        )


def lean_share(angle_rad: float) -> float:
    """The worst that a coil leaning by this angle leaves: 2 sin(t/2), the field across both."""
    return 2 * math.sin(angle_rad / 2)


def hum_left(
    ears: Ears,
    circuit: Circuit,
    sides: tuple[Side, Side],
    mutual_h: float,
    *,
    cancels: bool,
    frequency_hz: float = HUM_HZ,
) -> Left:
    """Of one join. ``mutual_h`` is the mutual inductance as this join sees it. See ``check_ears``."""
    check_ears(ears)
    log = ears.ratio_log
    counted = weights(circuit, *sides, mutual_h, frequency_hz)
    sign = -1 if cancels else 1

    def share_at(ratio_log: float) -> float:
        ratio = math.exp(ratio_log)
        whole = abs(counted[0] * ratio + sign * counted[1])
        return whole / max(ratio, 1.0)

    at = {each: share_at(each) for each in (log.nominal, log.low, log.high)}
    null = math.log(abs(counted[1]) / abs(counted[0]))  # where a cancelling join leaves least
    low = min(at.values())
    if cancels and log.low < null < log.high:
        low = min(low, share_at(null))
    mismatch = Band(at[log.nominal], low, max(at.values()))
    if not cancels:
        return Left(mismatch, mismatch, 0.0, 0.0)
    weigh = abs(counted[0]) + abs(counted[1])
    source, lean = ears.source_share * weigh / 2, lean_share(ears.lean_rad) * weigh / 2
    more = source + lean
    share = Band(mismatch.nominal + more, max(mismatch.low - more, 0.0), mismatch.high + more)
    return Left(share, mismatch, source, lean)
