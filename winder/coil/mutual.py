"""Mutual inductance of two windings that do not sit in one place: filaments and Neumann's integral.

Each winding is cut into filaments, closed curves parallel to its outline, at the middles of equal cells.
Two filaments in parallel planes have

    M = mu0/4pi  sum dl1 . dl2 / sqrt(d^2 + z^2),

d the distance in the plane of two of their points and z that of the planes. Both curves are drawn by
steps that converge fast on what is smooth: equal ones on a circle, Gauss's on each straight and each
arc. Coaxial circles take Maxwell's elliptic integrals instead. Halving the cells quarters the error, so
two cuttings are drawn out to none (Richardson). Both windings are taken counter-clockwise seen from the
same side: one above the other M is positive, side by side negative. No iron.
"""

from __future__ import annotations

import functools
import math

import numpy
from numpy.typing import NDArray

from firmware_protocol.records import dataclass
from winder.coil.core import Outline, Section
from winder.coil.inductance import coaxial_circles_h
from winder.files.quantities import MU0_H_M

Array = NDArray[numpy.float64]

ALONG, ACROSS = 6, 3  # cells of the first cutting
STEPS_OF_CIRCLE = 128
STEPS_A_METRE = 1500  # on straights and arcs; a piece has at least ...
STEPS_OF_PIECE = 16
ON_AXIS_M = 1e-12  # a point this near to an axis lies on it


@dataclass(frozen=True, slots=True)
class Curve:
    """A closed filament in its plane: points and steps, metres, shape (n,)."""

    x: Array
    y: Array
    dx: Array
    dy: Array

    @property
    def area_m2(self) -> float:
        """Enclosed, counter-clockwise positive."""
        return float(self.x @ self.dy - self.y @ self.dx) / 2


def curve_of(outline: Outline) -> Curve:
    """The outline counter-clockwise, its longer straight along x."""
    if outline.straight_m <= 0 and outline.other_straight_m <= 0:
        angle = 2 * math.pi * numpy.arange(STEPS_OF_CIRCLE) / STEPS_OF_CIRCLE
        x, y = outline.radius_m * numpy.cos(angle), outline.radius_m * numpy.sin(angle)
        step = 2 * math.pi / STEPS_OF_CIRCLE
        return Curve(x, y, -y * step, x * step)
    half_x, half_y, r = outline.straight_m / 2, outline.other_straight_m / 2, outline.radius_m
    corners = ((half_x, -half_y), (half_x, half_y), (-half_x, half_y), (-half_x, -half_y))
    x_y_dx_dy: list[tuple[Array, Array, Array, Array]] = []
    for number, (cx, cy) in enumerate(corners):
        begin = math.pi / 2 * (number - 1)
        if number:  # the corner at angles begin to begin + 90 degrees
            px, py = corners[number - 1]
            outward = (math.cos(begin), math.sin(begin))
            x_y_dx_dy.append(_straight(px, py, cx, cy, outward, r))
        x_y_dx_dy.append(_arc(cx, cy, r, begin))
    (px, py), (cx, cy) = corners[3], corners[0]
    x_y_dx_dy.append(_straight(px, py, cx, cy, (0.0, -1.0), r))
    x, y, dx, dy = (numpy.concatenate(part) for part in zip(*x_y_dx_dy, strict=True))
    return Curve(x, y, dx, dy)


@functools.lru_cache(maxsize=4096)
def mutual_per_turns_h(one: Section, other: Section, x_m: float, y_m: float, z_m: float) -> float:
    """M over the product of both turns, henry; the other's middle lies at (x, y, z) from the first's.

    Axes along z, the longer straights along x. The windings must not touch.
    """
    coarse = _cells_h(one, other, (x_m, y_m, z_m), 1)
    fine = _cells_h(one, other, (x_m, y_m, z_m), 2)
    return fine + (fine - coarse) / 3


def stacked_per_turns_h(one: Section, other: Section, gap_m: float) -> float:
    """One above the other, ``gap_m`` between the windings."""
    apart_m = gap_m + (one.width_m + other.width_m) / 2
    return mutual_per_turns_h(one, other, 0.0, 0.0, apart_m)


def beside_per_turns_h(
    one: Section, other: Section, apart_m: float, *, end_to_end: bool = False
) -> float:
    """Side by side, ``apart_m`` between the axes: long sides facing, or end to end."""
    x_m, y_m = (apart_m, 0.0) if end_to_end else (0.0, apart_m)
    return mutual_per_turns_h(one, other, x_m, y_m, 0.0)


def filaments(section: Section, times: int = 1) -> list[tuple[float, Outline]]:
    """Height along the axis from the middle, and outline, of the middle of each cell."""
    across, along = ACROSS * times, ALONG * times
    return [
        (
            section.width_m * ((place + 0.5) / along - 0.5),
            section.outline.swollen(section.height_m * (layer + 0.5) / across),
        )
        for layer in range(across)
        for place in range(along)
    ]


def _cells_h(
    one: Section, other: Section, offset_m: tuple[float, float, float], times: int
) -> float:
    x_m, y_m, z_m = offset_m
    across, along = ACROSS * times, ALONG * times
    heights = [(numpy.arange(along) + 0.5) / along - 0.5 for _ in (one, other)]
    apart = z_m + other.width_m * heights[1][None, :] - one.width_m * heights[0][:, None]
    z2, index = numpy.unique(numpy.round(apart.ravel() ** 2, 18), return_inverse=True)
    counts = numpy.bincount(index.ravel())
    outlines = [
        [each.outline.swollen(each.height_m * (k + 0.5) / across) for k in range(across)]
        for each in (one, other)
    ]
    total = 0.0
    coaxial = one.round and other.round and x_m == y_m == 0
    for row, first in enumerate(outlines[0]):
        for column, second in enumerate(outlines[1]):
            if one == other and column < row:
                continue  # the same two curves the other way round
            if coaxial:
                a, b = numpy.array(first.radius_m), numpy.array(second.radius_m)
                mutual = coaxial_circles_h(a, b, numpy.sqrt(z2))
            else:
                mutual = _neumann_h(curve_of(first), curve_of(second), x_m, y_m, z2)
            total += (2 if one == other and column > row else 1) * float(counts @ mutual)
    return total / (across * along) ** 2


def _neumann_h(one: Curve, other: Curve, x_m: float, y_m: float, z2: Array) -> Array:
    """Of two curves, at each square of their planes' distance.

    Both curves are their own mirror images, so across an axis without an offset half of the first will do.
    """
    times = numpy.ones_like(one.x)
    for offset_m, place in ((x_m, one.x), (y_m, one.y)):
        if offset_m == 0:
            beyond = numpy.sign(numpy.where(numpy.abs(place) < ON_AXIS_M, 0.0, place))
            times = times * (1 + beyond)  # twice, once on the axis itself, or not at all
    part = times > 0
    x, y, dx, dy = (each[part] for each in (one.x, one.y, one.dx * times, one.dy * times))
    d2 = (other.x + x_m - x[:, None]) ** 2 + (other.y + y_m - y[:, None]) ** 2
    cosines = dx[:, None] * other.dx + dy[:, None] * other.dy
    sums = [float((cosines / numpy.sqrt(d2 + each)).sum()) for each in z2]
    return MU0_H_M / (4 * math.pi) * numpy.array(sums)


@functools.cache
def _gauss(count: int) -> tuple[Array, Array]:
    """Nodes and weights of Gauss's rule on 0 to 1."""
    nodes, weights = numpy.polynomial.legendre.leggauss(count)
    return (nodes + 1) / 2, weights / 2


def _steps(length_m: float) -> int:
    return max(STEPS_OF_PIECE, math.ceil(STEPS_A_METRE * length_m))


def _straight(
    px: float, py: float, cx: float, cy: float, outward: tuple[float, float], r: float
) -> tuple[Array, Array, Array, Array]:
    length_m = math.hypot(cx - px, cy - py)
    nodes, weights = _gauss(_steps(length_m) if length_m > 0 else 1)
    x = px + (cx - px) * nodes + r * outward[0]
    y = py + (cy - py) * nodes + r * outward[1]
    return x, y, (cx - px) * weights, (cy - py) * weights


def _arc(cx: float, cy: float, r: float, begin: float) -> tuple[Array, Array, Array, Array]:
    nodes, weights = _gauss(_steps(r * math.pi / 2))
    angle = begin + nodes * math.pi / 2
    cos, sin = numpy.cos(angle), numpy.sin(angle)
    step = r * math.pi / 2 * weights
    return cx + r * cos, cy + r * sin, -sin * step, cos * step
