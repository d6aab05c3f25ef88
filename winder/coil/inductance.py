"""Low-frequency inductance of a winding with nothing but air inside, by sums over filaments.

The winding's rectangular section is cut into cells, each standing for a filament (``cells``). Coaxial
circles have Maxwell's mutual inductance (Treatise, art. 701),

    M = mu0 sqrt(ab) [(2/k - k) K - (2/k) E],    k^2 = 4ab / ((a + b)^2 + z^2).

With the elliptic integrals by the arithmetic-geometric mean of the longest and the shortest distance
between them, sqrt((a + b)^2 + z^2) and sqrt((a - b)^2 + z^2), the brackets become a sum that cancels nothing,

    M = (pi mu0 / 2) (c_1^2 + 2 c_2^2 + 4 c_3^2 + ...) / mean,    c_n half the gap before step n.

Halving the cells quarters the error, so two cuttings, n and 2n, are drawn out to none (Richardson). Other
outlines take the same sums with Neumann's integral (``neumann``). What round wire in square cells has besides
is added: mu0/2pi times the length times ln(cell side / wire diameter) + 0.138 (Rosa's correction; it matters for
a few turns only). Between flanges that taper the rectangle is the widest the winding has, and a cell weighs by
how much of it is wound.
"""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING, TypeVar

from winder.coil.cells import Rows, cutting, filled_cells, pair_weights, row_pairs, separations
from winder.coil.core import Outline
from winder.coil.window import Window
from winder.files.quantities import MU0_H_M

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Array = NDArray[numpy.float64]
    Numbers = TypeVar("Numbers", float, Array)

CELLS_LEAST = 8  # along either side of the section, first cutting
CELL_OF_RADIUS = 1 / 8  # the length of a cell in mean radii of the winding
CELLS_ALONG_MAX, CELLS_ACROSS_MAX = 400, 30
MEAN_STEPS = 8  # it settles quadratically: these reach the last bit where near is 1e-8 of far
SETTLED = 1e-15  # of the sum: what one step adds when the next can add nothing
# So few pairs of cells are added up one by one, sooner than a library for arrays is loaded.
FEW_PAIRS = 7000


def elliptic_k_e(m: Numbers) -> tuple[Numbers, Numbers]:
    """Complete elliptic integrals K and E of the parameter m = k^2, 0 <= m < 1."""
    mean, squares = _mean_of(1.0 + 0 * m, (1 - m) ** 0.5)
    k = math.pi / 2 / mean
    return k, k * (1 - m / 2 - squares)


def _mean_of(far: Numbers, near: Numbers) -> tuple[Numbers, Numbers]:
    """Arithmetic-geometric mean, and the sum of 2^(n-1) c_n^2 from n = 1, c_n half the gap before step n.

    Abramowitz and Stegun 17.6. Of two numbers, or of arrays of them.
    """
    half_gap = (far - near) / 2
    mean, geometric = far - half_gap, (far * near) ** 0.5
    squares, power = half_gap * half_gap, 1.0
    for _ in range(MEAN_STEPS - 1):
        half_gap = (mean - geometric) / 2
        mean, geometric = mean - half_gap, (mean * geometric) ** 0.5
        power *= 2
        further = power * half_gap * half_gap
        squares = squares + further
        if isinstance(further, float) and further <= SETTLED * squares:
            break
    return mean, squares


def coaxial_circles_h(radius_m: Numbers, other_m: Numbers, apart_m: Numbers) -> Numbers:
    """Mutual inductance of circles on one axis, henry. Arrays broadcast; the circles must not touch."""
    axial_m2 = apart_m * apart_m
    far_m: Numbers = ((radius_m + other_m) ** 2 + axial_m2) ** 0.5
    near_m: Numbers = ((radius_m - other_m) ** 2 + axial_m2) ** 0.5
    mean_m, squares_m2 = _mean_of(far_m, near_m)
    return math.pi / 2 * MU0_H_M * squares_m2 / mean_m


@functools.lru_cache(maxsize=256)
def round_winding_h(inner_m: float, width: Window | float, height_m: float) -> float:
    """L / N^2 of a round winding of this inner radius, axial width and radial height, henry.

    The width is that between straight flanges, metres, or a window between flanges that taper.
    """
    window = width if isinstance(width, Window) else Window(width)
    width_m = max(window.width_m(0.0), window.width_m(height_m))
    mean_m = inner_m + height_m / 2
    cell_m = CELL_OF_RADIUS * mean_m
    across = cutting(height_m, cell_m, CELLS_LEAST, CELLS_ACROSS_MAX)
    along = cutting(width_m, cell_m, CELLS_LEAST, CELLS_ALONG_MAX * CELLS_LEAST // across)
    coarse = _round_sum(inner_m, window, width_m, height_m, along, across)
    fine = _round_sum(inner_m, window, width_m, height_m, 2 * along, 2 * across)
    return fine + (fine - coarse) / 3


def _round_sum(
    inner_m: float, window: Window, width_m: float, height_m: float, along: int, across: int
) -> float:
    """Mean of the mutual inductances of all pairs of cells."""
    cell_height_m = height_m / across
    apart_m = separations(width_m / along, cell_height_m, along, across)
    if not window.slope and across * (across + 1) // 2 * along <= FEW_PAIRS:
        return _sum_of_few(inner_m, cell_height_m, *apart_m) / (along * across) ** 2
    import numpy

    first, second = numpy.triu_indices(across)
    gap = second - first
    radial_m, axial_m = (numpy.array(each)[gap] for each in apart_m)
    middle_m = (inner_m + cell_height_m * ((first + second + 1) / 2))[:, None]
    mutual = coaxial_circles_h(middle_m - radial_m / 2, middle_m + radial_m / 2, axial_m)
    times = numpy.where(gap == 0, 1.0, 2.0)
    if not window.slope:
        return float(times @ mutual @ numpy.array(pair_weights(along))) / (along * across) ** 2
    filled = filled_cells(window, width_m, height_m, along, across)
    pairs = numpy.array(
        [row_pairs(filled[i], filled[j]) for i, j in zip(first, second, strict=True)]
    )
    return float(times @ (mutual * pairs).sum(axis=1)) / float(filled.sum()) ** 2


def _sum_of_few(inner_m: float, cell_height_m: float, radial_m: Rows, axial_m: Rows) -> float:
    """Of a rectangle, pair by pair: rows that are as far apart, one further out after the other."""
    across, weights = len(radial_m), pair_weights(len(radial_m[0]))
    total = 0.0
    for gap, (radial, axial) in enumerate(zip(radial_m, axial_m, strict=True)):
        pairs = list(zip(weights, radial, axial, strict=True))
        for first in range(across - gap):
            middle_m = inner_m + cell_height_m * (first + (gap + 1) / 2)
            row = sum(
                times * coaxial_circles_h(middle_m - apart / 2, middle_m + apart / 2, along_m)
                for times, apart, along_m in pairs
            )
            total += row if gap == 0 else 2 * row
    return total


def winding_h(outline: Outline, width: Window | float, height_m: float) -> float:
    """L / N^2 of a winding of this width and height on any outline, henry, uniform current."""
    if outline.straight_m <= 0 and outline.other_straight_m <= 0:
        return round_winding_h(outline.radius_m, width, height_m)
    from winder.coil.neumann import outline_winding_h

    return outline_winding_h(outline, width, height_m)


def inductance_of(
    outline: Outline, width: Window | float, height_m: float, turns: float, bare_m: float
) -> float:
    """Henry of ``turns`` turns of round wire filling a section evenly."""
    window = width if isinstance(width, Window) else Window(width)
    section_m2 = window.moment(height_m, 0)
    middle_m = window.moment(height_m, 1) / section_m2 if window.slope else height_m / 2
    mean_turn_m = outline.perimeter_m + 2 * math.pi * middle_m
    cell_m = math.sqrt(section_m2 / turns)
    wire_h = MU0_H_M / (2 * math.pi) * mean_turn_m * (math.log(cell_m / bare_m) + 0.138)
    return turns**2 * winding_h(outline, window, height_m) + turns * wire_h
