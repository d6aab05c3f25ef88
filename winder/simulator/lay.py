"""The wire on the bobbin, turn by turn.

The space between the flanges is cut into narrow lateral bins, each with the height that is filled. The
wire runs on where it leaves the bobbin, at the angle of its free length l: over a turn of length P the
lay point goes the share P / l of its way to the guide, so it lags behind a steady guide and turns back
late and short of it. A turn is laid at the lay point, but slides by half a wire to a side where the ground
is lower by more than friction holds, and never through a flange. It sits on the mean height under it,
its length is the perimeter of the core grown by that height all round (a convex core grows by 2 pi per
unit of height), and it raises its bins so that their area grows by the wire's cross-section over the
packing. Resistance is length times the true ohm per metre. Nothing here is a formula for a whole
winding: the whole is the sum of its turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .build import Build

BINS_PER_WIRE = 4
BINS_MAX = 4000
HOLDS_SHARE = 1.0  # a step of so many wires is not slid down; a guess, for lack of a source


@dataclass(slots=True)
class _Turn:
    """One turn as it was laid, and what it takes to take it off again."""

    first_bin: int
    length_m: float
    came_from: tuple[float, float] | None  # lay point and guide before it


class Lay:
    """What has been laid since the bobbin was put on."""

    def __init__(self, build: Build) -> None:
        self._wire_m = build.wire_overall_m
        self._width_m = build.width_m
        self._free_m = build.free_length_m
        self._perimeter_m = build.core_perimeter_m
        self._ohm_per_m = build.ohm_per_m
        bins = round(build.width_m / build.wire_overall_m * BINS_PER_WIRE)
        bins = min(max(bins, BINS_PER_WIRE), BINS_MAX)
        self.bin_m = build.width_m / bins
        bare = min(math.ceil(build.margin_m / self.bin_m - 1e-6), (bins - 1) // 2)
        self._meant = slice(bare, bins - bare)  # the bins that lie between the margins
        self._span = max(1, round(self._wire_m / self.bin_m))  # bins one wire covers
        area_m2 = math.pi / 4 * self._wire_m**2 / build.packing
        self._holds_m = HOLDS_SHARE * self._wire_m
        self._rise_m = area_m2 / (self._span * self.bin_m)
        self.heights_m = [0.0] * bins
        self.length_m = 0.0
        self._led: tuple[float, float] | None = None  # lay point and guide, from the left flange
        self._turns: list[_Turn] = []

    @property
    def turns(self) -> int:
        return len(self._turns)

    def lay_turn(self, guide_m: float) -> None:
        """One turn, at whose middle the guide stands at this place from the left flange."""
        came_from = self._led
        point_m = self._follow(guide_m)
        heights, span = self.heights_m, self._span
        last = len(heights) - span
        first = min(max(round(point_m / self.bin_m - span / 2), 0), last)
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
        self._led = (point_m + (best - first) * self.bin_m, guide_m)
        self._turns.append(_Turn(best, length, came_from))

    def _follow(self, guide_m: float) -> float:
        """Where the wire meets the bobbin a turn later, the guide having gone there evenly.

        The lay point x follows the guide g by dx/ds = (g - x) / l along the wire; for an even g
        over one turn that is solved exactly. The first turn lies where it is led.
        """
        half_m = self._wire_m / 2
        if self._led is None:
            point_m = guide_m
        else:
            before_m, guide_before_m = self._led
            turns = self._free_m / self._turns[-1].length_m
            lag_m = (guide_m - guide_before_m) * turns
            point_m = guide_m - lag_m
            point_m += (before_m - guide_before_m + lag_m) * math.exp(-1 / turns)
        return min(max(point_m, half_m), self._width_m - half_m)

    def take_off_turn(self) -> None:
        """The last turn comes off again."""
        turn = self._turns.pop()
        for index in range(turn.first_bin, turn.first_bin + self._span):
            self.heights_m[index] -= self._rise_m
        self.length_m -= turn.length_m
        self._led = turn.came_from

    @property
    def wound_ohm(self) -> float:
        return self.length_m * self._ohm_per_m

    def _laid(self) -> list[float]:
        """Heights of the width that is meant to be wound: between the margins."""
        return self.heights_m[self._meant] if self._turns else []

    @property
    def layers(self) -> float:
        """Turns over the number of wires that fit side by side between the margins."""
        return self.turns * self._wire_m / (len(self._laid()) * self.bin_m) if self._turns else 0.0

    @property
    def edge_share(self) -> float:
        """Mean height of the outermost wire widths over that of the middle half; 0 without wire."""
        laid, span = self._laid(), self._span
        quarter = len(laid) // 4
        middle = sum(laid[quarter : len(laid) - quarter])
        if middle <= 0.0:
            return 0.0
        edges = sum(laid[:span]) + sum(laid[-span:])
        return (edges / (2 * span)) / (middle / (len(laid) - 2 * quarter))

    @property
    def unevenness(self) -> float:
        """Standard deviation (of the population) of the bins' heights over their mean.

        Taken between the margins, whether wire lies there or not.
        """
        laid = self._laid()
        mean = sum(laid) / len(laid) if laid else 0.0
        if mean <= 0.0:
            return 0.0
        return math.sqrt(sum((h - mean) ** 2 for h in laid) / len(laid)) / mean
