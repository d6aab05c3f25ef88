"""Every target and its inverse; tape, leads, measured cores and measured wire."""

from __future__ import annotations

import dataclasses
import math

import pytest
from coil_makers import cores, recipe, recipes, usual_rise
from hypothesis import given, settings
from hypothesis import strategies as st

from winder.coil.core import core_area_m2, core_outline, core_perimeter_m
from winder.coil.sheet import inductance_band
from winder.coil.winding import (
    complaints,
    figure_coil,
    remarks,
    resistance_at,
    resistance_curve,
    room_m,
    turns_for_resistance,
    turns_that_fit,
)
from winder.coil.wire import awg_diameter_m, solid_ohm_per_m, wire_facts
from winder.errors import UserMistake
from winder.recipe.model import (
    AwgWire,
    BuildTarget,
    CustomCore,
    InductanceTarget,
    MeasuredWire,
    MetricWire,
    ObroundCore,
    ResistanceTarget,
    RoundCore,
    RoundedRectangleCore,
    TurnsTarget,
    WireTarget,
)

DEEP = {"width_m": 0.03, "height_m": 0.05}


@given(recipes(), st.integers(1, 20_000))
def test_a_build_asked_for_is_filled_and_not_passed(some_recipe, turns):
    build_m = figure_coil(dataclasses.replace(some_recipe, target=TurnsTarget(turns))).build_m
    assert figure_coil(dataclasses.replace(some_recipe, target=BuildTarget(build_m))).turns == turns
    less = figure_coil(dataclasses.replace(some_recipe, target=BuildTarget(build_m * 1.9)))
    assert less.build_m <= build_m * 1.9 * (1 + 1e-9)


@given(recipes(), st.integers(1, 20_000), st.floats(0, 2))
def test_wire_asked_for_is_used_and_not_exceeded(some_recipe, turns, leads_m):
    some_recipe = dataclasses.replace(some_recipe, leads_m=leads_m)
    wound = figure_coil(dataclasses.replace(some_recipe, target=TurnsTarget(turns)))
    again = dataclasses.replace(some_recipe, target=WireTarget(wound.wire_length_m * (1 + 1e-12)))
    assert figure_coil(again).turns == turns
    short = dataclasses.replace(some_recipe, target=WireTarget(wound.wire_length_m * 0.999))
    try:
        fewer = figure_coil(short)
    except UserMistake as trouble:
        assert turns == 1 and "less than one turn" in trouble.what
    else:
        assert fewer.wire_length_m <= wound.wire_length_m * 0.999 * (1 + 1e-9)


@settings(max_examples=25)
@given(st.integers(20, 20_000), st.floats(0.003, 0.03))
def test_inductance_asked_for_gives_the_turns_back(turns, diameter_m):
    plain = recipe(core=RoundCore(diameter_m), target=TurnsTarget(turns), **DEEP)
    henry = inductance_band(figure_coil(plain)).nominal
    back = figure_coil(dataclasses.replace(plain, target=InductanceTarget(henry)))
    assert back.turns == turns


def test_inductance_asked_for_on_a_long_core_is_met_by_the_nearest_turn():
    coil = figure_coil(recipe(target=InductanceTarget(2.5), **DEEP))
    miss = abs(inductance_band(coil).nominal - 2.5)
    for other in (coil.turns - 1, coil.turns + 1):
        near = figure_coil(recipe(target=TurnsTarget(other), **DEEP))
        assert miss <= abs(inductance_band(near).nominal - 2.5)


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (BuildTarget(1e-9), "less than one turn"),
        (WireTarget(0.05), "less than one turn"),
        (InductanceTarget(1e-10), "less than half of what one turn has"),
        (InductanceTarget(1e9), "more than anyone winds"),
        (WireTarget(1e9), "more than anyone winds"),
    ],
)
def test_targets_that_make_no_coil_are_refused(target, words):
    with pytest.raises(UserMistake, match=words) as caught:
        figure_coil(recipe(target=target))
    assert caught.value.where.startswith("target")


def test_tape_under_the_wire_swells_the_core_as_steiner_says():
    taped = figure_coil(recipe(tape_under_m=0.0005))
    core = recipe().core
    perimeter_m, area_m2 = core_perimeter_m(core), core_area_m2(core)
    assert taped.core_perimeter_m == pytest.approx(perimeter_m + 2 * math.pi * 0.0005)
    assert taped.core_area_m2 == pytest.approx(area_m2 + perimeter_m * 0.0005 + math.pi * 0.0005**2)
    assert taped.resistance_ohm_20c.nominal > figure_coil(recipe()).resistance_ohm_20c.nominal


def test_tape_takes_from_the_room_below_the_flanges():
    coil = figure_coil(recipe())
    height_m = (
        coil.build_m * 1.6
    )  # a band above the nominal, and the flats by as much as they bulge
    bare = figure_coil(recipe(height_m=height_m))
    taped = figure_coil(recipe(height_m=height_m, tape_over_m=coil.build_m * 0.9))
    assert bare.fits and not taped.fits
    assert room_m(taped.recipe) == pytest.approx(coil.build_m * 0.7)
    assert turns_that_fit(taped) < turns_that_fit(bare)
    (complaint,) = complaints(taped)
    assert "of tape" in complaint.what
    tight = figure_coil(recipe(height_m=height_m, tape_over_m=coil.build_m * 0.3))
    (remark,) = remarks(tight)
    assert "of tape" in remark


def test_leads_add_their_length_and_their_ohms():
    plain, led = figure_coil(recipe()), figure_coil(recipe(leads_m=2.0))
    assert led.wire_length_m == pytest.approx(plain.wire_length_m + 2)
    per_m = plain.wire.ohm_per_m.nominal * usual_rise(plain)
    more = led.resistance_ohm_20c.nominal - plain.resistance_ohm_20c.nominal
    assert more == pytest.approx(2 * per_m)
    assert resistance_curve(led)(0)[0] == pytest.approx(2 * per_m)


@given(st.floats(0, 3), st.floats(1, 10_000))
def test_turns_to_resistance_and_back_with_leads(leads_m, turns):
    coil = figure_coil(recipe(leads_m=leads_m))
    ohm = resistance_at(coil, turns)
    assert ohm.low < ohm.nominal < ohm.high
    back = turns_for_resistance(coil, ohm.nominal)
    assert back.nominal == pytest.approx(turns, rel=1e-9)
    assert back.low < turns < back.high


def test_leads_alone_with_more_ohms_than_asked_make_no_coil():
    with pytest.raises(UserMistake, match="besides the leads"):
        figure_coil(recipe(leads_m=50.0, target=ResistanceTarget(200.0)))


@given(cores())
def test_a_core_known_by_strip_and_area_winds_like_the_core_itself(core):
    measured = CustomCore(core_perimeter_m(core), core_area_m2(core))
    assert core_perimeter_m(measured) == core_perimeter_m(core)
    stand_in = core_outline(measured)
    assert stand_in.perimeter_m == pytest.approx(core_perimeter_m(core), rel=1e-6)
    enclosed = stand_in.radius_m * (2 * stand_in.straight_m + math.pi * stand_in.radius_m)
    assert enclosed == pytest.approx(core_area_m2(core), rel=1e-6)


@given(cores())
def test_the_outline_has_the_cores_perimeter(core):
    assert core_outline(core).perimeter_m == pytest.approx(core_perimeter_m(core), rel=1e-9)


def test_a_measured_round_core_may_seem_a_little_too_full_and_no_more():
    perimeter_m = 0.04
    circle_m2 = perimeter_m**2 / (4 * math.pi)
    outline = core_outline(CustomCore(perimeter_m, circle_m2 * 1.01))
    assert outline.straight_m == pytest.approx(0) and outline.radius_m > 0
    with pytest.raises(UserMistake, match="measure both again"):
        core_outline(CustomCore(perimeter_m, circle_m2 * 1.05))


def test_a_gauge_by_definition_has_the_physics_tables_resistance():
    """AWG 40: 1049 ohm per 1000 ft (HyperPhysics) against 1079 by the rounded table."""
    table, defined = (
        wire_facts(AwgWire(40, "single")),
        wire_facts(AwgWire(40, "single", "definition")),
    )
    assert defined.ohm_per_m.nominal * 304.8 == pytest.approx(1049, rel=1e-3)
    assert defined.bare_m == awg_diameter_m(40)
    film = table.overall_m - table.bare_m
    assert defined.overall_m - defined.bare_m == pytest.approx(film)
    assert "definition" in defined.label and "not rounded" in defined.source
    assert defined.ohm_per_m.high / defined.ohm_per_m.nominal == pytest.approx(
        table.ohm_per_m.high / table.ohm_per_m.nominal
    )


def test_a_makers_ohms_per_metre_replace_the_nominal_and_keep_the_ratios():
    table = wire_facts(MetricWire(0.05e-3, 1)).ohm_per_m
    facts = wire_facts(MetricWire(0.05e-3, 1, 8.5))
    assert facts.ohm_per_m.nominal == 8.5
    assert facts.ohm_per_m.low / 8.5 == pytest.approx(table.low / table.nominal)
    assert "maker" in facts.source
    with pytest.raises(UserMistake, match="cannot be copper"):
        wire_facts(MetricWire(0.05e-3, 1, 0.85))


def test_measured_wire_is_copper_of_its_diameter_within_the_micrometers_doubt():
    facts = wire_facts(MeasuredWire(0.064e-3, 0.071e-3))
    band = facts.ohm_per_m
    assert band.nominal == pytest.approx(solid_ohm_per_m(0.064e-3))
    assert (
        band.low < solid_ohm_per_m(0.065e-3) < band.nominal < solid_ohm_per_m(0.063e-3) < band.high
    )
    assert (facts.overall_m, facts.bare_m) == (0.071e-3, 0.064e-3)
    with pytest.raises(UserMistake, match="measure both again"):
        wire_facts(MeasuredWire(0.07e-3, 0.06e-3))


@pytest.mark.parametrize(
    "core",
    [RoundCore(0.01), ObroundCore(0.02, 0.01), RoundedRectangleCore(0.02, 0.01, 0.001),
     CustomCore(0.05, 0.00015)],
    ids=["round", "obround", "rectangle", "custom"],
)  # fmt: skip
def test_every_shape_takes_every_target(core):
    for target in (TurnsTarget(500), ResistanceTarget(150.0), BuildTarget(0.001), WireTarget(30.0),
                   InductanceTarget(0.003)):  # fmt: skip
        coil = figure_coil(recipe(core=core, target=target))
        assert 100 < coil.turns < 5000
