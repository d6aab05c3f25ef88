"""Perimeter and area of cores: hand figures, limits and what is refused."""

from __future__ import annotations

import math

import pytest
from coil_makers import cores
from hypothesis import given

from winder.coil.core import core_area_m2, core_perimeter_m
from winder.errors import UserMistake
from winder.recipe.model import ObroundCore, RoundCore, RoundedRectangleCore

# Reference figures, worked out apart from this program: perimeter mm, area mm2.
SHAPES = [
    (RoundCore(0.010), 31.415927, 78.53982),
    (ObroundCore(0.066, 0.006), 138.849556, 388.27433),
    (RoundedRectangleCore(0.020, 0.010, 0.001), 58.283185, 199.14159),
]


@pytest.mark.parametrize(("core", "perimeter_mm", "area_mm2"), SHAPES)
def test_shapes_to_the_printed_digits(core, perimeter_mm: float, area_mm2: float):
    assert core_perimeter_m(core) * 1e3 == pytest.approx(perimeter_mm, abs=6e-7)
    assert core_area_m2(core) * 1e6 == pytest.approx(area_mm2, abs=6e-6)


def test_an_obround_as_thick_as_long_is_round_and_so_is_a_rectangle_of_corners():
    for core in (ObroundCore(0.01, 0.01), RoundedRectangleCore(0.01, 0.01, 0.005)):
        assert core_perimeter_m(core) == pytest.approx(core_perimeter_m(RoundCore(0.01)))
        assert core_area_m2(core) == pytest.approx(core_area_m2(RoundCore(0.01)))


def test_a_rectangle_rounded_to_its_half_thickness_is_an_obround():
    rectangle, obround = RoundedRectangleCore(0.02, 0.006, 0.003), ObroundCore(0.02, 0.006)
    assert core_perimeter_m(rectangle) == pytest.approx(core_perimeter_m(obround))
    assert core_area_m2(rectangle) == pytest.approx(core_area_m2(obround))


def test_sharp_corners_give_the_plain_rectangle():
    assert core_perimeter_m(RoundedRectangleCore(0.02, 0.01, 0.0)) == pytest.approx(0.06)
    assert core_area_m2(RoundedRectangleCore(0.02, 0.01, 0.0)) == pytest.approx(0.0002)


@given(cores())
def test_no_core_encloses_more_than_a_circle_of_its_perimeter(core):
    """The isoperimetric inequality: P^2 >= 4 pi A."""
    assert core_perimeter_m(core) ** 2 >= 4 * math.pi * core_area_m2(core) * (1 - 1e-12)


@pytest.mark.parametrize(
    "core",
    [
        RoundCore(0.0),
        RoundCore(math.nan),
        ObroundCore(0.006, 0.066),
        ObroundCore(0.01, 0.0),
        RoundedRectangleCore(0.02, 0.01, 0.0051),
        RoundedRectangleCore(0.02, 0.01, -0.001),
    ],
)
def test_impossible_cores_are_refused(core):
    with pytest.raises(UserMistake, match="core"):
        core_perimeter_m(core)
    with pytest.raises(UserMistake, match="core"):
        core_area_m2(core)
