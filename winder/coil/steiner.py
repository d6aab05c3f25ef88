"""Length, turns and turns-area of a winding on a convex core (Steiner's formulas, summed).

Every turn takes the area a of the winding's cross-section, of width W; with g = a / W the n-th turn
is P0 + 2 pi g n long and N turns take L(N) = P0 N + pi g N^2, inverted as
N = 2 L / (P0 + sqrt(P0^2 + 4 pi g L)), which is stable as g goes to nothing.
"""

from __future__ import annotations

import math


def wound_length_m(perimeter_m: float, area_per_width_m: float, turns: float) -> float:
    """Wire in ``turns`` turns, metres; ``area_per_width_m`` is g = a / W. Steiner's formula."""
    return perimeter_m * turns + math.pi * area_per_width_m * turns**2


def turns_of_length(perimeter_m: float, area_per_width_m: float, length_m: float) -> float:
    """The inverse of ``wound_length_m``, in the form that does not cancel."""
    square = perimeter_m**2 + 4 * math.pi * area_per_width_m * length_m
    return 2 * length_m / (perimeter_m + math.sqrt(square))


def turns_area_m2(
    perimeter_m: float, core_m2: float, area_per_width_m: float, turns: float
) -> float:
    """Sum of the areas all turns enclose, square metres: what a uniform field along the axis meets.

    A0 N + P0 g N^2 / 2 + pi g^2 N^3 / 3 (Steiner, summed).
    """
    height_m = area_per_width_m * turns
    return turns * (core_m2 + perimeter_m * height_m / 2 + math.pi * height_m**2 / 3)
