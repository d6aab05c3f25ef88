"""The winding's height across the bobbin, from what the board reports on the way; for the screen.

The width between the flanges is cut into bins. Between two reports the guide went from one place to another
while so many turns came on: their cross-section, turns times a, is spread evenly over the bins in
between, widened to a wire at least, since a wire is never narrower than itself. Where the guide turned round
between two reports the way there and back is not known; it is taken as straight, which at a few
reports a second is a matter of a turn or two.

The wire follows the guide as over a free length l: dx/dn = (g - x) P / l, n in turns of length P (see
``winder.plan.traverse``). Between two reports the guide is taken as steady, and that has the solution

    x1 = g1 - v t + (x0 - g0 + v t) exp(-dn / t),    v = (g1 - g0) / dn,  t = l / P.

A picture, not a measure: it leaves out that wire slides off a heap into a low place beside it.
"""

from __future__ import annotations

import math


class HeightProfile:
    """Heights over the bins, fed by reports. One update takes some microseconds."""

    def __init__(
        self,
        width_m: float,
        overall_m: float,
        area_per_turn_m2: float,
        bins: int = 64,
        *,
        margin_m: float = 0.0,
        lag_turns: float = 0.0,
    ) -> None:
        """``width_m`` between the flanges, of which ``margin_m`` is meant to stay free at either side.

        ``area_per_turn_m2`` of the winding's section, ``Coil``'s. ``lag_turns``: the free length between
        guide and bobbin over the length of a turn; 0: the wire lies below the guide.
        """
        assert width_m - 2 * margin_m > 0 and overall_m > 0 and area_per_turn_m2 > 0 and bins >= 1
        self.heights_m = [0.0] * bins
        self.turns = 0.0
        self._margin_m = margin_m
        self._width_m = width_m
        self._bin_m = width_m / bins
        self._half_m = min(overall_m, width_m) / 2
        self._area_m2 = area_per_turn_m2
        self._lag_turns = lag_turns
        self._guide_m: float | None = None  # from the left flange, like the wire's place
        self._wire_m = 0.0

    def report(self, turns: float, place_m: float | None) -> None:
        """So many turns lie on the bobbin, and the guide stands here (None: led by hand, not known).

        ``place_m`` from the left flange. Fewer turns than before were taken off again, from the way the
        guide went back. Places beyond the flanges count as at them; without a place the turns lie level
        between the margins. Nothing is raised: a report is whatever the board said.
        """
        came, self.turns = turns - self.turns, turns
        if place_m is None:
            low_m, high_m = self._margin_m, self._width_m - self._margin_m
            self._guide_m = None
        else:
            low_m, high_m = self._follow(place_m, came)
            low_m, high_m = self._within(low_m - self._half_m, high_m + self._half_m)
        if came:
            self._spread(low_m, high_m, came * self._area_m2)

    def _follow(self, guide_m: float, came: float) -> tuple[float, float]:
        """Where the wire went while the guide went there: the lower and the higher end of its way."""
        lag, guide_before_m = self._lag_turns, self._guide_m
        self._guide_m = guide_m
        if guide_before_m is None:
            self._wire_m = guide_before_m = guide_m
        before_m = self._wire_m
        if lag <= 0 or came < 0:
            self._wire_m = guide_m
        elif came > 0:
            behind_m = (guide_m - guide_before_m) / came * lag
            fades = math.exp(-came / lag)
            self._wire_m = guide_m - behind_m + (before_m - guide_before_m + behind_m) * fades
        return min(before_m, self._wire_m), max(before_m, self._wire_m)

    def _within(self, low_m: float, high_m: float) -> tuple[float, float]:
        """The strip moved between the flanges, never narrower than a wire."""
        wire_m = 2 * self._half_m
        low_m = min(max(low_m, 0.0), self._width_m - wire_m)
        return low_m, max(min(high_m, self._width_m), low_m + wire_m)

    def _spread(self, low_m: float, high_m: float, area_m2: float) -> None:
        bin_m, heights = self._bin_m, self.heights_m
        rise_m = area_m2 / (high_m - low_m)
        last = len(heights) - 1
        first_at, last_at = low_m / bin_m, high_m / bin_m
        first, final = min(int(first_at), last), min(int(last_at), last)
        if first == final:
            heights[first] += rise_m * (last_at - first_at)
            return
        heights[first] += rise_m * (first + 1 - first_at)
        for index in range(first + 1, final):
            heights[index] += rise_m
        heights[final] += rise_m * (last_at - final)

    def shares(self, height_m: float) -> list[float]:
        """Every bin's height as a share of ``height_m`` (the flange's, say), at least 0."""
        return [max(height, 0.0) / height_m for height in self.heights_m]
