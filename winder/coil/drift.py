"""A winding whose packing drifts with depth: lengths, heights, their slopes, and the inverse.

Local area per turn a(k) = a (1 + d (k / N - 1/3)) at turn k of the N the coil is planned for, constant
beyond N. So the height of n turns and their length (Steiner, summed) are

    h(n) = (a / W) (n + d (n^2 / 2N - n / 3)),   L(n) = P0 n + (pi a / W) (n^2 + d (n^3 / 3N - n^2 / 3)).

The third makes the drift vanish from L(N): ``a`` is the packing that the *finished* coil's resistance
goes by, and d only says how readings on the way are to be extrapolated. With d = 0 these are the
formulas of ``steiner``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from winder.coil.model import Coil
from winder.coil.steiner import turns_of_length

STEPS_MAX = 60
CLOSE_ENOUGH = 1e-14  # relative, of a length


@dataclass(frozen=True, slots=True)
class DriftingWinding:
    """The geometry that is not in doubt; areas and drifts come as arguments."""

    perimeter_m: float
    width_m: float
    turns: float  # N: where the drift has no say in the length
    leads_m: float

    @classmethod
    def of(cls, coil: Coil) -> DriftingWinding:
        return cls(coil.core_perimeter_m, coil.width_m, coil.turns, coil.recipe.leads_m)

    def build_m(self, turns: float, area_m2: float, drift: float) -> float:
        """Height of the first ``turns`` turns."""
        return area_m2 / self.width_m * (turns + drift * self.build_by_drift(turns))

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
        turns = turns_of_length(self.perimeter_m, area_m2 / self.width_m, wound_m)
        for _ in range(STEPS_MAX if drift else 0):
            miss_m = self.length_m(turns, area_m2, drift) - self.leads_m - wound_m
            if abs(miss_m) <= CLOSE_ENOUGH * wound_m:
                break
            turns = max(turns - miss_m / self.turn_m(turns, area_m2, drift), 0.0)
        return turns
