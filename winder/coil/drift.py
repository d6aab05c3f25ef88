"""A winding whose packing drifts with depth: lengths, heights, their slopes, and the inverse.

Local area per turn a(k) = a (1 + d (k / N - 1/3)) at turn k of the N the coil is planned for, constant
beyond N. So the height of n turns and their length (Steiner, summed) are

    h(n) = (a / W) (n + d (n^2 / 2N - n / 3)),   L(n) = P0 n + (pi a / W) (n^2 + d (n^3 / 3N - n^2 / 3)).

The third makes the drift vanish from L(N): ``a`` is the packing that the *finished* coil's resistance
goes by, and d only says how readings on the way are to be extrapolated. With d = 0 these are the
formulas of ``steiner``.

Between flanges that taper the same section n + d (...) fills the window of ``window.Ground``: exact in closed form
without drift; what drift adds to a length is an integral over the turns, by Gauss's rule.
"""

from __future__ import annotations

import functools
import math

from firmware_protocol.records import dataclass
from winder.coil.steiner import turns_of_length
from winder.coil.window import Ground
from winder.coil.wound import Wound

STEPS_MAX = 60
CLOSE_ENOUGH = 1e-14  # relative, of a length
NODES = 24  # of the integral over the turns


@dataclass(frozen=True, slots=True)
class DriftingWinding:
    """The geometry that is not in doubt; areas and drifts come as arguments."""

    perimeter_m: float
    width_m: float
    turns: float  # N: where the drift has no say in the length
    leads_m: float

    @classmethod
    def of(cls, wound: Wound) -> DriftingWinding:
        ground = wound.ground
        figures = (ground.perimeter_m, ground.window.base_m, wound.turns, wound.leads_m)
        if ground.window.slope:
            return TaperingWinding(*figures, ground)
        return DriftingWinding(*figures)

    def build_m(self, turns: float, area_m2: float, drift: float) -> float:
        """Height of the first ``turns`` turns."""
        return area_m2 / self.width_m * (turns + drift * self.build_by_drift(turns))

    def build_slopes(self, turns: float, area_m2: float, drift: float) -> tuple[float, float]:
        """Of the height, over the logarithm of the area and over the drift."""
        height_m = self.build_m(turns, area_m2, drift)
        return height_m, area_m2 / self.width_m * self.build_by_drift(turns)

    def length_slopes(self, turns: float, area_m2: float, drift: float) -> tuple[float, float]:
        """Of the length, over the logarithm of the area and over the drift."""
        rise_m, by_drift = math.pi * area_m2 / self.width_m, self.length_by_drift(turns)
        return rise_m * (turns**2 + drift * by_drift), rise_m * by_drift

    def build_by_drift(self, turns: float) -> float:
        """Turns' worth of height that one unit of drift adds."""
        within = min(turns, self.turns)
        beyond = turns - within
        return within**2 / (2 * self.turns) - within / 3 + beyond * 2 / 3

    def length_m(self, turns: float, area_m2: float, drift: float) -> float:
        """Wire in the first ``turns`` turns and the leads."""
        square = turns**2 + drift * self.length_by_drift(turns)
        return self.perimeter_m * turns + math.pi * area_m2 / self.width_m * square + self.leads_m

    def length_by_drift(self, turns: float) -> float:
        """What one unit of drift adds to the square of the turns; nothing at N."""
        within = min(turns, self.turns)
        beyond = turns - within
        inside = within**3 / (3 * self.turns) - within**2 / 3
        return inside + 2 * self.build_by_drift(within) * beyond + beyond**2 * 2 / 3

    def turn_m(self, turns: float, area_m2: float, drift: float) -> float:
        """Length of the turn at the top of ``turns`` turns: the slope of ``length_m``."""
        return self.perimeter_m + 2 * math.pi * self.build_m(turns, area_m2, drift)

    def turns_of(self, length_m: float, area_m2: float, drift: float) -> float:
        """The inverse of ``length_m``: Newton from the closed form of a winding without drift.

        The slope is a turn's length, never nothing, so a few steps give all the digits there are.
        """
        wound_m = max(length_m - self.leads_m, 0.0)
        turns = self._turns_even(wound_m, area_m2)
        for _ in range(STEPS_MAX if drift else 0):
            miss_m = self.length_m(turns, area_m2, drift) - self.leads_m - wound_m
            if abs(miss_m) <= CLOSE_ENOUGH * wound_m:
                break
            turns = max(turns - miss_m / self.turn_m(turns, area_m2, drift), 0.0)
        return turns

    def _turns_even(self, wound_m: float, area_m2: float) -> float:
        return turns_of_length(self.perimeter_m, area_m2 / self.width_m, wound_m)


@dataclass(frozen=True, slots=True)
class TaperingWinding(DriftingWinding):
    """The same between flanges that taper; ``width_m`` is not used."""

    ground: Ground

    def build_m(self, turns: float, area_m2: float, drift: float) -> float:
        return self.ground.build_m(self._sections(turns, drift), area_m2)

    def build_slopes(self, turns: float, area_m2: float, drift: float) -> tuple[float, float]:
        wide_m = self.ground.window.width_m(self.build_m(turns, area_m2, drift))
        rise_m = area_m2 / wide_m
        return rise_m * self._sections(turns, drift), rise_m * self.build_by_drift(turns)

    def length_m(self, turns: float, area_m2: float, drift: float) -> float:
        even_m = self.ground.length_m(turns, area_m2) + self.leads_m
        if not drift:
            return even_m
        return even_m + sum(
            2
            * math.pi
            * weight
            * (self.build_m(at, area_m2, drift) - self.build_m(at, area_m2, 0.0))
            for at, weight in _nodes(turns)
        )

    def length_slopes(self, turns: float, area_m2: float, drift: float) -> tuple[float, float]:
        slopes = [(weight, self.build_slopes(at, area_m2, drift)) for at, weight in _nodes(turns)]
        by_area = sum(2 * math.pi * weight * slope[0] for weight, slope in slopes)
        return by_area, sum(2 * math.pi * weight * slope[1] for weight, slope in slopes)

    def _sections(self, turns: float, drift: float) -> float:
        """Areas that so many turns take, of the finished coil's mean."""
        return max(turns + drift * self.build_by_drift(turns), 0.0)

    def _turns_even(self, wound_m: float, area_m2: float) -> float:
        return self.ground.turns_of(wound_m, area_m2)


def _nodes(turns: float) -> list[tuple[float, float]]:
    """Places and weights of Gauss's rule from nought to ``turns``."""
    half = turns / 2
    return [(half * (1 + node), half * weight) for node, weight in _rule()]


@functools.cache
def _rule() -> tuple[tuple[float, float], ...]:
    import numpy  # only where flanges taper

    nodes, weights = numpy.polynomial.legendre.leggauss(NODES)
    return tuple(zip(map(float, nodes), map(float, weights), strict=True))
