"""Round coils against published ones, textbook limits and other programs' integrals.

Sources: D. Meeker, "FEMM 4.2 Magnetostatic Tutorial" (2014); TEAM workshop problem 15; the ITER central
solenoid module (0.7954 H); the Brooks coil as quoted in a UKAEA systems code; H. Nagaoka's coefficient;
H. A. Wheeler, Proc. IRE 16 (1928). Oracles: scipy's elliptic integrals, magpylib's field of a loop.
"""

from __future__ import annotations

import math

import magpylib
import numpy
import pytest
import scipy.special
from hypothesis import given
from hypothesis import strategies as st

from winder.coil import inductance
from winder.coil.cells import cell_distances_m, pair_weights, rectangle_gmd_m
from winder.coil.core import Outline
from winder.coil.inductance import (
    coaxial_circles_h,
    elliptic_k_e,
    inductance_of,
    round_winding_h,
    winding_h,
)

INCH_M = 0.0254
MU0 = 4e-7 * math.pi
lengths_m = st.floats(0.0005, 0.05)


def circles_h(radius_m: float, other_m: float, apart_m: float) -> float:
    return float(coaxial_circles_h(*(numpy.array(x) for x in (radius_m, other_m, apart_m))))


def test_elliptic_integrals_are_those_of_scipy():
    m = numpy.array([0.0, 1e-9, 0.1, 0.5, 0.9, 0.999, 1 - 1e-9])
    k, e = elliptic_k_e(m)
    assert k == pytest.approx(scipy.special.ellipk(m), rel=1e-14)
    assert e == pytest.approx(scipy.special.ellipe(m), rel=1e-14)


def test_two_loops_have_their_reference_value():
    """a = 20, b = 25, z = 10 mm: 24.8787359 nH, worked out apart from this program."""
    assert circles_h(0.020, 0.025, 0.010) * 1e9 == pytest.approx(24.8787359, abs=5e-8)


@pytest.mark.parametrize("apart_m", [0.001, 0.01, 0.3])
def test_two_loops_have_the_flux_that_magpylib_finds(apart_m):
    """Bz of the loop of 20 mm, integrated over the disc of 12 mm."""
    loop = magpylib.current.Circle(current=1.0, diameter=0.040)
    nodes, weights = numpy.polynomial.legendre.leggauss(40)
    radii = 0.012 * (nodes + 1) / 2
    places = numpy.stack([radii, 0 * radii, 0 * radii + apart_m], axis=-1)
    flux = float((weights * 0.006 * 2 * math.pi * radii) @ loop.getB(places)[:, 2])
    assert circles_h(0.020, 0.012, apart_m) == pytest.approx(flux, rel=1e-9)


@given(lengths_m, lengths_m, st.floats(1e-4, 0.5), st.floats(1.01, 3.0))
def test_loops_answer_each_other_and_less_from_further_away(radius, other, apart, further):
    there = circles_h(radius, other, apart)
    assert there == pytest.approx(circles_h(other, radius, apart), rel=1e-9)
    assert there > circles_h(radius, other, apart * further) > 0


def test_far_loops_are_dipoles():
    """M -> mu0 pi a^2 b^2 / (2 z^3)."""
    figured = circles_h(0.001, 0.002, 0.5)
    assert figured == pytest.approx(MU0 * math.pi * 1e-6 * 4e-6 / (2 * 0.125), rel=1e-4)


def test_tutorial_coil_has_its_published_inductance():
    """FEMM: bore 1 in, outside 3 in, length 2 in, 1000 turns: 22.9 mH printed."""
    henry = inductance_of(Outline(0, 0, INCH_M / 2), 2 * INCH_M, INCH_M, 1000, 0.0403 * INCH_M)
    assert henry == pytest.approx(22.9e-3, rel=5e-3)


@pytest.mark.parametrize("side_m", [0.001, 0.01, 0.3])
def test_brooks_coil(side_m):
    """Square section of side c, mean radius 1.5 c: 25.491 nH per cm of c and turn squared."""
    assert round_winding_h(side_m, side_m, side_m) == pytest.approx(25.491e-7 * side_m, rel=1e-3)


def test_team_problem_15_coil_1_as_measured():
    """Radii 6.15 and 12.4 mm, length 6.15 mm, 3790 turns: 221.8 mH measured; 0.05 mm is worth 1 %."""
    henry = 3790**2 * round_winding_h(6.15e-3, 6.15e-3, 6.25e-3)
    assert henry == pytest.approx(0.2218, rel=0.025)


def test_iter_module():
    """Mean radius 1.722 m, 2.075 m x 0.719 m, 554 turns: 0.7954 H."""
    henry = 554**2 * round_winding_h(1.722 - 0.719 / 2, 2.075, 0.719)
    assert henry == pytest.approx(0.7954, rel=3e-3)


def test_a_thin_coil_as_long_as_wide_has_nagaokas_coefficient():
    """K = 0.688423 at diameter / length = 1; L = mu0 N^2 pi a^2 K / l."""
    radius_m = 0.01
    per_turn2 = round_winding_h(radius_m - 1e-7, 2 * radius_m, 2e-7)
    coefficient = per_turn2 * 2 * radius_m / (MU0 * math.pi * radius_m**2)
    assert coefficient == pytest.approx(0.688423, abs=1e-4)


def nagaoka(diameter_per_length: float) -> float:
    """The coefficient by elliptic integrals (H. Nagaoka, J. Coll. Sci. Tokyo 27 (1909), from memory)."""
    k2 = diameter_per_length**2 / (1 + diameter_per_length**2)
    k, rest = math.sqrt(k2), 1 - k2
    first, second = scipy.special.ellipk(k2), scipy.special.ellipe(k2)
    return 4 / (3 * math.pi * math.sqrt(rest)) * (rest / k2 * (first - second) + second - k)


@pytest.mark.parametrize("length_m", [0.0005, 0.005, 0.02, 0.1, 0.3])
def test_thin_coils_of_any_length_have_nagaokas_coefficient(length_m):
    per_turn2 = round_winding_h(0.01 - 1e-8, length_m, 2e-8)
    ideal = MU0 * math.pi * 0.01**2 / length_m * nagaoka(0.02 / length_m)
    assert per_turn2 == pytest.approx(ideal, rel=1e-4)


@pytest.mark.parametrize("scale", [0.8, 1.0, 1.2])
def test_wheeler_where_his_terms_are_alike(scale):
    """0.8 a^2 N^2 / (6a + 9b + 10c) uH in inches, 1 % where the three terms are near each other."""
    mean, length, build = 1.0, scale * 6 / 9, 6 / 10
    formula = 0.8e-6 * mean**2 / (6 * mean + 9 * length + 10 * build)
    figured = round_winding_h((mean - build / 2) * INCH_M, length * INCH_M, build * INCH_M)
    assert figured == pytest.approx(formula, rel=0.012)


def test_the_reference_winding_on_ten_millimetres():
    """8 mm wide, 4 mm high on 10 mm: 10.0525 nH per turn squared, worked out apart."""
    assert round_winding_h(0.005, 0.008, 0.004) == pytest.approx(10.0525e-9, rel=5e-5)


def brute_h(inner_m: float, width_m: float, height_m: float, cell_m: float) -> float:
    """Square cells, pair by pair, every one its own filament at its centre (0.1 % at 8 x 8 cells)."""
    along, across = round(width_m / cell_m), round(height_m / cell_m)
    radii = inner_m + height_m * (numpy.arange(across) + 0.5) / across
    places = width_m * (numpy.arange(along) + 0.5) / along
    r, z = (grid.ravel() for grid in numpy.meshgrid(radii, places))
    apart = numpy.abs(z[:, None] - z)
    numpy.fill_diagonal(apart, rectangle_gmd_m(width_m / along, height_m / across))
    return float(coaxial_circles_h(r[:, None], r[None, :], apart).mean())


@pytest.mark.parametrize("section_mm", [(5, 8, 4), (3, 10, 2), (10, 4, 10), (2, 3, 12)], ids=str)
def test_few_clever_cells_are_as_good_as_many_plain_ones(section_mm):
    inner_m, width_m, height_m = (mm * 1e-3 for mm in section_mm)
    plain = brute_h(inner_m, width_m, height_m, min(width_m, height_m) / 16)
    assert round_winding_h(inner_m, width_m, height_m) == pytest.approx(plain, rel=3e-4)


@given(lengths_m, lengths_m, lengths_m, st.floats(0.1, 10))
def test_all_lengths_times_k_give_k_times_the_inductance(inner, width, height, scale):
    plain = round_winding_h(inner, width, height)
    scaled = round_winding_h(scale * inner, scale * width, scale * height)
    assert scaled == pytest.approx(scale * plain, rel=1e-3)


@given(lengths_m, lengths_m, lengths_m, st.floats(1.05, 2.0))
def test_a_wider_core_has_more_and_a_longer_winding_less(inner, width, height, more):
    plain = round_winding_h(inner, width, height)
    assert round_winding_h(inner * more, width, height) > plain > 0
    assert round_winding_h(inner, width * more, height) < plain


@given(st.floats(0.005, 0.05), st.floats(1e-5, 1e-4))
def test_a_thin_coil_is_a_loop(radius, side):
    """mu0 a (ln(8 a / g) - 2), g the geometric mean distance of the section."""
    loop = MU0 * radius * (math.log(8 * radius / (0.2235251 * 2 * side)) - 2)
    assert round_winding_h(radius - side / 2, side, side) == pytest.approx(loop, rel=1e-3)


@given(st.floats(0.001, 0.01), st.floats(60, 100))
def test_a_long_coil_is_a_solenoid(radius, times):
    """mu0 pi a^2 / l, less 8 a / (3 pi l) of it at the ends (Lundin's leading term)."""
    length = times * radius
    ideal = MU0 * math.pi * radius**2 / length * (1 - 8 / (3 * math.pi * times))
    thin = round_winding_h(radius * 0.9995, length, radius * 0.001)
    assert thin == pytest.approx(ideal, rel=2e-3)


@given(st.floats(1, 2000), st.floats(1.01, 3))
def test_more_turns_in_the_same_room_have_more(turns, more):
    def henry(n: float) -> float:
        return inductance_of(Outline(0, 0, 0.004), 0.006, 0.003, n, 0.00006)

    assert (
        henry(turns * more)
        > henry(turns)
        > turns**2 * winding_h(Outline(0, 0, 0.004), 0.006, 0.003)
    )


def test_distances_between_cells_are_those_of_points_drawn_at_random():
    random = numpy.random.default_rng(3)
    figured = cell_distances_m(2.0, 1.0, 3, 2)
    for k, m in ((0, 0), (1, 0), (0, 1), (2, 1)):
        first = random.random((400_000, 2)) * (2, 1)
        second = random.random((400_000, 2)) * (2, 1) + (2 * k, m)
        mean = numpy.log(numpy.hypot(*(first - second).T)).mean()
        assert figured[m][k] == pytest.approx(math.exp(mean), rel=5e-3)


def test_touching_strips_have_the_textbook_distance():
    """Equal lines end to end: 0.89252 of their length (Rosa and Grover, from memory)."""
    assert cell_distances_m(1.0, 1e-6, 2, 1)[0][1] == pytest.approx(0.89252, abs=2e-5)
    assert rectangle_gmd_m(1.0, 1.0) == pytest.approx(2 * 0.2235250, rel=1e-4)


@given(st.integers(1, 50))
def test_pairs_are_all_counted(count):
    assert sum(pair_weights(count)) == count**2


@given(lengths_m, lengths_m, st.floats(1e-6, 0.5))
def test_loops_have_maxwells_mutual_inductance(radius, other, apart):
    """Treatise, art. 701, with scipy's elliptic integrals; far apart its brackets cancel all but a few digits."""
    m1 = ((radius - other) ** 2 + apart**2) / ((radius + other) ** 2 + apart**2)
    k, root = math.sqrt(1 - m1), math.sqrt(radius * other)
    first, second = scipy.special.ellipkm1(m1), scipy.special.ellipe(1 - m1)
    large = 2 / k * (first + second)
    maxwell = MU0 * root * ((2 / k - k) * first - 2 / k * second)
    assert circles_h(radius, other, apart) == pytest.approx(maxwell, abs=4e-15 * MU0 * root * large)


@given(lengths_m, lengths_m, st.floats(1e-9, 0.5))
def test_single_circles_are_as_those_in_an_array(radius, other, apart):
    single = coaxial_circles_h(radius, other, apart)
    assert isinstance(single, float)
    assert single == pytest.approx(circles_h(radius, other, apart), rel=1e-14)


@pytest.mark.parametrize("section_mm", [(5, 8, 4), (3, 10, 2), (0.5, 3, 9)], ids=str)
def test_pairs_one_by_one_add_up_to_what_arrays_do(section_mm, monkeypatch):
    section = [mm * 1e-3 for mm in section_mm]
    added = []
    for few in (math.inf, 0):
        monkeypatch.setattr(inductance, "FEW_PAIRS", few)
        round_winding_h.cache_clear()
        added.append(round_winding_h(*section))
    round_winding_h.cache_clear()
    assert added[0] == pytest.approx(added[1], rel=1e-12)
