"""How many counts make a turn, from turns that a person made by hand.

A hand begins and ends each stretch within a few degrees of the mark, and the sensor counts whole counts: after
``turns`` turns and ``counts`` counts, a turn gives between ``(counts - 1) / (turns + slack)`` and
``(counts + 1) / (turns - slack)`` counts. Only a whole number can be right. While several remain, more turns are
needed; when none does, the sensor does not sit on the spindle.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass

HAND_DEGREES = 6.0  # at each end of a stretch; common practice, no source
COUNTS_MAX = 10_000  # of a turn, as in a machine file
TURNS_FIRST = 10
TURNS_MOST = 60  # after which nobody is asked for more


@dataclass(frozen=True, slots=True)
class Stretch:
    """Turns made in one go, from the mark to the mark, and the counts that came."""

    turns: int
    counts: int


@dataclass(frozen=True, slots=True)
class Band:
    """What a turn may give, in counts."""

    low: float
    high: float

    @property
    def whole(self) -> range:
        """Every whole number in it."""
        return range(max(1, math.ceil(self.low)), min(COUNTS_MAX, math.floor(self.high)) + 1)


def band_of(stretches: list[Stretch]) -> Band:
    """What all of them leave open. The errors of the hand at the ends of each do not average out."""
    slack = 2 * HAND_DEGREES / 360
    bands = [
        ((one.counts - 1) / (one.turns + slack), (one.counts + 1) / (one.turns - slack))
        for one in stretches
    ]
    turns = sum(one.turns for one in stretches)
    counts = sum(one.counts for one in stretches)
    together = len(stretches) * slack
    parts = len(stretches)
    bands.append(((counts - parts) / (turns + together), (counts + parts) / (turns - together)))
    return Band(max(low for low, _ in bands), min(high for _, high in bands))


@dataclass(frozen=True, slots=True)
class Verdict:
    """``counts``: the one number that is left; else ``more`` turns are needed, or ``refused`` says why not."""

    counts: int | None = None
    more: int = 0
    refused: str = ""


def judge_turns(stretches: list[Stretch], printed: int | None = None) -> Verdict:
    """After the stretches made so far. ``printed``: the number that stands on the sensor."""
    band = band_of(stretches)
    made = sum(one.turns for one in stretches)
    told = (
        f"{band.low:.3g}"
        if band.low >= band.high
        else f"between {band.low:.4g} and {band.high:.4g}"
    )
    if not any(one.counts for one in stretches):
        return Verdict(
            refused="no count came: is the sensor wired, and near enough to its magnet or disc?"
        )
    if band.low > band.high:
        return Verdict(
            refused="the two counts disagree: a turn was miscounted, or the sensor misses some"
        )
    if printed is not None:
        if printed in band.whole:
            return Verdict(counts=printed) if len(stretches) > 1 else Verdict(more=TURNS_FIRST)
        return Verdict(
            refused=f"a turn gave {told} counts, not {printed}: it counts more or fewer edges of each, or a belt lies between"
        )
    if not band.whole:
        return Verdict(
            refused=f"a turn gave {told} counts, and no whole number is among them: the sensor sits before a belt or "
            "gears, and no count through them can be exact. Put it on the spindle that carries the bobbin"
        )
    if len(band.whole) == 1 and len(stretches) > 1:
        return Verdict(counts=band.whole[0])
    if made >= TURNS_MOST:
        return Verdict(
            refused=f"after {made} turns it may still be any of {band.whole[0]} to {band.whole[-1]} counts: look for "
            "the number on the sensor or in its data sheet, and begin again with it"
        )
    return Verdict(more=min(_turns_needed(band, made), TURNS_MOST - made))


def _turns_needed(band: Band, made: int) -> int:
    """To leave one number, in one stretch more: the band shrinks as the turns grow."""
    if len(band.whole) == 1:
        return TURNS_FIRST
    return max(TURNS_FIRST, math.ceil(made * (band.high - band.low)) + TURNS_FIRST - made)
