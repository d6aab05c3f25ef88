"""Uneven feed of long cores, tension and the speed that a wire bears."""

from __future__ import annotations

import math

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.core import Outline, core_outline
from winder.coil.feed import (
    feed_peak_over_mean,
    ripple_n,
    speed_limit,
    support_m,
    tension_max_n,
    tension_n,
)
from winder.coil.wire import wire_facts
from winder.recipe.model import AwgWire, ObroundCore, RoundCore, RoundedRectangleCore

outlines = st.builds(Outline, st.floats(0, 0.1), st.floats(0, 0.1), st.floats(0.0005, 0.02))


@pytest.mark.parametrize(
    ("core", "ratio"),
    [
        (ObroundCore(0.066, 0.006), 1.49),
        (ObroundCore(0.020, 0.010), 1.22),
        (RoundedRectangleCore(0.012, 0.012, 0.0002), 1.10),
        (RoundCore(0.01), 1.0),
    ],
)
def test_peak_over_mean_feed_of_bare_cores(core, ratio):
    """Reference figures, worked out apart from this program."""
    assert feed_peak_over_mean(core_outline(core)) == pytest.approx(ratio, rel=0.01)


@given(outlines)
def test_a_turn_takes_its_perimeter(outline):
    """Cauchy: the support function's mean is perimeter / 2 pi; and none is above the peak."""
    angles = (numpy.arange(20_000) + 0.5) * 2 * math.pi / 20_000
    distances = numpy.array([support_m(outline, angle) for angle in angles[:5000]])
    mean_m = distances.mean()  # one quarter of four alike
    assert mean_m == pytest.approx(outline.perimeter_m / (2 * math.pi), rel=1e-6)
    assert distances.max() / mean_m == pytest.approx(feed_peak_over_mean(outline), rel=1e-5)


@given(outlines, st.floats(0, 2 * math.pi))
def test_the_support_function_is_the_furthest_point_of_the_outline(outline, angle):
    corners = [
        (x * outline.straight_m / 2, y * outline.other_straight_m / 2)
        for x in (-1, 1)
        for y in (-1, 1)
    ]
    furthest = max(x * math.cos(angle) + y * math.sin(angle) for x, y in corners)
    assert support_m(outline, angle) == pytest.approx(furthest + outline.radius_m)


@given(outlines, st.floats(10, 3000))
def test_the_ripple_is_the_steepest_change_of_feed(outline, speed_rpm):
    """m dv/dt by small steps of angle."""
    angles = numpy.linspace(0, math.pi / 2, 4001)
    distances = numpy.array([support_m(outline, angle) for angle in angles])
    slope = numpy.abs(numpy.diff(distances) / numpy.diff(angles)).max()
    omega = speed_rpm * 2 * math.pi / 60
    stepped = 0.002 * omega**2 * slope
    rounding = 0.002 * omega**2 * 1e-12  # doubles of 1e-2 m subtracted, over a step of 4e-4
    assert ripple_n(outline, speed_rpm, 0.002) == pytest.approx(stepped, rel=2e-3, abs=rounding)


def test_ripple_of_the_reference_core():
    """66 x 6 mm at 1500 rpm: 0.74 N per gram of moving tensioner; more than 0.063 mm wire bears."""
    outline = core_outline(ObroundCore(0.066, 0.006))
    assert ripple_n(outline, 1500, 0.001) == pytest.approx(0.74, rel=0.01)
    assert ripple_n(outline, 1500, 0.001) > tension_max_n(0.063e-3)


@given(outlines, st.floats(10, 2000), st.floats(1.1, 4))
def test_ripple_grows_with_the_square_of_the_speed(outline, speed_rpm, times):
    more = ripple_n(outline, speed_rpm * times, 0.002)
    assert more == pytest.approx(
        times**2 * ripple_n(outline, speed_rpm, 0.002), rel=1e-9, abs=1e-15
    )


# 'Tension chart - proper wire tensioning', credited Phelps Dodge Magnet Wire Co. Eng. Data: lbf.
CHART_LBF = {30: 0.785, 31: 0.622, 32: 0.503, 33: 0.396}


@pytest.mark.parametrize(("gauge", "lbf"), CHART_LBF.items())
def test_greatest_tension_is_the_charts(gauge, lbf):
    newton = tension_max_n(wire_facts(AwgWire(gauge, "single")).bare_m)
    assert newton == pytest.approx(lbf * 4.4482216, rel=0.01)


@given(st.floats(1e-5, 1e-3))
def test_tension_to_wind_with_is_half_to_four_fifths(bare_m):
    band, most = tension_n(bare_m), tension_max_n(bare_m)
    assert (band.low, band.high) == pytest.approx((0.5 * most, 0.8 * most))
    assert band.low < band.nominal < band.high


@given(outlines.filter(lambda o: o.straight_m > 1e-4), st.floats(2e-5, 5e-4), st.floats(1e-4, 0.02))
def test_at_the_limit_the_ripple_takes_the_tension_to_its_maximum_and_not_to_slack(
    outline, bare_m, tensioner_kg
):
    limit = speed_limit(outline, bare_m, tensioner_kg)
    ripple, working = ripple_n(outline, limit.rpm, tensioner_kg), tension_n(bare_m).nominal
    assert working + ripple <= tension_max_n(bare_m) * (1 + 1e-9)
    assert working - ripple >= -1e-12
    assert working + 1.02 * ripple > tension_max_n(bare_m) or working < 1.02 * ripple
    assert "uneven" in limit.why


def test_a_round_core_sets_no_limit():
    limit = speed_limit(core_outline(RoundCore(0.01)), 5e-5, 0.002)
    assert limit.rpm is None and "evenly" in limit.why


@given(st.floats(1.1, 4))
def test_thicker_wire_and_a_lighter_tensioner_may_go_faster(times):
    outline = core_outline(ObroundCore(0.066, 0.006))
    plain = speed_limit(outline, 6e-5, 0.002).rpm
    assert speed_limit(outline, 6e-5 * times, 0.002).rpm == pytest.approx(times * plain)
    assert speed_limit(outline, 6e-5, 0.002 / times**2).rpm == pytest.approx(times * plain)
