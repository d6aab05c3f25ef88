"""Cutting a winding's rectangular section into cells, and how far apart two cells are on the mean.

The flux of a filament goes with the logarithm of the distance where it changes fast, so two cells act
like two filaments their *geometric mean distance* apart. For rectangles it is known exactly: the
integral of ln(distance) over all pairs of points of one rectangle is Maxwell's (Treatise, art. 692),
and that over two cells of a grid is a second difference of it in each direction. With it the cells may
be long or few: what remains is the curvature of the winding, an error that goes with their square.
"""

from __future__ import annotations

import math

import numpy
from numpy.typing import NDArray

from winder.coil.window import Window

Array = NDArray[numpy.float64]

FAR = 60  # cells: beyond, the distance is that of the centres


def rectangle_gmd_m(width_m: float, height_m: float) -> float:
    """Geometric mean distance of a rectangle from itself (Maxwell, Treatise, art. 692)."""
    sides = numpy.array([width_m]), numpy.array([height_m])
    return math.exp(float(_mean_logarithm(*sides)[0]))


def _mean_logarithm(b: Array, c: Array) -> Array:
    """Mean of ln(distance) over pairs of points of rectangles b x c, both above zero."""
    square = b**2 + c**2
    return (
        numpy.log(square) / 2
        - (b / c) ** 2 / 12 * numpy.log1p((c / b) ** 2)
        - (c / b) ** 2 / 12 * numpy.log1p((b / c) ** 2)
        + 2 / 3 * (b / c * numpy.arctan(c / b) + c / b * numpy.arctan(b / c))
        - 25 / 12
    )


def cell_distances_m(width_m: float, height_m: float, along: int, across: int) -> Array:
    """Geometric mean distances between cells of a grid, shape (across, along).

    ``[l, k]`` is that of two cells k widths and l heights apart; ``[0, 0]`` of a cell from itself.
    The cells are ``width_m`` x ``height_m``, metres.
    """
    k, m = numpy.arange(along + 1.0), numpy.arange(across + 1.0)
    # Squared area times the mean logarithm, in units of a cell; nothing for a rectangle of no width.
    whole = numpy.zeros((across + 1, along + 1))
    scale_m = math.sqrt(width_m * height_m)
    b, c = numpy.meshgrid(k[1:] * width_m / scale_m, m[1:] * height_m / scale_m)
    whole[1:, 1:] = (k[1:] * m[1:, None]) ** 2 * _mean_logarithm(b, c)
    logarithm = _second_difference(_second_difference(whole).T).T
    # Differences of large numbers: far cells are points anyway.
    centre_m = numpy.hypot(k[:-1] * width_m, m[:-1, None] * height_m)
    far = (k[:-1] > FAR) | (m[:-1, None] > FAR)
    return numpy.where(far, centre_m, scale_m * numpy.exp(logarithm))


def _second_difference(values: Array) -> Array:
    """Half the second difference along the last axis of an even sequence that begins at zero."""
    mirrored = numpy.concatenate([values[..., 1:2], values], axis=-1)
    halves: Array = (mirrored[..., 2:] - 2 * mirrored[..., 1:-1] + mirrored[..., :-2]) / 2
    return halves


def separations(width_m: float, height_m: float, along: int, across: int) -> tuple[Array, Array]:
    """Radial and axial distances of filaments that stand for two cells, each (across, along).

    Their direction is that of the cells' centres, their length the geometric mean distance.
    """
    axial_m = numpy.arange(along) * width_m * numpy.ones((across, 1))
    radial_m = numpy.arange(across)[:, None] * height_m * numpy.ones(along)
    centre_m = numpy.hypot(axial_m, radial_m)
    distance_m = cell_distances_m(width_m, height_m, along, across)
    centre_m[0, 0], axial_m[0, 0] = 1.0, 1.0  # a cell and itself: apart along the axis
    return radial_m * distance_m / centre_m, axial_m * distance_m / centre_m


def pair_weights(count: int) -> Array:
    """How often two of ``count`` cells in a row are 0, 1, 2... apart, both orders counted."""
    steps = numpy.arange(count)
    return numpy.where(steps == 0, count, 2 * (count - steps)).astype(float)


def cutting(length_m: float, cell_m: float, least: int, most: int) -> int:
    """Cells for a side of the section, about ``cell_m`` long but so many at least and at most."""
    return min(max(math.ceil(length_m / cell_m), least), max(most, least))


def filled_cells(window: Window, width_m: float, height_m: float, along: int, across: int) -> Array:
    """How much of each cell of a rectangle is wound, 0 to 1, shape (across, along).

    The rectangle has the greatest width of the winding, ``width_m``; a row of cells is wound over the
    window's width in the middle of its height, and the winding lies in the middle of the rectangle.
    """
    rows = [window.width_m((row + 0.5) * height_m / across) for row in range(across)]
    half = numpy.array(rows)[:, None] / width_m * along / 2  # in cells
    edges = numpy.arange(along + 1.0) - along / 2
    inside = numpy.clip(edges, -half, half)
    return numpy.diff(inside, axis=1)


def row_pairs(row: Array, other: Array) -> Array:
    """Weights of pairs of cells of two rows that are 0, 1, 2... apart, both orders counted."""
    products = numpy.correlate(row, other, mode="full")
    middle = len(row) - 1
    pairs = products[middle:] + products[middle::-1]
    pairs[0] /= 2
    return pairs
