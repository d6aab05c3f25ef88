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
from winder.coil.capacitance import (
    effective_permittivity,
    nested_f_per_m,
    resonance_hz,
    self_capacitance_f,
    square_f_per_m,
    touch_f_per_m,
)
from winder.coil.core import core_area_m2, core_perimeter_m
from winder.coil.hum import hum_v, turns_area_band
from winder.coil.mass import copper_kg_per_m, mass_of, spool_left, wire_kg_per_m
from winder.coil.narrowing import narrowing_words
from winder.coil.sheet import figure_sheet, sheet_facts
from winder.coil.winding import figure_coil, flats_build_at
from winder.coil.wire import wire_facts
from winder.errors import UserMistake
from winder.machine.model import SIMULATED_BENCH
from winder.machine.tensioner import ARM
from winder.recipe.model import (
    AwgWire,
    CustomCore,
    FullTarget,
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


# Field solution per metre of wire and layer gap (finite differences, periodic, 200 and 400 nodes a pitch agree within 0.4 %;
# enamel of permittivity 3.5), pF: bare and overall mm, nested, square. Worked apart; tests/benchmarks/bench_capacitance.py
# solves the same field.
FIELD_PF = [
    (0.063, 0.071, 157.9, 91.4),
    (0.0635, 0.0711, 163.5, 94.5),
    (0.0635, 0.0737, 136.7, 80.8),
    (0.0635, 0.0762, 119.8, 71.9),
    (0.040, 0.0515, 96.1, 59.5),
]


@pytest.mark.parametrize(("bare_mm", "overall_mm", "nested", "square"), FIELD_PF)
def test_the_series_integral_meets_the_field_for_touching_wires(
    bare_mm, overall_mm, nested, square
):
    wire = (bare_mm / 1000, overall_mm / 1000)
    assert 1e12 * nested_f_per_m(*wire) == pytest.approx(nested, rel=0.015)
    assert 1e12 * square_f_per_m(*wire) == pytest.approx(square, rel=0.015)


@pytest.mark.parametrize(
    ("half_deg", "touches", "told"), [(30, 2, 150.5), (45, 1, 85.2), (90, 1, 96.9)]
)
def test_the_closed_form_is_the_integral(half_deg, touches, told):
    """0.063 in 0.071 mm at the limits of other tables, pF per metre (worked apart)."""
    found = touches * touch_f_per_m(0.063e-3, 0.071e-3, math.radians(half_deg))
    assert 1e12 * found == pytest.approx(told, rel=1e-3)


@pytest.mark.parametrize(
    ("density", "told"), [(0.70, 5.4), (0.815, 6.8), (0.89, 7.9), (0.955, 8.9), (1.155, 15.4)]
)
def test_a_scattered_winding_has_the_permittivity_of_its_density(density, told):
    """Just touching wires with a potential that rises with the height, 0.063 in 0.071 mm (worked apart)."""
    found = effective_permittivity(0.063e-3, 0.071e-3, density)
    assert found == pytest.approx(told, rel=0.03)


@pytest.mark.parametrize(
    ("bare_mm", "overall_mm", "told"),
    [(0.0635, 0.0711, 6.9), (0.0635, 0.0737, 6.2), (0.0635, 0.0762, 5.6), (0.040, 0.0515, 4.8)],
)
def test_other_wires_scale_as_their_nested_cell(bare_mm, overall_mm, told):
    found = effective_permittivity(bare_mm / 1000, overall_mm / 1000, 0.815)
    assert found == pytest.approx(told, rel=0.03)


def test_the_long_coil_has_what_a_field_solution_gives_it():
    """66 x 6 mm, 10 mm wide, 8000 turns of 42 AWG single: 25 to 40 pF by the order of the turns, 80 truly nested."""
    coil = figure_coil(recipe(target=TurnsTarget(8000)))
    band = self_capacitance_f(coil)
    assert 25e-12 < band.nominal < 40e-12
    assert band.low < 25e-12 and 75e-12 < band.high < 100e-12
    filled = figure_coil(recipe(target=TurnsTarget(8000), surroundings=Surroundings(filled=True)))
    assert self_capacitance_f(filled).nominal == pytest.approx(1.2 * band.nominal)
    assert self_capacitance_f(figure_coil(recipe(target=TurnsTarget(100)))) is None


@given(st.floats(2e-5, 1e-3), st.floats(1.02, 1.4), st.floats(1.01, 1.2))
def test_thicker_film_keeps_wires_apart(bare_m, film, more):
    thin, thick = (nested_f_per_m(bare_m, bare_m * each) for each in (film, film * more))
    assert thick < thin
    assert nested_f_per_m(2 * bare_m, 2 * bare_m * film) == pytest.approx(
        thin
    )  # shape alone counts


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
    assert guessed.nominal / guessed.low > known.nominal / known.low
    assert guessed.low < known.nominal < guessed.high


def test_what_does_not_fit_says_by_how_much_and_why():
    coil = figure_coil(recipe())
    sheet = figure_sheet(figure_coil(recipe(height_m=coil.build_m / 2)))
    assert sheet.spare_m.nominal == pytest.approx(
        coil.build_m / 2 - 1.2 * coil.build_m
    )  # the flats
    assert not sheet.coil.fits
    assert any("at most about" in remark for remark in sheet.remarks)


def test_too_fast_a_recipe_is_remarked_on():
    arm = dataclasses.replace(SIMULATED_BENCH, tensioner=ARM)
    wide = recipe(height_m=0.02)
    slow, fast, felt = (
        figure_sheet(figure_coil(dataclasses.replace(wide, speed_rpm=rpm)), machine=machine)
        for rpm, machine in ((100.0, arm), (5000.0, arm), (5000.0, SIMULATED_BENCH))
    )
    assert slow.remarks == felt.remarks == ()
    (remark,) = fast.remarks
    assert remark.startswith("5000 rpm is fast for this wire")


@pytest.mark.parametrize(
    ("cn", "words"),
    [(45, "more than 42 AWG single can take"), (18, "stretches"), (13, ""), (4, "too little")],
)
def test_a_tension_that_is_told_is_judged_at_once(cn, words):
    """The chart's greatest for 42 AWG is 21.8 cN; half to two thirds of it are 10.9 to 14.5 cN."""
    told = figure_sheet(figure_coil(recipe(height_m=0.02, tension_n=cn / 100))).remarks
    assert (words in told[0] and "10.9 cN to 14.5 cN" in told[0]) if words else told == ()


def test_ohms_per_metre_that_this_gauge_cannot_have_are_remarked_on():
    """8.5 ohm/m is what 44 AWG has: 2.0 mil, 1/58 ohm mm2/m."""
    wrong = AwgWire(42, "single", ohm_per_m=8.5)
    told = figure_sheet(figure_coil(recipe(height_m=0.02, wire=wrong))).remarks
    assert "8.5 ohm/m" in told[0] and "44 AWG" in told[0]
    right = AwgWire(42, "single", ohm_per_m=5.5)
    assert figure_sheet(figure_coil(recipe(height_m=0.02, wire=right))).remarks == ()


def test_full_leaves_so_much_below_the_rims_by_the_flats():
    full = figure_coil(recipe(target=FullTarget(0.5e-3)))
    assert flats_build_at(full, full.turns).nominal <= full.recipe.height_m - 0.5e-3
    assert flats_build_at(full, full.turns + 2).nominal > full.recipe.height_m - 0.5e-3
    round_core = figure_coil(recipe(core=RoundCore(0.01), target=FullTarget(0.5e-3)))
    assert round_core.build_m == pytest.approx(0.0075, rel=1e-3)
    with pytest.raises(UserMistake, match="all the height there is"):
        figure_coil(recipe(target=FullTarget(0.008)))


def test_what_a_band_is_wide_from_and_the_reading_that_would_narrow_it():
    said = narrowing_words(figure_coil(recipe()))
    assert "mostly because of the ohms per metre of this spool" in said
    assert "one reading of the coil half-way: +-" in said


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
