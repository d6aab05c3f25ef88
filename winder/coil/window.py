"""The winding window between flanges that may taper, and what fills it.

Between straight flanges the winding is W wide at every height. Where the flanges taper it is
w(h) = W + s h wide at the height h above what the first turn lies on, s the slope of both flanges
together (below zero: the rims are nearer to each other), W the width there less the margins. Whatever is
figured of a winding b high is a moment of it,

    M_k(b) = integral of w(h) h^k dh from 0 to b = W b^(k+1)/(k+1) + s b^(k+2)/(k+2),

with the turns M_0 / a and, by Steiner, the wire (P0 M_0 + 2 pi M_1) / a and the turns-area
(A0 M_0 + P0 M_1 + pi M_2) / a, a the section of one turn. Above the rims, where there is no flange, a winding
that does not fit is figured on as if it stayed as wide as there.

Turns and build are inverted in the form that does not cancel, turns and length by Newton's rule: the slope
is w(h) times the perimeter, never nothing. Straight flanges take the closed forms of ``steiner``.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.steiner import turns_area_m2, turns_of_length, wound_length_m
from winder.recipe.model import Recipe

STEPS_MAX = 100
CLOSE_ENOUGH = 1e-15  # relative, of a height


@dataclass(frozen=True, slots=True)
class Window:
    """Where the wire may lie; heights above what the first turn lies on, metres."""

    base_m: float  # width at the bottom, margins off
    slope: float = 0.0  # of the width over the height; 0: straight flanges
    rim_m: float = math.inf  # height of the rims

    def width_m(self, height_m: float) -> float:
        return self.base_m + self.slope * min(height_m, self.rim_m)

    def moment(self, height_m: float, power: int) -> float:
        """Integral of width times height to this power, from the bottom to ``height_m``."""
        within = min(height_m, self.rim_m)
        first, second = power + 1, power + 2
        moment = self.base_m * within**first / first + self.slope * within**second / second
        if height_m > within:
            moment += self.width_m(within) * (height_m**first - within**first) / first
        return moment

    def height_of(self, section_m2: float) -> float:
        """The height to which a section fills it: the inverse of the moment of power 0."""
        if not self.slope:
            return section_m2 / self.base_m
        full_m2 = self.moment(self.rim_m, 0) if self.rim_m < math.inf else math.inf
        if section_m2 > full_m2:
            return self.rim_m + (section_m2 - full_m2) / self.width_m(self.rim_m)
        root = math.sqrt(max(self.base_m**2 + 2 * self.slope * section_m2, 0.0))
        return 2 * section_m2 / (self.base_m + root)


def slope_of(recipe: Recipe) -> float:
    """Change of the width between the flanges over the height; 0 for straight flanges."""
    if recipe.rim_width_m is None:
        return 0.0
    return (recipe.rim_width_m - recipe.width_m) / recipe.height_m


def widest_m(recipe: Recipe) -> float:
    """The greatest distance between the flanges, at the core or at the rims."""
    return max(recipe.width_m, recipe.rim_width_m or 0.0)


def window_of(recipe: Recipe) -> Window:
    """Between the margins, above the tape that lies on the core."""
    slope = slope_of(recipe)
    base_m = recipe.width_m + slope * recipe.tape_under_m - 2 * recipe.margin_m
    if not slope:
        return Window(base_m)
    return Window(base_m, slope, recipe.height_m - recipe.tape_under_m)


@dataclass(frozen=True, slots=True)
class Ground:
    """What the wire lies on and between: a convex core with its tape, and the window above it."""

    window: Window
    perimeter_m: float
    core_m2: float

    def build_m(self, turns: float, area_m2: float) -> float:
        """Height of ``turns`` turns that take ``area_m2`` of the section each."""
        return self.window.height_of(turns * area_m2)

    def turns_in_build(self, build_m: float, area_m2: float) -> float:
        if not self.window.slope:
            return build_m / (area_m2 / self.window.base_m)
        return self.window.moment(build_m, 0) / area_m2

    def length_m(self, turns: float, area_m2: float) -> float:
        """Wire in the first ``turns`` turns."""
        window = self.window
        if not window.slope:
            return wound_length_m(self.perimeter_m, area_m2 / window.base_m, turns)
        rise = 2 * math.pi * window.moment(self.build_m(turns, area_m2), 1) / area_m2
        return self.perimeter_m * turns + rise

    def turn_m(self, turns: float, area_m2: float) -> float:
        """Length of the turn at the top of ``turns`` turns."""
        return self.perimeter_m + 2 * math.pi * self.build_m(turns, area_m2)

    def turns_of(self, length_m: float, area_m2: float) -> float:
        """Turns (not whole) in this length of wire: the inverse of ``length_m``."""
        window = self.window
        if not window.slope:
            return turns_of_length(self.perimeter_m, area_m2 / window.base_m, length_m)
        wide_m = max(window.base_m, window.width_m(window.rim_m))
        low_m, high_m = 0.0, length_m * area_m2 / (self.perimeter_m * self._narrowest_m)
        wound_m3 = length_m * area_m2  # P0 M_0 + 2 pi M_1 of the height sought
        height_m = turns_of_length(self.perimeter_m, area_m2 / wide_m, length_m) * area_m2 / wide_m
        for _ in range(STEPS_MAX):
            miss = self.perimeter_m * window.moment(height_m, 0) - wound_m3
            miss += 2 * math.pi * window.moment(height_m, 1)
            low_m, high_m = (low_m, height_m) if miss > 0 else (height_m, high_m)
            fall = window.width_m(height_m) * (self.perimeter_m + 2 * math.pi * height_m)
            further_m = height_m - miss / fall
            if not low_m <= further_m <= high_m:
                further_m = (low_m + high_m) / 2
            moved_m, height_m = abs(further_m - height_m), further_m
            if moved_m <= CLOSE_ENOUGH * height_m:
                break
        return self.turns_in_build(height_m, area_m2)

    @property
    def _narrowest_m(self) -> float:
        return min(self.window.base_m, self.window.width_m(self.window.rim_m))

    def turns_area_m2(self, turns: float, area_m2: float) -> float:
        """Sum of the areas that all turns enclose."""
        window = self.window
        if not window.slope:
            return turns_area_m2(self.perimeter_m, self.core_m2, area_m2 / window.base_m, turns)
        height_m = self.build_m(turns, area_m2)
        rise = self.perimeter_m * window.moment(height_m, 1) + math.pi * window.moment(height_m, 2)
        return self.core_m2 * turns + rise / area_m2

    def mean_width_m(self, turns: float, area_m2: float) -> float:
        """Width over the height of so many turns, on the mean."""
        if not self.window.slope:
            return self.window.base_m
        return turns * area_m2 / self.build_m(turns, area_m2)

    def even_width_m(self, turns: float, area_m2: float) -> float:
        """Width between straight flanges on which so many turns take the same wire: M_0^2 / 2 M_1."""
        window = self.window
        if not window.slope:
            return window.base_m
        height_m = self.build_m(turns, area_m2)
        return window.moment(height_m, 0) ** 2 / (2 * window.moment(height_m, 1))
