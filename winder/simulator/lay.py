"""The wire on the bobbin, turn by turn.

The space between the flanges is cut into narrow lateral bins, each with the height that is filled. The
wire runs on where it leaves the bobbin, at the angle of its free length l: over a turn of length P the
lay point goes the share P / l of its way to the guide, so it lags behind a steady guide and turns back
late and short of it. A turn is laid at the lay point, but slides by half a wire to a side where the ground
is lower by more than friction holds, and never through a flange. It sits on the mean height under it,
its length is the perimeter of the core grown by that height all round (a convex core grows by 2 pi per
unit of height), and a shallow bow on every flat side, and it raises its bins so that their area grows by the wire's cross-section over the
packing. Resistance is length times the true ohm per metre of the wire as it is stretched. Nothing here is a formula for a whole
winding: the whole is the sum of its turns.

Where the flanges taper a turn goes inward until it lies between their faces at its own height: down a
flange that leans outward, which is ground as well, and out from under one that leans inward. Bins span the
greatest width. How far a turn was led beyond a face is kept, and whether it lies above the rims.
"""

from __future__ import annotations

import math
from array import array

from .build import Build

BINS_PER_WIRE = 4
BINS_MAX = 4000
SEATED_M = 1e-9  # a turn at the face of a flange is not beyond it
HOLDS_SHARE = 1.0  # a step of so many wires is not slid down; a guess, for lack of a source


class Lay:
    """What has been laid since the bobbin was put on."""

    def __init__(self, build: Build) -> None:
        self._build = build
        self._wire_m = build.wire_overall_m
        self._width_m = build.widest_m
        self._free_m = build.free_length_m
        self._perimeter_m = build.core_perimeter_m
        # At constant volume a wire that is longer is thinner by as much.
        self._ohm_per_m = build.ohm_per_m * (1 + build.stretch) ** 2
        self._bow = sum(8 * build.bulge**2 / (3 * flat_m) for flat_m in build.flats_m)
        bins = round(self._width_m / build.wire_overall_m * BINS_PER_WIRE)
        bins = min(max(bins, BINS_PER_WIRE), BINS_MAX)
        self.bin_m = self._width_m / bins
        bare = min(math.ceil(build.margin_m / self.bin_m - 1e-6), (bins - 1) // 2)
        self._meant = slice(bare, bins - bare)  # the bins that lie between the margins
        self._span = max(1, round(self._wire_m / self.bin_m))  # bins one wire covers
        area_m2 = math.pi / 4 * self._wire_m**2 / build.packing
        self._holds_m = HOLDS_SHARE * self._wire_m
        self._rise_m = area_m2 / (self._span * self.bin_m)
        self.heights_m = [build.face_height_m((place + 0.5) * self.bin_m) for place in range(bins)]
        self._tapers = build.rim_width_m not in (None, build.width_m)
        self.length_m = 0.0
        # One of each a turn, and what it takes to take it off again: winds of a million turns are kept so.
        self._bins = array("l")  # the first one it lies in
        self._lengths_m = array("d")
        self._points_m = array("d")  # lay point and guide, from the left flange
        self._guides_m = array("d")
        self._led_out = (
            bytearray()
        )  # 1: led beyond a flange's face, at its height, by more than a wire
        self._above_rims = bytearray()

    @property
    def turns(self) -> int:
        return len(self._bins)

    def led_at_m(self, turns: float) -> float:
        """Where the guide belongs with so many turns on the bobbin, the last one begun: on as in the last whole turn.

        The wire winds on as a screw, so the eye finds it a part of a pitch beyond the middle of that turn.
        """
        if not self.turns:
            return 0.0
        guide_m = self._guides_m[-1]
        step_m = 0.0 if self.turns == 1 else guide_m - self._guides_m[-2]
        return guide_m + step_m * (turns - (self.turns - 0.5))

    def lay_turn(self, guide_m: float) -> None:
        """One turn, at whose middle the guide stands at this place from the left flange."""
        led_m = self._follow(guide_m)
        half_m = self._wire_m / 2
        point_m = min(max(led_m, half_m), self._width_m - half_m)
        heights, span = self.heights_m, self._span
        last = len(heights) - span
        first = self._between_faces(min(max(round(point_m / self.bin_m - span / 2), 0), last))
        half = span // 2
        best, ground = first, sum(heights[first : first + span])
        steep = ground - self._holds_m * span
        for side in (first - half, first + half):
            if 0 <= side <= last:
                height = sum(heights[side : side + span])
                if height < steep and height < ground and self._between_faces(side) == side:
                    best, ground = side, height
        for index in range(best, best + span):
            heights[index] += self._rise_m
        ground_m = ground / span
        seat_m = ground_m + half_m
        # On a flat side it lies in a shallow bow: 8 s^2 / 3 l longer, s the bulge of its height.
        length = self._perimeter_m + 2 * math.pi * seat_m + self._bow * seat_m**2
        self.length_m += length
        placed_m = (
            (best + span / 2) * self.bin_m
            if self._tapers
            else point_m + (best - first) * self.bin_m
        )
        face_m = self._build.left_face_m(ground_m)
        out_m = max(face_m + half_m - led_m, led_m - (self._width_m - face_m - half_m), 0.0)
        rims_m = self._build.flange_height_m
        above = rims_m is not None and ground_m + self._build.raised_m >= rims_m
        self._bins.append(best)
        self._lengths_m.append(length)
        self._points_m.append(placed_m)
        self._guides_m.append(guide_m)
        self._led_out.append(out_m > self._wire_m)
        self._above_rims.append(above)

    def _between_faces(self, first: int) -> int:
        """The nearest place inward where a turn clears the flanges at the height of its middle."""
        if not self._tapers:
            return first
        heights, span = self.heights_m, self._span
        last = len(heights) - span
        inward = 1 if first < last / 2 else -1
        while (last / 2 - first) * inward > 0:
            height_m = sum(heights[first : first + span]) / span + self._wire_m / 2
            edge = first if inward > 0 else last - first
            if edge * self.bin_m >= self._build.left_face_m(height_m) - SEATED_M:
                break
            first += inward
        return first

    def _follow(self, guide_m: float) -> float:
        """Where the wire meets the bobbin a turn later, the guide having gone there evenly.

        The lay point x follows the guide g by dx/ds = (g - x) / l along the wire; for an even g
        over one turn that is solved exactly. The first turn lies where it is led.
        """
        if not self.turns:
            return guide_m
        before_m, guide_before_m = self._points_m[-1], self._guides_m[-1]
        turns = self._free_m / self._lengths_m[-1]
        lag_m = (guide_m - guide_before_m) * turns
        return guide_m - lag_m + (before_m - guide_before_m + lag_m) * math.exp(-1 / turns)

    def take_off_turn(self) -> None:
        """The last turn comes off again."""
        first = self._bins.pop()
        for index in range(first, first + self._span):
            self.heights_m[index] -= self._rise_m
        self.length_m -= self._lengths_m.pop()
        for kept in (self._points_m, self._guides_m, self._led_out, self._above_rims):
            kept.pop()

    @property
    def wound_ohm(self) -> float:
        return self.length_m * self._ohm_per_m

    def _laid(self) -> list[float]:
        """Heights of the width that is meant to be wound: between the margins."""
        if not self.turns:
            return []
        return self.heights_m[self._meant_at(self._middle_m) if self._tapers else self._meant]

    @property
    def _middle_m(self) -> float:
        """Mean height of the middle half between the flanges at the core."""
        middle, quarter = len(self.heights_m) // 2, round(self._build.width_m / self.bin_m / 4)
        inner = self.heights_m[middle - quarter : middle + quarter] or self.heights_m
        return sum(inner) / len(inner)

    def _meant_at(self, height_m: float) -> slice:
        """The bins between the margins at this height, where flanges taper."""
        bins = len(self.heights_m)
        inset_m = self._build.left_face_m(height_m) + self._build.margin_m
        bare = min(math.ceil(inset_m / self.bin_m - 1e-6), (bins - 1) // 2)
        return slice(bare, bins - bare)

    @property
    def layers(self) -> float:
        """Turns over the number of wires that fit side by side between the margins, on the mean."""
        if not self.turns:
            return 0.0
        wide = len(self._laid())
        if self._tapers:
            low = self._meant_at(0.0)
            wide = (wide + low.stop - low.start) / 2
        return self.turns * self._wire_m / (wide * self.bin_m)

    @property
    def led_out_turns(self) -> int:
        """Turns that were led beyond a flange's face, at the height they lie at, by more than a wire."""
        return sum(self._led_out)

    @property
    def spilt_turns(self) -> int:
        """Turns that lie above the rims; none where nothing is known of them."""
        return sum(self._above_rims)

    @property
    def edge_share(self) -> float:
        """Mean height of the outermost wire widths over that of the middle half; 0 without wire."""
        laid, span = self._laid(), self._span
        quarter = len(laid) // 4
        middle = sum(laid[quarter : len(laid) - quarter])
        if middle <= 0.0:
            return 0.0
        edges = sum(laid[:span], 0.0) + sum(laid[-span:], 0.0)
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
