"""Signal tables without iron, again from magpylib's dipole field through every filament of both coils.

A moving moment gives the ratio of dPhi/dy, a moving pole that of Phi itself (reciprocity); the string is 3 to 5 mm
above the near winding (7 mm hub, 19 mm outside, 9 mm wide).
"""

from __future__ import annotations

import functools
import math

import magpylib
import numpy
import pytest

from winder.pair.mounting import Iron, Stacked
from winder.pair.signal import far_share, return_share

RADII_M = [(3.5 + k + 0.5) * 1e-3 for k in range(6)]
HEIGHTS_M = [9e-3 * ((k + 0.5) / 6 - 0.5) for k in range(6)]


@functools.cache
def disc(radius_m: float) -> tuple[numpy.ndarray, numpy.ndarray]:
    """Points of a disc and the area each stands for."""
    nodes, weights = numpy.polynomial.legendre.leggauss(12)
    angles = 2 * math.pi * numpy.arange(32) / 32
    r = (nodes + 1) / 2 * radius_m
    area = numpy.repeat(r * weights / 2 * radius_m, 32) * 2 * math.pi / 32
    rr, aa = (each.ravel() for each in numpy.meshgrid(r, angles, indexing="ij"))
    return numpy.stack([rr * numpy.cos(aa), rr * numpy.sin(aa), 0 * rr], axis=1), area


def linked(x_m: float, z_m: float, string_m: float) -> float:
    """Flux of a moment on the first coil's axis through a coil with its middle at (x, z)."""
    moment = magpylib.misc.Dipole(moment=(0, 0, 1.0), position=(0, 0, string_m))
    total = 0.0
    for radius_m in RADII_M:
        points, area = disc(radius_m)
        for height_m in HEIGHTS_M:
            at = points + numpy.array([x_m, 0, z_m + height_m])
            total += float((moment.getB(at)[:, 2] * area).sum())
    return total


def shares(x_m: float, z_m: float) -> list[float]:
    """Of the other coil over the near one: moment and pole, the string at three heights."""
    found = []
    for above_m in (3e-3, 4e-3, 5e-3):
        ends = [
            [linked(*place, 4.5e-3 + above_m + side) for side in (-1e-6, 1e-6)]
            for place in ((0.0, 0.0), (x_m, z_m))
        ]
        near, other = ends
        found.append((other[1] - other[0]) / (near[1] - near[0]))
        found.append(sum(other) / sum(near))
    return found


@pytest.mark.parametrize("gap_mm", [1, 2, 3, 5])
def test_the_far_coil_of_a_stack_without_iron(gap_mm):
    """Moment and pole are the outer two of the four string models: they are the band's ends."""
    found = shares(0.0, -(9 + gap_mm) * 1e-3)
    band = far_share(Stacked(gap_mm * 1e-3), Iron.NONE)
    assert min(found) == pytest.approx(band.low, abs=0.006)
    assert max(found) == pytest.approx(band.high, abs=0.006)


@pytest.mark.parametrize("apart_mm", [20, 22, 25, 30])
def test_a_string_over_the_other_coil(apart_mm):
    found = shares(apart_mm * 1e-3, 0.0)
    band = return_share(apart_mm * 1e-3)
    assert max(found) < 0  # return flux
    assert -max(found) == pytest.approx(band.low, abs=6e-4)
    assert -min(found) == pytest.approx(band.high, abs=6e-4)


def test_a_battery_turns_a_compass_needle():
    """9 V into 8 kohm and 10000 turns: 7.5 uT 30 mm above the winding, a third of the earth's 20 uT (memory)."""
    field = 0.0
    for radius_m in RADII_M:
        for height_m in HEIGHTS_M:
            loop = magpylib.current.Circle(
                current=9 / 8000, diameter=2 * radius_m, position=(0, 0, height_m)
            )
            field += 10_000 / 36 * float(loop.getB((0, 0, 34.5e-3))[2])
    assert field == pytest.approx(7.5e-6, rel=0.01)
