"""Coils on cores that are not round: reference values, magpylib's flux, and the round limit."""

from __future__ import annotations

import math

import magpylib
import numpy
import pytest
import scipy.special
from hypothesis import given, settings
from hypothesis import strategies as st

from winder.coil.core import Outline, core_outline
from winder.coil.inductance import round_winding_h, winding_h
from winder.coil.neumann import MiddleCurve, bessel_k0, missed_peak, outline_winding_h
from winder.recipe.model import CustomCore, ObroundCore, RoundedRectangleCore

STADIUM = core_outline(ObroundCore(0.066, 0.006))
RECTANGLE = core_outline(RoundedRectangleCore(0.020, 0.010, 0.001))


@pytest.mark.parametrize(("outline", "nano_h"), [(STADIUM, 38.91), (RECTANGLE, 19.09)])
def test_reference_windings(outline, nano_h):
    """8 mm wide, 4 mm high: nH per turn squared, worked out apart from this program."""
    assert winding_h(outline, 0.008, 0.004) * 1e9 == pytest.approx(nano_h, rel=1e-3)


def flux_wb(outline: Outline, apart_m: float) -> float:
    """Flux that an ampere in the outline sends through the same outline ``apart_m`` away."""
    curve = MiddleCurve(outline, 400)
    n = curve.quarter
    # The four quarters in the order of one walk around.
    order = numpy.concatenate(
        [
            numpy.arange(n),
            n + numpy.arange(n)[::-1],
            2 * n + numpy.arange(n),
            3 * n + numpy.arange(n)[::-1],
        ]
    )
    corners = numpy.stack([curve.x[order], curve.y[order], 0 * curve.x], axis=-1)
    loop = magpylib.current.Polyline(current=1.0, vertices=numpy.vstack([corners, corners[:1]]))
    nodes, weights = numpy.polynomial.legendre.leggauss(24)
    half_x = outline.straight_m / 2 + outline.radius_m
    # Columns of the outline: x = half_x sin(u) thins out towards the round ends.
    u = math.pi / 4 * (nodes + 1)
    x, column_weights = half_x * numpy.sin(u), weights * math.pi / 4 * half_x * numpy.cos(u)
    beyond = numpy.maximum(x - outline.straight_m / 2, 0)
    top = outline.other_straight_m / 2 + numpy.sqrt(outline.radius_m**2 - beyond**2)
    y = top[:, None] * (nodes + 1) / 2
    places = numpy.stack([x[:, None] + 0 * y, y, apart_m + 0 * y], axis=-1)
    bz = loop.getB(places.reshape(-1, 3))[:, 2].reshape(y.shape)
    return float(4 * column_weights @ ((bz @ weights) * top / 2))


@pytest.mark.parametrize("outline", [STADIUM, RECTANGLE], ids=["stadium", "rectangle"])
@pytest.mark.parametrize("apart_m", [0.004, 0.02])
def test_mutual_inductance_is_the_flux_that_magpylib_finds(outline, apart_m):
    curve = MiddleCurve(outline, 60)
    (mutual,) = curve.mutual_h(0.0, numpy.array([0.0]), numpy.array([apart_m]))
    assert mutual == pytest.approx(flux_wb(outline, apart_m), rel=2e-3)


@pytest.mark.parametrize(
    "section_mm", [(5, 8, 4), (5, 10, 0.1), (5, 0.2, 20), (2, 40, 3), (20, 6, 12)], ids=str
)
def test_a_circle_by_neumann_is_a_circle_by_maxwell(section_mm):
    inner_m, width_m, height_m = (mm * 1e-3 for mm in section_mm)
    by_neumann = outline_winding_h(Outline(0, 0, inner_m), width_m, height_m)
    assert by_neumann == pytest.approx(round_winding_h(inner_m, width_m, height_m), rel=5e-4)


@settings(max_examples=15)
@given(st.floats(0.002, 0.03), st.floats(0.002, 0.02), st.floats(0.0005, 0.008))
def test_a_core_nearly_round_has_nearly_the_round_value(radius, width, height):
    oval = winding_h(Outline(radius * 1e-4, 0, radius), width, height)
    assert oval == pytest.approx(round_winding_h(radius, width, height), rel=1e-3)


@settings(max_examples=10)
@given(st.floats(0.2, 5.0))
def test_all_lengths_times_k_give_k_times_the_inductance(scale):
    scaled = Outline(*(scale * length for length in (0.016, 0.006, 0.002)))
    figured = winding_h(scaled, scale * 0.008, scale * 0.004)
    assert figured == pytest.approx(
        scale * winding_h(Outline(0.016, 0.006, 0.002), 0.008, 0.004), rel=1e-4
    )


@settings(max_examples=10)
@given(st.floats(0.001, 0.03), st.floats(0.001, 0.03))
def test_a_core_turned_by_a_quarter_is_the_same_core(side, other):
    lying, standing = Outline(side, other, 0.002), Outline(other, side, 0.002)
    assert winding_h(lying, 0.006, 0.003) == pytest.approx(
        winding_h(standing, 0.006, 0.003), rel=2e-3
    )


def test_of_equal_perimeters_the_circle_has_most():
    for outline in (STADIUM, RECTANGLE):
        circle = round_winding_h(outline.perimeter_m / (2 * math.pi), 0.008, 0.004)
        assert winding_h(outline, 0.008, 0.004) < circle


def test_a_square_known_by_perimeter_and_area_alone_is_within_two_per_cent():
    """The obround of the same perimeter and area stands in for it."""
    square = winding_h(core_outline(RoundedRectangleCore(0.01, 0.01, 0.0)), 0.008, 0.004)
    measured = winding_h(core_outline(CustomCore(0.04, 0.0001)), 0.008, 0.004)
    assert measured == pytest.approx(square, rel=0.02)


def test_the_curve_has_the_outlines_length_and_closes():
    for outline in (STADIUM, RECTANGLE, Outline(0.01, 0.01, 1e-5)):
        curve = MiddleCurve(outline, 50)
        assert curve.step_m.sum() == pytest.approx(outline.perimeter_m)
        assert (curve.step_m * curve.bend).sum() == pytest.approx(2 * math.pi)
        assert (curve.step_m * curve.nx).sum() == pytest.approx(0, abs=1e-12)


def test_bessel_function_is_scipys():
    x = numpy.array([1e-3, 0.1, 1.0, 1.999, 2.001, 5.0, 20.0])
    assert bessel_k0(x) == pytest.approx(scipy.special.k0(x), rel=1e-6)


@pytest.mark.parametrize("ratio", [0.02, 0.3, 0.4999, 0.5001, 1.3])
def test_what_the_midpoint_rule_misses_is_summed_right(ratio):
    """Against the sum itself: h sum 1/sqrt((k h)^2 + d^2) less the integral over the same span."""
    reach = 200_000
    k = numpy.arange(-reach, reach + 1)
    summed = (1 / numpy.sqrt(k**2 + ratio**2)).sum()
    integral = 2 * math.asinh((reach + 0.5) / ratio)
    assert float(missed_peak(numpy.array(ratio))) == pytest.approx(summed - integral, abs=2e-5)
