"""How sure a count is, and how that is said.

A truth is *exact* (one number, counted), *vouched* (one number, on somebody's word) or *between* two bounds with the
reason. ``low <= best <= high`` is made true where a truth is made, never asserted on what came from outside. Where
nobody can say how many turns a hand may have made, the upper bound is ``OPEN`` and a person has to count.
"""

from __future__ import annotations

import enum
import math

from firmware_protocol.records import dataclass

OPEN = 1 << 40  # far above any count: nobody knows how many more


class Certainty(enum.Enum):
    EXACT = "exact"
    VOUCHED = "vouched"
    BETWEEN = "between"


@dataclass(frozen=True, slots=True)
class CountTruth:
    """Counts of the coil: the best guess and its bounds."""

    low: int
    best: int
    high: int
    by: str = ""  # who vouched
    why: str = ""  # reason for vouching or doubt, plain words

    @property
    def certainty(self) -> Certainty:
        if self.low < self.high:
            return Certainty.BETWEEN
        return Certainty.VOUCHED if self.by else Certainty.EXACT

    @property
    def is_sharp(self) -> bool:
        """One number, whether counted or vouched for."""
        return self.low == self.high

    @property
    def is_open(self) -> bool:
        return self.high >= OPEN


def made_truth(low: int, best: int, high: int, by: str = "", why: str = "") -> CountTruth:
    """A truth of whatever numbers: nobody takes off more turns than there are, and the best guess lies within."""
    if not 0 <= low <= best <= high:
        low, high = max(0, min(low, high)), max(0, low, high)
        best = min(max(best, low), high)
    return CountTruth(low, best, high, by, why if by or low < high else "")


def exact(counts: int) -> CountTruth:
    return made_truth(counts, counts, counts)


def vouched(counts: int, by: str, why: str) -> CountTruth:
    return made_truth(counts, counts, counts, by, why)


def between(low: int, high: int, why: str) -> CountTruth:
    return made_truth(low, (low + high) // 2, high, "", why)


def turns_words(counts: int, counts_per_turn: int, rounding: int = 0) -> str:
    """Turns with at most two decimals; ``rounding`` -1 downwards, +1 upwards, 0 to the nearest."""
    whole, rest = divmod(counts, counts_per_turn)
    if not rest:
        return str(whole)
    hundredths = rest * 100 / counts_per_turn
    part = math.floor(hundredths) if rounding < 0 else math.ceil(hundredths - 0.5)
    if rounding > 0:
        part = math.ceil(hundredths)
    return f"{whole + part / 100:.2f}".rstrip("0").rstrip(".")


def bounds_words(truth: CountTruth, counts_per_turn: int) -> str:
    """The number, or its bounds: ``7000``, ``6999 to 7001``, ``at least 6999``."""
    low = turns_words(truth.low, counts_per_turn, -1)
    if truth.is_open:
        return f"at least {low}"
    if truth.is_sharp:
        return turns_words(truth.low, counts_per_turn)
    return f"{low} to {turns_words(truth.high, counts_per_turn, 1)}"


def words(truth: CountTruth, counts_per_turn: int) -> str:
    """A truth for people: the turns, how sure, and why."""
    number = f"{bounds_words(truth, counts_per_turn)} turns"
    if truth.certainty is Certainty.BETWEEN:
        return f"{number}: {truth.why}"
    return f"{number}, {how_sure(truth, counts_per_turn)}"


def how_sure(truth: CountTruth, counts_per_turn: int) -> str:
    """What is said behind a number: ``exact``, who vouched for it, or its bounds and why."""
    if truth.certainty is Certainty.BETWEEN:
        return f"{bounds_words(truth, counts_per_turn)}: {truth.why}"
    if truth.certainty is Certainty.VOUCHED:
        by = "you" if truth.by == "operator" else truth.by
        return f"vouched for by {by} ({truth.why})"
    return "exact"
