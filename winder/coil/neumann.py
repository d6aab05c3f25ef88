"""Inductance of a winding on an outline that is not round: Neumann's integral over parallel curves.

Two curves of the winding, s apart in build and z along the axis, have the mutual inductance
mu0/4pi of the double integral of cos(angle between the elements) over their distance. Both are drawn
from one middle curve, in steps of equal length on each straight and each arc, with the midpoint rule.
Where the curves run close together, steps longer than their distance would miss the peak; what the
rule adds there is known: by Poisson's sum formula it is 4 sum K0(2 pi m d / h) per step h at the
distance d (K0 the modified Bessel function), and is taken off. So a cell's own term, d the geometric
mean distance, is no special case. Both mirror lines of the outlines are used: one quarter of the
middle curve against the whole. Cells and extrapolation are those of round coils.
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

CELLS_LEAST = 4
CELL_OF_THICKNESS = 1 / 6  # the length of a cell in thicknesses of the middle outline
CELLS_ACROSS_MAX = 6
CELLS_ALONG_STEPS = 2400  # cells along the axis times steps, at most
STEPS_QUARTER = 50  # along a quarter of the middle curve, about
STEPS_QUARTER_MAX = 150
ARC_STEPS_MIN = 8  # on a quarter turn
STEP_OF_THICKNESS = 0.7  # so that one side sees the opposite one evenly
# zeta(3), zeta(5)... and the binomial series of 1/sqrt(1 + x).
_ZETA = (1.2020569, 1.0369278, 1.0083493, 1.0020084, 1.0004942, 1.0001227, 1.0000306, 1.0000076)
_BINOMIAL = (-1 / 2, 3 / 8, -5 / 16, 35 / 128, -63 / 256, 231 / 1024, -429 / 2048, 6435 / 32768)
_EULER = 0.5772156649015329


class MiddleCurve:
    """One middle curve in steps: a quarter first, then its three mirror images.

    ``x``, ``y`` (position, m), ``nx``, ``ny`` (outward normal), ``step_m`` and ``bend`` (curvature, 1/m),
    each of shape (4 n,).
    """

    def __init__(self, outline: Outline, steps_quarter: int) -> None:
        half_x, half_y = outline.straight_m / 2, outline.other_straight_m / 2
        radius = outline.radius_m
        lengths = (half_y, math.pi / 2 * radius, half_x)
        counts = [round(steps_quarter * length / sum(lengths)) for length in lengths]
        counts = [
            0 if length <= 0 else max(count, least)
            for length, count, least in zip(lengths, counts, (2, ARC_STEPS_MIN, 2), strict=True)
        ]
        side = (numpy.arange(counts[0]) + 0.5) / max(counts[0], 1) * half_y
        angle = (numpy.arange(counts[1]) + 0.5) / counts[1] * (math.pi / 2)
        top = half_x * (1 - (numpy.arange(counts[2]) + 0.5) / max(counts[2], 1))
        ones = [numpy.ones(count) for count in counts]
        x = numpy.concatenate(
            [(half_x + radius) * ones[0], half_x + radius * numpy.cos(angle), top]
        )
        y = numpy.concatenate(
            [side, half_y + radius * numpy.sin(angle), (half_y + radius) * ones[2]]
        )
        nx = numpy.concatenate([ones[0], numpy.cos(angle), 0 * ones[2]])
        ny = numpy.concatenate([0 * ones[0], numpy.sin(angle), ones[2]])
        steps = [
            length / max(count, 1) * one
            for length, count, one in zip(lengths, counts, ones, strict=True)
        ]
        step_m = numpy.concatenate(steps)
        bend = numpy.concatenate([0 * ones[0], ones[1] / radius, 0 * ones[2]])
        self.quarter = len(x)
        self.x = numpy.concatenate([x, -x, -x, x])
        self.y = numpy.concatenate([y, y, -y, -y])
        self.nx = numpy.concatenate([nx, -nx, -nx, nx])
        self.ny = numpy.concatenate([ny, ny, -ny, -ny])
        self.step_m = numpy.tile(step_m, 4)
        self.bend = numpy.tile(bend, 4)
        # Tangents turn with the normals: the cosine between elements is that between normals.
        self.cosine = nx[:, None] * self.nx + ny[:, None] * self.ny

    def mutual_h(self, out_m: float, radial_m: list[float], axial_m: list[float]) -> Array:
        """Mutual inductances, henry, shape (k,), of curves ``radial_m`` and ``axial_m`` apart.

        The middle of each pair lies ``out_m`` outside the middle curve. Two curves must not meet.
        """
        return numpy.array(
            [
                self._mutual_h(out_m - r / 2, out_m + r / 2, z)
                for r, z in zip(radial_m, axial_m, strict=True)
            ]
        )

    def _mutual_h(self, out_m: float, other_out_m: float, apart_m: float) -> float:
        n = self.quarter
        x, y = self.x[:n] + out_m * self.nx[:n], self.y[:n] + out_m * self.ny[:n]
        other_x, other_y = self.x + other_out_m * self.nx, self.y + other_out_m * self.ny
        # On a sharp corner a filament may stand a hair inside the core, where there is no step.
        step = self.step_m[:n] * numpy.maximum(1 + out_m * self.bend[:n], 1e-9)
        other_step = self.step_m * numpy.maximum(1 + other_out_m * self.bend, 1e-9)
        square = (x[:, None] - other_x) ** 2
        square += (y[:, None] - other_y) ** 2
        square += apart_m**2
        numpy.sqrt(square, out=square)
        total = step @ (self.cosine / square) @ other_step
        local = numpy.sqrt(step * other_step[:n])
        near_m = math.hypot(out_m - other_out_m, apart_m)
        total -= missed_peak(near_m / local) @ local
        return float(MU0_H_M / math.pi * total)  # 4 quarters over 4 pi


def missed_peak(distance_per_step: Array) -> Array:
    """What the midpoint rule gives too much for the integral of 1/sqrt(x^2 + d^2), per step.

    4 sum K0(2 pi m d / h); below half a step by the series of that sum for small arguments
    (Gradshteyn and Ryzhik 8.526), each within 1e-5.
    """
    ratio = numpy.asarray(distance_per_step)
    wide = numpy.maximum(ratio, 0.5)
    far = sum((bessel_k0(2 * math.pi * term * wide) for term in (1, 2, 3)), numpy.zeros_like(ratio))
    close = numpy.minimum(ratio, 0.5)
    terms = (0.0, *(b * z for b, z in zip(_BINOMIAL, _ZETA, strict=True)))
    near = (_EULER + numpy.log(close / 2)) / 2 + 1 / (4 * close) + _series(close**2, terms) / 2
    return 4 * numpy.where(ratio > 0.5, far, near)


def bessel_k0(x: Array) -> Array:
    """Modified Bessel function K0, x > 0, to 2e-7 (Abramowitz and Stegun 9.8.5, 9.8.6, 9.8.1)."""
    small = numpy.minimum(x, 2.0)
    t = (small / 2) ** 2
    i0_t = (small / 3.75) ** 2
    i0 = _series(i0_t, (1.0, 3.5156229, 3.0899424, 1.2067492, 0.2659732, 0.0360768, 0.0045813))
    below = -numpy.log(small / 2) * i0 + _series(
        t,
        (-0.57721566, 0.42278420, 0.23069756, 0.03488590, 0.00262698, 0.00010750, 0.00000740),
    )
    large = numpy.maximum(x, 2.0)
    above = (
        numpy.exp(-large)
        / numpy.sqrt(large)
        * _series(
            2 / large,
            (1.25331414, -0.07832358, 0.02189568, -0.01062446, 0.00587872, -0.00251540, 0.00053208),
        )
    )
    return numpy.where(x <= 2.0, below, above)


def _series(x: Array, coefficients: tuple[float, ...]) -> Array:
    total = numpy.zeros_like(x)
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def steps_for(outline: Outline) -> int:
    """Steps on a quarter of the outline, more of them on a thin one."""
    thickness_m = outline.other_straight_m + 2 * outline.radius_m
    needed = math.ceil(outline.perimeter_m / 4 / (STEP_OF_THICKNESS * thickness_m))
    return min(max(STEPS_QUARTER, needed), STEPS_QUARTER_MAX)


@functools.lru_cache(maxsize=256)
def outline_winding_h(outline: Outline, width: Window | float, height_m: float) -> float:
    """L / N^2 of a winding of this width and height on the outline, henry, uniform current.

    The width is that between straight flanges, metres, or a window between flanges that taper.
    """
    window = width if isinstance(width, Window) else Window(width)
    width_m = max(window.width_m(0.0), window.width_m(height_m))
    middle = outline.swollen(height_m / 2)
    steps = steps_for(middle)
    curve = MiddleCurve(middle, steps)
    cell_m = CELL_OF_THICKNESS * (2 * middle.radius_m + middle.other_straight_m)
    along = cutting(width_m, cell_m, CELLS_LEAST, CELLS_ALONG_STEPS // steps)
    across = cutting(height_m, cell_m, CELLS_LEAST, CELLS_ACROSS_MAX)
    coarse = _cell_sum(curve, window, width_m, height_m, along, across)
    fine = _cell_sum(curve, window, width_m, height_m, 2 * along, 2 * across)
    return fine + (fine - coarse) / 3


def _cell_sum(
    curve: MiddleCurve, window: Window, width_m: float, height_m: float, along: int, across: int
) -> float:
    """Mean of the mutual inductances of all pairs of cells."""
    cell_height_m = height_m / across
    radial_m, axial_m = separations(width_m / along, cell_height_m, along, across)
    weights = numpy.array(pair_weights(along))
    filled = filled_cells(window, width_m, height_m, along, across)
    cells = float(filled.sum()) if window.slope else along * across
    total = 0.0
    for first in range(across):
        for second in range(first, across):
            gap = second - first
            out_m = cell_height_m * (first + second + 1 - across) / 2
            mutual = curve.mutual_h(out_m, radial_m[gap], axial_m[gap])
            if window.slope:
                weights = row_pairs(filled[first], filled[second])
            total += (1 if gap == 0 else 2) * float(mutual @ weights)
    return total / cells**2
