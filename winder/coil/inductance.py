"""Low-frequency inductance of a winding with nothing but air inside, by sums over filaments.

The winding's rectangular section is cut into cells, each standing for a filament (``cells``). Coaxial
circles have Maxwell's mutual inductance (Treatise, art. 701),

    M = mu0 sqrt(ab) [(2/k - k) K - (2/k) E],    k^2 = 4ab / ((a + b)^2 + z^2),

its elliptic integrals by the arithmetic-geometric mean. Halving the cells quarters the error, so two
cuttings, n and 2n, are drawn out to none (Richardson). Other outlines take the same sums with
Neumann's integral (``neumann``). What round wire in square cells has besides is added: mu0/2pi times
the length times ln(cell side / wire diameter) + 0.138 (Rosa's correction; it matters for a few turns
only). Between flanges that taper the rectangle is the widest the winding has, and a cell
weighs by how much of it is wound.
"""

from __future__ import annotations

import functools
import math

import numpy
from numpy.typing import NDArray

from winder.coil.cells import cutting, filled_cells, pair_weights, row_pairs, separations
from winder.coil.core import Outline
from winder.coil.window import Window
from winder.files.quantities import MU0_H_M

Array = NDArray[numpy.float64]

CELLS_LEAST = 8  # along either side of the section, first cutting
CELL_OF_RADIUS = 1 / 8  # the length of a cell in mean radii of the winding
CELLS_ALONG_MAX, CELLS_ACROSS_MAX = 400, 30
AGM_STEPS = 6  # the mean settles quadratically: six steps reach the last bit up to k^2 = 1 - 1e-10


def elliptic_k_e(m: Array) -> tuple[Array, Array]:
    """Complete elliptic integrals K and E of the parameter m = k^2, 0 <= m < 1.

    Arithmetic-geometric mean (Abramowitz and Stegun 17.6).
    """
    return _elliptic_of_complement(1 - m)


def _elliptic_of_complement(m1: Array) -> tuple[Array, Array]:
    """The same of m1 = 1 - m, which loses nothing when m is close to one."""
    mean, geometric = numpy.ones_like(m1), numpy.sqrt(m1)
    squares = (1 - m1) / 2
    power = 0.5
    for _ in range(AGM_STEPS + 2):
        half_gap = (mean - geometric) / 2
        mean, geometric = (mean + geometric) / 2, numpy.sqrt(mean * geometric)
        power *= 2
        squares += power * half_gap**2
    k = math.pi / (2 * mean)
    return k, k * (1 - squares)


def coaxial_circles_h(radius_m: Array, other_m: Array, apart_m: Array) -> Array:
    """Mutual inductance of circles on one axis, henry. Arrays broadcast; the circles must not touch."""
    near2 = (radius_m - other_m) ** 2 + apart_m**2
    far2 = (radius_m + other_m) ** 2 + apart_m**2
    k, e = _elliptic_of_complement(near2 / far2)
    # mu0 sqrt(ab) [(2/k - k) K - (2/k) E] with 2 sqrt(ab) = k sqrt(far2)
    mean = (far2 + near2) / 2
    return MU0_H_M * (mean * k - far2 * e) / numpy.sqrt(far2)


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
    cell_m, cell_height_m = width_m / along, height_m / across
    first, second = numpy.triu_indices(across)
    gap = second - first
    radial_m, axial_m = separations(cell_m, cell_height_m, along, across)
    middle_m = inner_m + cell_height_m * ((first + second + 1) / 2)
    apart_m = radial_m[gap]
    mutual = coaxial_circles_h(
        middle_m[:, None] - apart_m / 2, middle_m[:, None] + apart_m / 2, axial_m[gap]
    )
    times = numpy.where(gap == 0, 1.0, 2.0)
    if not window.slope:
        return float(times @ mutual @ pair_weights(along)) / (along * across) ** 2
    filled = filled_cells(window, width_m, height_m, along, across)
    pairs = numpy.array(
        [row_pairs(filled[i], filled[j]) for i, j in zip(first, second, strict=True)]
    )
    return float(times @ (mutual * pairs).sum(axis=1)) / float(filled.sum()) ** 2


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
