"""Induced voltages from first principles: the vector potential along every turn of a wire in space.

No rule of signs is used here. A coil is a spiral of six layers to and fro, drawn point by point in the way its
wire goes from start to finish; turned over it is by a rotation of all its points. By Faraday's law the emf from
S to F is minus the rate of the line integral of A from S to F, and V_FS = V_F - V_S equals that emf. A
uniform field along z has A = (B x r) / 2, a small magnet p has A = mu0 p x r / (4 pi r^3) (textbooks). The
sign of the string's magnetisation is that of the field in which it lies, taken from magpylib.
"""

from __future__ import annotations

import functools
import itertools
import math

import magpylib
import numpy

from winder.pair.signs import Lead, Mounted, Placed, Pole
from winder.recipe.model import Direction

MU0 = 4e-7 * math.pi
TURNS_A_LAYER, LAYERS, STEPS = 6, 6, 120
INNER_M, OUTER_M, WIDTH_M = 3.5e-3, 9.5e-3, 9e-3
STRING_M = 13e-3  # height of the string above the middle of the coil
PLACES = [Placed(*each) for each in itertools.product(Direction, Mounted, Pole)]


@functools.cache
def spiral(direction: Direction, mounted: Mounted) -> numpy.ndarray:
    """Points from S to F, shape (n, 3), metres, z to the string; the coil's top is up when it is wound."""
    sense = 1 if direction is Direction.COUNTER_CLOCKWISE else -1
    turns = TURNS_A_LAYER * LAYERS
    along = numpy.linspace(0, turns, turns * STEPS + 1)
    layer = numpy.minimum(along // TURNS_A_LAYER, LAYERS - 1)
    part = along / TURNS_A_LAYER - layer
    z = WIDTH_M * (numpy.where(layer % 2 == 0, part, 1 - part) - 0.5)
    radius = INNER_M + (OUTER_M - INNER_M) * layer / (LAYERS - 1)
    angle = sense * 2 * math.pi * along
    points = numpy.stack([radius * numpy.cos(angle), radius * numpy.sin(angle), z], axis=1)
    if mounted is Mounted.TOP_AWAY:  # half a turn about the x axis
        points = points @ numpy.diag([1.0, -1.0, -1.0])
    return points


def along_wire(points: numpy.ndarray, potential) -> float:
    """Line integral of A from S to F."""
    middle, step = (points[1:] + points[:-1]) / 2, numpy.diff(points, axis=0)
    return float((potential(middle) * step).sum())


def uniform(points: numpy.ndarray) -> numpy.ndarray:
    """A of one tesla along z."""
    return numpy.stack([-points[:, 1], points[:, 0], 0 * points[:, 2]], axis=1) / 2


def dipole(moment: float, height_m: float):
    """A of a small magnet on the axis, its moment (A m2) along z."""

    def potential(points: numpy.ndarray) -> numpy.ndarray:
        r = points - numpy.array([0, 0, height_m])
        cross = numpy.stack([-r[:, 1], r[:, 0], 0 * r[:, 2]], axis=1) * moment
        return MU0 / (4 * math.pi) * cross / (numpy.linalg.norm(r, axis=1) ** 3)[:, None]

    return potential


@functools.cache
def hum_v(placed: Placed) -> float:
    """V_FS while a field to the string grows by one tesla a second."""
    return -along_wire(spiral(placed.direction, placed.mounted), uniform)


@functools.cache
def string_moment(pole: Pole) -> float:
    """Of a bit of string over the pole: along the pole's own field there, as magpylib gives it."""
    magnet = magpylib.magnet.Cylinder(
        polarization=(0, 0, 1.0 if pole is Pole.NORTH else -1.0),
        dimension=(5e-3, 16e-3),
    )
    field = magnet.getB((0, 0, STRING_M))
    return 1e-6 * float(numpy.sign(field[2]))


@functools.cache
def signal_v(placed: Placed, below_m: float = 0.0, speed: float = 0.1) -> float:
    """V_FS while the string over the pole moves away at this speed; the coil may lie deeper."""
    points = spiral(placed.direction, placed.mounted)
    moment, step = string_moment(placed.pole), 1e-6
    linked = [
        along_wire(points, dipole(moment, STRING_M + below_m + side * step)) for side in (-1, 1)
    ]
    return -(linked[1] - linked[0]) / (2 * step) * speed


def across(lead: Lead, v_fs: float) -> float:
    """Voltage of this lead against the coil's other one."""
    return v_fs if lead is Lead.FINISH else -v_fs
