"""Cutting a winding's rectangular section into cells, and how far apart two cells are on the mean.

The flux of a filament goes with the logarithm of the distance where it changes fast, so two cells act
like two filaments their *geometric mean distance* apart. For rectangles it is known exactly: the
integral of ln(distance) over all pairs of points of one rectangle is Maxwell's (Treatise, art. 692),
and that over two cells of a grid is a second difference of it in each direction. With it the cells may
be long or few: what remains is the curvature of the winding, an error that goes with their square.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from winder.coil.window import Window

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Array = NDArray[numpy.float64]

Rows = list[list[float]]

FAR = 60  # cells: beyond, the distance is that of the centres


def rectangle_gmd_m(width_m: float, height_m: float) -> float:
    """Geometric mean distance of a rectangle from itself (Maxwell, Treatise, art. 692)."""
    return math.exp(_mean_logarithm(width_m, height_m))


def _mean_logarithm(b: float, c: float) -> float:
    """Mean of ln(distance) over pairs of points of a rectangle b x c, both above zero."""
    return (
        math.log(b**2 + c**2) / 2
        - (b / c) ** 2 / 12 * math.log1p((c / b) ** 2)
        - (c / b) ** 2 / 12 * math.log1p((b / c) ** 2)
        + 2 / 3 * (b / c * math.atan(c / b) + c / b * math.atan(b / c))
        - 25 / 12
    )


def cell_distances_m(width_m: float, height_m: float, along: int, across: int) -> Rows:
    """Geometric mean distances between cells of a grid, ``across`` rows of ``along``.

    ``[l][k]`` is that of two cells k widths and l heights apart; ``[0][0]`` of a cell from itself.
    The cells are ``width_m`` x ``height_m``, metres.
    """
    scale_m = math.sqrt(width_m * height_m)
    b, c = width_m / scale_m, height_m / scale_m
    near = min(along, FAR + 1), min(across, FAR + 1)
    # Squared area times the mean logarithm, in units of a cell; nothing for a rectangle of no width.
    whole = [
        [
            (k * m) ** 2 * _mean_logarithm(k * b, m * c) if k and m else 0.0
            for k in range(near[0] + 1)
        ]
        for m in range(near[1] + 1)
    ]
    narrow = [_second_difference(row) for row in whole]
    logarithm = [_second_difference(list(column)) for column in zip(*narrow, strict=True)]
    # Differences of large numbers: far cells are points anyway.
    return [
        [
            math.hypot(k * width_m, m * height_m)
            if k > FAR or m > FAR
            else scale_m * math.exp(logarithm[k][m])
            for k in range(along)
        ]
        for m in range(across)
    ]


def _second_difference(values: list[float]) -> list[float]:
    """Half the second difference of an even sequence that begins at zero."""
    before = [values[1], *values]
    return [(a - 2 * b + c) / 2 for a, b, c in zip(before, values, values[1:], strict=False)]


def separations(width_m: float, height_m: float, along: int, across: int) -> tuple[Rows, Rows]:
    """Radial and axial distances of filaments that stand for two cells, each ``across`` rows of ``along``.

    Their direction is that of the cells' centres, their length the geometric mean distance.
    """
    radial_m, axial_m = [], []
    for m, row in enumerate(cell_distances_m(width_m, height_m, along, across)):
        centres_m = [math.hypot(k * width_m, m * height_m) for k in range(along)]
        shares = [each / (centre or 1.0) for each, centre in zip(row, centres_m, strict=True)]
        radial_m.append([m * height_m * share for share in shares])
        axial_m.append([k * width_m * share for k, share in enumerate(shares)])
    axial_m[0][0] = rectangle_gmd_m(width_m, height_m)  # a cell and itself: apart along the axis
    return radial_m, axial_m


def pair_weights(count: int) -> list[float]:
    """How often two of ``count`` cells in a row are 0, 1, 2... apart, both orders counted."""
    return [float(count), *(2.0 * (count - steps) for steps in range(1, count))]


def cutting(length_m: float, cell_m: float, least: int, most: int) -> int:
    """Cells for a side of the section, about ``cell_m`` long but so many at least and at most."""
    return min(max(math.ceil(length_m / cell_m), least), max(most, least))


def filled_cells(window: Window, width_m: float, height_m: float, along: int, across: int) -> Array:
    """How much of each cell of a rectangle is wound, 0 to 1, shape (across, along).

    The rectangle has the greatest width of the winding, ``width_m``; a row of cells is wound over the
    window's width in the middle of its height, and the winding lies in the middle of the rectangle.
    """
    import numpy  # only where flanges taper, or the outline is not round

    rows = [window.width_m((row + 0.5) * height_m / across) for row in range(across)]
    half = numpy.array(rows)[:, None] / width_m * along / 2  # in cells
    edges = numpy.arange(along + 1.0) - along / 2
    inside = numpy.clip(edges, -half, half)
    return numpy.diff(inside, axis=1)


def row_pairs(row: Array, other: Array) -> Array:
    """Weights of pairs of cells of two rows that are 0, 1, 2... apart, both orders counted."""
    import numpy

    products = numpy.correlate(row, other, mode="full")
    middle = len(row) - 1
    pairs = products[middle:] + products[middle::-1]
    pairs[0] /= 2
    return pairs
