"""Length, resistance and build: published coils, exact sums, inverses, scaling, bands.

Sources: D. Meeker, "FEMM 4.2 Magnetostatic Tutorial" (2014); TDK data sheet of the ETD 29 former; the
reference figures of the three cores were worked out apart from this program.
"""

from __future__ import annotations

import dataclasses
import math

import numpy
import pytest
from coil_makers import KALIMBA_CORE, recipe, recipes, usual_rise
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.allowances import flats_m
from winder.coil.bands import Band
from winder.coil.steiner import turns_area_m2, turns_of_length, wound_length_m
from winder.coil.winding import (
    area_per_turn_m2,
    build_at,
    complaints,
    figure_coil,
    flats_build_at,
    remarks,
    resistance_at,
    resistance_curve,
    turns_for_resistance,
    turns_that_fit,
)
from winder.coil.wire import awg_diameter_m, solid_ohm_per_m
from winder.errors import UserMistake
from winder.recipe.model import AwgWire, MetricWire, ResistanceTarget, RoundCore, TurnsTarget

INCH_M = 0.0254
# 8000 turns of 4.78895e-9 m2: perimeter mm, area mm2, width mm, build mm, length m, outer turn mm,
# turns-area m2.
STEINER = [
    (31.415927, 78.53982, 20, 1.91558, 299.47119, 43.45187, 0.8997785),
    (138.849556, 388.27433, 10, 3.83116, 1207.08400, 162.92144, 5.3569785),
    (58.283185, 199.14159, 12, 3.19263, 546.50511, 78.34309, 2.4228320),
]
AREA_PER_TURN_M2 = 4.78895e-9


@pytest.mark.parametrize("row", STEINER)
def test_steiner_reference_to_its_printed_digits(row: tuple[float, ...]):
    perimeter_mm, area_mm2, width_mm, build_mm, length_m, outer_mm, turns_area = row
    per_width_m = AREA_PER_TURN_M2 / (width_mm * 1e-3)
    perimeter_m = perimeter_mm * 1e-3
    assert 8000 * per_width_m * 1e3 == pytest.approx(build_mm, abs=6e-6)
    assert wound_length_m(perimeter_m, per_width_m, 8000) == pytest.approx(length_m, abs=1.1e-5)
    last_turn_m = perimeter_m + 2 * math.pi * per_width_m * 8000
    assert last_turn_m * 1e3 == pytest.approx(outer_mm, abs=6e-6)
    field_area_m2 = turns_area_m2(perimeter_m, area_mm2 * 1e-6, per_width_m, 8000)
    assert field_area_m2 == pytest.approx(turns_area, abs=1e-7)


def test_tutorial_coil_has_its_published_resistance():
    """FEMM tutorial: bore 1 in, outside 3 in, length 2 in, 1000 turns of AWG 18: 3.34 ohm."""
    per_width_m = INCH_M / 1000  # the inch of build over the turns
    length_m = wound_length_m(math.pi * INCH_M, per_width_m, 1000)
    ohm = length_m * solid_ohm_per_m(awg_diameter_m(18))
    assert ohm == pytest.approx(3.34, rel=3e-3)


@pytest.mark.parametrize("core_mm", [11.8, 12.0])
def test_a_full_former_has_its_published_mean_turn(core_mm: float):
    """TDK ETD 29: core 11.8 to 12.0 mm, flange 21.6 mm, mean turn 52.8 mm."""
    build_m = (21.6 - core_mm) / 2 * 1e-3
    turns = 500
    mean_m = wound_length_m(math.pi * core_mm * 1e-3, build_m / turns, turns) / turns
    assert 52.4e-3 < mean_m < 52.9e-3


@given(
    perimeter_m=st.floats(1e-3, 0.3),
    wire_m=st.floats(2e-5, 3e-4),
    per_layer=st.integers(1, 500),
    layers=st.integers(1, 60),
)
def test_whole_layers_add_up_to_the_formula(perimeter_m, wire_m, per_layer, layers):
    """Square lay, layer by layer, each turn at the middle of its layer: the same length exactly."""
    summed = sum(
        per_layer * (perimeter_m + 2 * math.pi * wire_m * (layer + 0.5)) for layer in range(layers)
    )
    figured = wound_length_m(perimeter_m, wire_m / per_layer, per_layer * layers)
    assert figured == pytest.approx(summed, rel=1e-12)


@given(st.floats(1e-3, 0.3), st.one_of(st.just(0.0), st.floats(1e-12, 1e-4)), st.floats(1e-3, 1e5))
def test_turns_to_length_and_back(perimeter_m, per_width_m, turns):
    length_m = wound_length_m(perimeter_m, per_width_m, turns)
    assert turns_of_length(perimeter_m, per_width_m, length_m) == pytest.approx(turns, rel=1e-9)


@given(recipes(), st.floats(1.0, 30_000.0))
def test_turns_to_resistance_and_back(some_recipe, turns):
    coil = figure_coil(some_recipe)
    ohm = resistance_at(coil, turns)
    back = turns_for_resistance(coil, ohm.nominal)
    assert back.nominal == pytest.approx(turns, rel=1e-9)
    assert back.low < turns < back.high


@given(recipes(), st.floats(0, 30_000), st.floats(1, 5000))
def test_more_turns_have_more_resistance_and_wider_limits(some_recipe, turns, more):
    coil = figure_coil(some_recipe)
    less, further = resistance_at(coil, turns), resistance_at(coil, turns + more)
    assert less.nominal < further.nominal
    assert less.low < further.low and less.high < further.high
    assert further.high - further.low > less.high - less.low


@given(recipes())
def test_every_band_is_ordered_and_the_parts_agree(some_recipe):
    coil = figure_coil(some_recipe)
    for band in (coil.resistance_ohm_20c, coil.area_per_turn_m2, build_at(coil, coil.turns)):
        assert 0 < band.low < band.nominal < band.high
    if not flats_m(coil.outline):
        assert coil.resistance_ohm_20c.nominal == pytest.approx(
            coil.wire_length_m * coil.wire.ohm_per_m.nominal * usual_rise(coil)
        )
    assert coil.build_m * coil.width_m == pytest.approx(coil.turns * coil.area_per_turn_m2.nominal)
    assert coil.fits == (flats_build_at(coil, coil.turns).high <= coil.recipe.height_m)
    assert coil.layers * coil.turns_per_layer == pytest.approx(coil.turns)


@given(st.floats(1e-3, 0.3), st.floats(1e-10, 1e-5), st.floats(1, 1e4), st.floats(0.1, 10.0))
def test_everything_twice_as_big_takes_twice_the_wire(perimeter_m, per_width_m, turns, scale):
    plain = wound_length_m(perimeter_m, per_width_m, turns)
    # a scales as a square and W as a length, so g = a / W scales as a length.
    scaled = wound_length_m(scale * perimeter_m, scale * per_width_m, turns)
    assert scaled == pytest.approx(scale * plain)


def test_limits_hold_the_middle_95_per_cent_of_coils_with_both_errors():
    """20 000 coils with log-normal wire and packing errors; a deep coil, where packing matters."""
    coil = figure_coil(
        recipe(wire=MetricWire(0.063e-3, 1), core=RoundCore(0.006), width_m=0.01, height_m=0.02)
    )
    wire = coil.wire.ohm_per_m
    even = Band(wire.nominal, wire.nominal / 1.05, wire.nominal * 1.05)
    wire_of_it = dataclasses.replace(coil.wire, ohm_per_m=even)
    coil = dataclasses.replace(coil, wire=wire_of_it, stretch_share=0.0)
    band = resistance_at(coil, 6500)
    random = numpy.random.default_rng(1)
    wire_error, packing_error = random.standard_normal((2, 20_000)) / 1.96
    ohm_per_m = even.nominal * 1.05**wire_error
    per_width = coil.area_per_turn_m2.nominal * 1.15**packing_error / coil.width_m
    ohms = ohm_per_m * (coil.core_perimeter_m * 6500 + math.pi * per_width * 6500**2)
    low, high = numpy.quantile(ohms, [0.025, 0.975])
    assert band.low == pytest.approx(low, rel=5e-3)
    assert band.high == pytest.approx(high, rel=5e-3)
    assert (band.high - band.low) / band.nominal > 0.13  # both errors, not the wire's 10 % alone


def test_a_shallow_coil_is_as_doubtful_as_its_wire():
    """One turn on a long core: packing says nothing, the limits are the wire's, and the core's 0.4 %."""
    coil = dataclasses.replace(figure_coil(recipe()), stretch_share=0.0)
    one, wire = resistance_at(coil, 1), coil.wire.ohm_per_m
    assert one.high / one.low == pytest.approx(wire.high / wire.low, rel=3e-3)


def test_stretch_widens_upwards_and_moves_the_middle_by_a_third():
    """By feel up to 4 %: from nothing stretched, at the low end of the wire, to all of it at the high end."""
    coil = figure_coil(recipe(core=RoundCore(0.02)))
    none = dataclasses.replace(coil, stretch_share=0.0)
    plain, felt = resistance_at(none, 4000), resistance_at(coil, 4000)
    assert coil.stretch_share == 0.04
    assert felt.nominal / plain.nominal == pytest.approx(1.04 ** (1 / 3))
    # At either end of the allowance 95 of 100 are held, which is 1.645 to 1.96 deviations beyond it.
    doubt = math.log(plain.high / plain.nominal) / 1.96
    assert 1.6 * doubt < math.log(felt.high / plain.nominal) - math.log(1.04) < 1.96 * doubt
    assert 1.6 * doubt < math.log(plain.nominal / felt.low) < 1.96 * doubt


def test_packing_limits_are_the_range_of_practice():
    """Turn density 0.70 to 0.95 of square lay ("Coil design", electric-motor handbook, sec. 1.10)."""
    area = area_per_turn_m2(1e-3)
    assert 1e-6 / area.high == pytest.approx(0.70, abs=0.015)
    assert 1e-6 / area.low == pytest.approx(0.95, abs=0.015)


@given(recipes(), st.floats(0.01, 1e5))
def test_resistance_asked_for_is_met_by_the_nearest_whole_turn(some_recipe, ohm):
    try:
        coil = figure_coil(dataclasses.replace(some_recipe, target=ResistanceTarget(ohm)))
    except UserMistake as trouble:
        assert "half a turn" in trouble.what
        return
    miss = abs(coil.resistance_ohm_20c.nominal - ohm)
    for other in (coil.turns - 1, coil.turns + 1):
        assert miss <= abs(resistance_at(coil, other).nominal - ohm) * (1 + 1e-9)


def test_the_screen_curve_is_the_same_as_the_bands():
    coil = figure_coil(recipe())
    curve = resistance_curve(coil)
    for turns in (0.5, 100, coil.turns):
        band = resistance_at(coil, turns)
        assert curve(turns) == (band.nominal, band.low, band.high)
    assert curve(0) == (0.0, 0.0, 0.0)
    assert curve(coil.turns)[0] == coil.resistance_ohm_20c.nominal


def test_margins_narrow_the_winding_and_deepen_the_build():
    wide, narrow = figure_coil(recipe()), figure_coil(recipe(margin_m=0.0025))
    assert narrow.width_m == pytest.approx(wide.width_m / 2)
    assert narrow.build_m == pytest.approx(wide.build_m * 2)


def height_of(factor: float) -> float:
    """A flange ``factor`` times as high as the nominal build of the invented coil."""
    return figure_coil(recipe()).build_m * factor


def test_a_coil_that_overflows_however_it_is_laid_is_complained_of_with_numbers():
    coil = figure_coil(recipe(height_m=height_of(0.8)))
    assert not coil.fits and remarks(coil) == ()
    (complaint,) = complaints(coil)
    assert "6500 turns of 42 AWG single" in complaint.what
    assert f"at most about {turns_that_fit(coil)} turns" in complaint.remedy
    mended = figure_coil(recipe(height_m=height_of(0.8), target=TurnsTarget(turns_that_fit(coil))))
    assert complaints(mended) == ()
    assert mended.build_m <= mended.recipe.height_m


@pytest.mark.parametrize(
    ("factor", "words"), [(1.05, "tighter than usual"), (1.3, "may reach the flange")]
)
def test_a_coil_at_the_edge_of_the_band_is_only_remarked_on(factor: float, words: str):
    coil = figure_coil(recipe(height_m=height_of(factor)))
    assert not coil.fits and complaints(coil) == ()
    (remark,) = remarks(coil)
    assert words in remark


def test_a_coil_with_room_to_spare_gets_no_word():
    coil = figure_coil(recipe(height_m=height_of(1.6)))
    assert coil.fits and complaints(coil) == () and remarks(coil) == ()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"margin_m": 0.005}, "less than one 42 AWG single wire"),
        ({"target": ResistanceTarget(0.01)}, "half a turn"),
        ({"target": ResistanceTarget(-1.0)}, "half a turn"),
        ({"target": TurnsTarget(0)}, "no coil"),
        ({"wire": AwgWire(51, "single")}, "wire table"),
    ],
)
def test_what_makes_no_coil_is_refused_in_words(changes, words: str):
    with pytest.raises(UserMistake, match=words):
        figure_coil(recipe(**changes))


def test_the_figures_of_the_invented_coil_stay_what_they_were():
    """Worked by hand: g = 0.0711^2/0.815/10 mm, L = P0 N + pi g N^2, at 5.444 ohm/m."""
    coil = figure_coil(recipe(core=KALIMBA_CORE))
    per_width_mm = 0.07112**2 / 0.815 / 10
    by_hand_m = (138.849556 * 6500 + math.pi * per_width_mm * 6500**2) / 1000
    assert coil.wire_length_m == pytest.approx(by_hand_m, rel=1e-6)
    # A third of 4 % of stretch; and the bow of two flats of 60 mm, 0.2 of the build high, drawn as a straight line.
    bow_m = 2 * 8 / (3 * 0.060) * 0.4 * 0.2 * (per_width_mm * 6.5) ** 2 * 6500 / 3
    stretched = (by_hand_m + bow_m) * 1.04 ** (1 / 3)
    assert coil.resistance_ohm_20c.nominal == pytest.approx(stretched * 1659.4 / 304.8, rel=1e-6)
    assert coil.turns_per_layer == pytest.approx(10 / (1.05 * 0.07112))
