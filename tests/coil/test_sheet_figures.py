"""The sheet's figures: against sums done apart, ordered bands, scaling; mass, hum, capacitance."""

from __future__ import annotations

import dataclasses
import json
import math

import numpy
import pytest
from coil_makers import recipe, recipes
from hypothesis import given, settings
from hypothesis import strategies as st

from winder.coil.bands import Band, exact, factors, joined_band
from winder.coil.capacitance import resonance_hz, self_capacitance_f, touch_f_per_m
from winder.coil.core import core_area_m2, core_perimeter_m
from winder.coil.hum import hum_v, turns_area_band
from winder.coil.mass import copper_kg_per_m, mass_of, spool_left, wire_kg_per_m
from winder.coil.sheet import figure_sheet, sheet_facts
from winder.coil.winding import figure_coil
from winder.coil.wire import wire_facts
from winder.recipe.model import (
    AwgWire,
    CustomCore,
    MetricWire,
    ResistanceTarget,
    RoundCore,
    RoundedRectangleCore,
    Spool,
    Surroundings,
    TurnsTarget,
)

# "Bare copper weight, textbook": Lessons In Electric Circuits (T. Kuphaldt), lb per 1000 ft.
WEIGHT_LB_KFT = {30: 0.3042, 31: 0.2413, 32: 0.1913}
BANDED = [
    "build_mm",
    "fill_fraction",
    "wire_length_m",
    "outer_turn_mm",
    "resistance_ohm_20c",
    "resistance_ohm",
    "copper_mass_g",
    "wire_mass_g",
    "inductance_h",
    "cored_inductance_h",
    "turns_area_m2",
    "hum_50hz_uv",
    "hum_60hz_uv",
    "tension_cn",
]


@settings(max_examples=40)
@given(recipes())
def test_every_band_is_ordered_around_its_value(some_recipe):
    facts = sheet_facts(figure_sheet(figure_coil(some_recipe)))
    maybe = [name for name in ("self_capacitance_pf", "resonance_khz") if facts[name]]
    for name in (*BANDED, *maybe):
        band = facts[name]
        assert 0 < band["low"] <= band["nominal"] <= band["high"], name
    spare = facts["spare_mm"]
    assert spare["low"] < spare["nominal"] < spare["high"]
    assert facts["fits"] == (spare["low"] >= 0)
    assert json.loads(json.dumps(facts)) == facts


def test_the_fields_that_other_programs_read_are_there():
    facts = sheet_facts(figure_sheet(figure_coil(recipe())))
    promised = [
        "turns",
        "turns_per_layer",
        "layers",
        "build_mm",
        "fill_fraction",
        "fits",
        "wire_length_m",
        "outer_turn_mm",
        "resistance_ohm_20c",
        "resistance_ohm",
        "copper_mass_g",
        "inductance_h",
        "turns_area_m2",
        "self_capacitance_pf",
        "resonance_khz",
        "speed_limit_rpm",
        "tension_cn",
    ]
    assert set(promised) <= set(facts)
    assert facts["turns"] == 6500


@pytest.mark.parametrize(("gauge", "lb_kft"), WEIGHT_LB_KFT.items())
def test_copper_weighs_what_the_textbook_prints(gauge, lb_kft):
    """By definition diameters, as the textbook's; 1 lb = 0.45359237 kg."""
    per_m = copper_kg_per_m(wire_facts(AwgWire(gauge, "single", "definition")))
    assert per_m.nominal == pytest.approx(lb_kft * 0.45359237 / 304.8, rel=2e-3)


def test_mass_and_resistance_pull_in_opposite_directions():
    wire = wire_facts(MetricWire(0.05e-3, 1))
    mass = copper_kg_per_m(wire)
    assert mass.high / mass.nominal == pytest.approx(wire.ohm_per_m.nominal / wire.ohm_per_m.low)
    assert wire_kg_per_m(wire).nominal > mass.nominal


def test_what_is_left_on_a_spool_known_by_length_or_by_mass_is_the_same():
    wire = wire_facts(AwgWire(42, "single"))
    used = Band(350.0, 340.0, 362.0)
    by_length = spool_left(Spool(length_m=1000.0), used, wire)
    by_mass = spool_left(Spool(mass_kg=1000.0 * wire_kg_per_m(wire).nominal), used, wire)
    assert by_length.length_m == Band(650.0, 638.0, 660.0)
    assert by_mass.length_m.nominal == pytest.approx(650.0)
    assert by_mass.mass_kg.nominal == pytest.approx(by_length.mass_kg.nominal)
    # A mass on a scale says less about metres than a metre counter does.
    assert by_mass.length_m.low < by_length.length_m.low
    for left in (by_length.mass_kg, by_mass.mass_kg, by_mass.length_m):
        assert left.low < left.nominal < left.high
    assert spool_left(Spool(length_m=100.0), used, wire).length_m.high < 0


def test_turns_area_is_the_sum_over_turns():
    coil = figure_coil(recipe(target=TurnsTarget(3000)))
    per_turn_m = coil.area_per_turn_m2.nominal / coil.width_m
    heights = per_turn_m * (numpy.arange(3000) + 0.5)
    areas = coil.core_area_m2 + coil.core_perimeter_m * heights + math.pi * heights**2
    assert turns_area_band(coil).nominal == pytest.approx(areas.sum(), rel=1e-7)


def test_hum_is_faradays_law():
    """A square metre-turn in 1 uT at 50 Hz: 2 pi 50 uV = 314 uV."""
    assert hum_v(1.0, 1e-6, 50.0) == pytest.approx(314.159e-6, rel=1e-5)
    sheet = figure_sheet(figure_coil(recipe(surroundings=Surroundings(field_t=2e-6))))
    fifty, sixty = sheet.hum_v
    assert fifty.nominal == pytest.approx(hum_v(sheet.turns_area_m2.nominal, 2e-6, 50.0))
    assert sixty.nominal == pytest.approx(1.2 * fifty.nominal)


def test_layers_laid_back_and_forth_store_the_energy_of_the_formula():
    """Volt by volt: between layers i and i + 1 the voltage rises from nothing to two layers'."""
    layers, places = 12, 4000
    volts = (numpy.arange(places) + 0.5) / places / layers  # along a layer, whole coil 1 V
    energy = 0.0
    for layer in range(layers - 1):
        here = layer / layers + (volts if layer % 2 == 0 else volts[::-1])
        there = (layer + 1) / layers + (volts if layer % 2 == 1 else volts[::-1])
        energy += ((there - here) ** 2).mean() / 2
    assert 2 * energy == pytest.approx(4 / 3 * (layers - 1) / layers**2, rel=1e-6)


def test_self_capacitance_scales_as_its_parts():
    coil = figure_coil(recipe())
    band = self_capacitance_f(coil)
    mean_turn_m = coil.wire_length_m / coil.turns
    layer_f = (
        2
        * mean_turn_m
        * coil.turns_per_layer
        * touch_f_per_m(coil.wire.bare_m, coil.wire.overall_m)
    )
    assert band.nominal == pytest.approx(4 / 3 * layer_f * (coil.layers - 1) / coil.layers**2)
    assert (band.low, band.high) == pytest.approx((band.nominal / 2, band.nominal * 1.5))
    assert 5e-12 < band.nominal < 500e-12
    assert self_capacitance_f(figure_coil(recipe(target=TurnsTarget(100)))) is None


@given(st.floats(2e-5, 1e-3), st.floats(1.02, 1.4), st.floats(1.01, 1.2))
def test_thicker_film_keeps_wires_apart(bare_m, film, more):
    thin, thick = touch_f_per_m(bare_m, bare_m * film), touch_f_per_m(bare_m, bare_m * film * more)
    assert thick < thin
    assert touch_f_per_m(2 * bare_m, 2 * bare_m * film) == pytest.approx(thin)  # shape alone counts


def test_resonance_of_known_parts():
    """2 H with 400 pF and 100 pF of cable: 1 / (2 pi sqrt(2 x 500e-12)) = 5033 Hz."""
    found = resonance_hz(exact(2.0), exact(400e-12), 100e-12)
    assert found.nominal == pytest.approx(5032.92, rel=1e-5)
    assert found.low == pytest.approx(found.high)
    assert resonance_hz(exact(2.0), None, 0.0) is None
    assert resonance_hz(exact(2.0), None, 500e-12).nominal == pytest.approx(5032.92, rel=1e-5)


def test_with_much_cable_the_doubt_of_the_coils_own_capacitance_hardly_counts():
    """40 % of 60 pF beside 500 pF moves the resonance by 2 to 3 %."""
    own = Band(60e-12, 36e-12, 84e-12)
    found = resonance_hz(exact(2.0), own, 500e-12)
    assert 0.015 < found.high / found.nominal - 1 < 0.03
    assert 0.015 < 1 - found.low / found.nominal < 0.03


def test_a_stated_temperature_moves_the_resistance_only():
    cold, warm = (figure_sheet(figure_coil(recipe(temperature_c=c))) for c in (20.0, 23.0))
    assert cold.resistance_ohm == cold.coil.resistance_ohm_20c
    assert warm.resistance_ohm.nominal / cold.resistance_ohm.nominal == pytest.approx(1.01179)
    assert warm.wire_length_m == cold.wire_length_m


def test_a_resistance_asked_for_warm_is_met_warm():
    asked = recipe(target=ResistanceTarget(3000 / 1.01179), temperature_c=23.0)
    sheet = figure_sheet(figure_coil(asked))
    assert sheet.resistance_ohm.nominal == pytest.approx(3000, abs=0.6)


def test_a_measured_core_factor_is_told_beside_the_air_core():
    plain = figure_sheet(figure_coil(recipe()))
    cored = figure_sheet(figure_coil(recipe(surroundings=Surroundings(core_factor=4.0))))
    assert cored.inductance_h == plain.inductance_h
    assert cored.cored_inductance_h.nominal == pytest.approx(4 * plain.inductance_h.nominal)
    assert cored.resonance_hz.nominal == pytest.approx(plain.resonance_hz.nominal / 2)


def test_inductance_is_claimed_to_two_per_cent_and_its_packing():
    shallow = figure_sheet(figure_coil(recipe(target=TurnsTarget(50)))).inductance_h
    deep_recipe = recipe(core=RoundCore(0.004), target=TurnsTarget(8000), height_m=0.03)
    deep = figure_sheet(figure_coil(deep_recipe)).inductance_h
    assert shallow.high / shallow.nominal == pytest.approx(1.02, abs=2e-3)
    assert deep.high / deep.nominal > 1.03


def test_a_core_known_by_perimeter_and_area_has_a_wider_band_that_holds_the_true_shape():
    square = RoundedRectangleCore(0.02, 0.02, 0.0001)
    measured = CustomCore(core_perimeter_m(square), core_area_m2(square))
    known, guessed = (
        figure_sheet(figure_coil(recipe(core=core))).inductance_h for core in (square, measured)
    )
    assert guessed.high / guessed.nominal > known.high / known.nominal
    assert guessed.low < known.nominal < guessed.high


def test_what_does_not_fit_says_by_how_much_and_why():
    coil = figure_coil(recipe())
    sheet = figure_sheet(figure_coil(recipe(height_m=coil.build_m / 2)))
    assert sheet.spare_m.nominal == pytest.approx(-coil.build_m / 2)
    assert not sheet.coil.fits
    assert any("at most about" in remark for remark in sheet.remarks)


def test_too_fast_a_recipe_is_remarked_on():
    slow = figure_sheet(figure_coil(recipe(speed_rpm=100.0)))
    fast = figure_sheet(figure_coil(recipe(speed_rpm=5000.0)))
    assert slow.remarks == ()
    (remark,) = fast.remarks
    assert "5000 rpm" in remark and "bears" in remark


@given(st.floats(0.1, 1e6), st.floats(1, 2), st.floats(1, 2))
def test_independent_factors_join_as_squares_of_logarithms(nominal, one, other):
    joined = joined_band(nominal, (one, one), (other, other))
    assert math.log(joined.high / nominal) == pytest.approx(
        math.hypot(math.log(one), math.log(other)), abs=1e-12
    )
    assert factors(joined)[0] == pytest.approx(factors(joined)[1])
    assert factors(joined, -2)[1] == pytest.approx(factors(joined)[0] ** 2)


def test_mass_of_a_doubtful_length_of_doubtful_wire():
    mass = mass_of(Band(100.0, 90.0, 110.0), Band(2.0, 1.8, 2.2))
    assert mass.nominal == 200.0
    assert 0.85 < mass.low / 200 < 0.9 < 1.1 < mass.high / 200 < 1.15


def test_everything_twice_as_big_has_four_times_the_turns_area():
    coil = figure_coil(recipe(wire=MetricWire(0.1e-3, 1)))
    bigger = dataclasses.replace(
        coil,
        core_perimeter_m=2 * coil.core_perimeter_m,
        core_area_m2=4 * coil.core_area_m2,
        width_m=2 * coil.width_m,
        area_per_turn_m2=Band(*(4 * a for a in dataclasses.astuple(coil.area_per_turn_m2))),
    )
    assert turns_area_band(bigger).nominal == pytest.approx(4 * turns_area_band(coil).nominal)
