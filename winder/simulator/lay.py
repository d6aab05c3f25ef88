"""The wire on the bobbin, turn by turn.

The space between the flanges is cut into narrow lateral bins, each with the height that is filled. A turn
is laid where the guide leads it, but slides by half a wire to a side where the ground is lower by more
than friction holds; it sits on the mean height under it, its length is the perimeter of the core grown by that height all
round (a convex core grows by 2 pi per unit of height), and it raises its bins so that their area
grows by the wire's cross-section over the packing. Resistance is length times the true ohm per metre.
Nothing here is a formula for a whole winding: the whole is the sum of its turns.
"""

from __future__ import annotations

import math

from .build import Build

BINS_PER_WIRE = 4
BINS_MAX = 4000
HOLDS_SHARE = 1.0  # a step of so many wires is not slid down; a guess, for lack of a source


class Lay:
    """What has been laid since the bobbin was put on."""

    def __init__(self, build: Build) -> None:
        self._wire_m = build.wire_overall_m
        self._perimeter_m = build.core_perimeter_m
        self._ohm_per_m = build.ohm_per_m
        bins = round(build.width_m / build.wire_overall_m * BINS_PER_WIRE)
        bins = min(max(bins, BINS_PER_WIRE), BINS_MAX)
        self.bin_m = build.width_m / bins
        self._span = max(1, round(self._wire_m / self.bin_m))  # bins one wire covers
        area_m2 = math.pi / 4 * self._wire_m**2 / build.packing
        self._holds_m = HOLDS_SHARE * self._wire_m
        self._rise_m = area_m2 / (self._span * self.bin_m)
        self.heights_m = [0.0] * bins
        self.length_m = 0.0
        self._turns: list[tuple[int, float]] = []  # first bin and length of every turn

    @property
    def turns(self) -> int:
        return len(self._turns)

    def lay_turn(self, place_m: float) -> None:
        """One turn, led to this place from the left flange."""
        heights, span = self.heights_m, self._span
        last = len(heights) - span
        first = min(max(round(place_m / self.bin_m - span / 2), 0), last)
        half = span // 2
        best, ground = first, sum(heights[first : first + span])
        steep = ground - self._holds_m * span
        for side in (first - half, first + half):
            if 0 <= side <= last:
                height = sum(heights[side : side + span])
                if height < steep and height < ground:
                    best, ground = side, height
        for index in range(best, best + span):
            heights[index] += self._rise_m
        length = self._perimeter_m + 2 * math.pi * (ground / span + self._wire_m / 2)
        self.length_m += length
        self._turns.append((best, length))

    def take_off_turn(self) -> None:
        """The last turn comes off again."""
        first, length = self._turns.pop()
        for index in range(first, first + self._span):
            self.heights_m[index] -= self._rise_m
        self.length_m -= length

    @property
    def wound_ohm(self) -> float:
        return self.length_m * self._ohm_per_m

    def _laid(self) -> list[float]:
        """Heights from the leftmost to the rightmost wire."""
        used = [i for i, h in enumerate(self.heights_m) if h > self._rise_m / 2]
        return self.heights_m[used[0] : used[-1] + 1] if used else []

    @property
    def layers(self) -> float:
        """Turns over the number of wires that fit side by side in the laid width."""
        laid = self._laid()
        return self.turns * self._wire_m / (len(laid) * self.bin_m) if laid else 0.0

    @property
    def unevenness(self) -> float:
        """Standard deviation (of the population) of the bins' heights over their mean.

        Taken over the laid width: from the leftmost to the rightmost bin that holds wire.
        """
        laid = self._laid()
        if not laid:
            return 0.0
        mean = sum(laid) / len(laid)
        return math.sqrt(sum((h - mean) ** 2 for h in laid) / len(laid)) / mean
