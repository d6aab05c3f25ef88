"""The coil that a recipe and its readings give: bands as known, turns planned anew, long where asked."""

from __future__ import annotations

import dataclasses
import math

import pytest
from coil_makers import recipe, recipes
from hypothesis import given, settings
from hypothesis import strategies as st

from winder.coil.knowledge import bands, prior, resistance_band, turns_for, turns_to_wind_long
from winder.coil.known import coil_as_known, coil_of, figure_known, knowledge_of, with_readings
from winder.coil.sheet import figure_sheet, sheet_facts
from winder.coil.winding import (
    figure_coil,
    resistance_at,
    resistance_curve,
    turns_for_resistance,
)
from winder.errors import UserMistake, WinderError
from winder.recipe.model import BuildTarget, ResistanceTarget, RoundCore, Spool, Surroundings
from winder.recipe.observations import BuildCaliper, EarlierCoil, OhmReading, SpoolTail

SMALL = {"core": RoundCore(0.006), "width_m": 0.008, "target": ResistanceTarget(500.0)}
PLAIN = figure_coil(recipe(**SMALL))
# A spool 3 % above its table.
TRUE_OHM_PER_M = 1.03 * PLAIN.wire.ohm_per_m.nominal
TAIL = SpoolTail(20.0, 20.0 * TRUE_OHM_PER_M)


def known(*readings, **changes):
    return coil_of(recipe(**(SMALL | {"readings": readings} | changes)))


def test_without_readings_the_coil_is_that_of_tables_and_practice():
    assert coil_of(recipe(**SMALL)) == PLAIN
    assert PLAIN.knowledge is None and not PLAIN.wind_long


@settings(max_examples=40)
@given(recipes(), st.floats(1.0, 3.0))
def test_nothing_learnt_plans_the_turns_that_the_tables_plan(some_recipe, factor):
    """Two ways to the same turns: closed form and posterior."""
    ohm = figure_coil(some_recipe).resistance_ohm_20c.nominal * factor
    coil = figure_coil(dataclasses.replace(some_recipe, target=ResistanceTarget(ohm)))
    as_known = coil_as_known(coil, prior(coil.wound))
    assert as_known.turns == coil.turns
    assert as_known.wire.ohm_per_m.nominal == pytest.approx(coil.wire.ohm_per_m.nominal)
    assert as_known.area_per_turn_m2.high == pytest.approx(coil.area_per_turn_m2.high)
    assert as_known.build_m == pytest.approx(coil.build_m)


def test_a_tail_narrows_the_wire_and_plans_fewer_turns():
    coil = known(TAIL)
    ohm_per_m = coil.wire.ohm_per_m
    assert ohm_per_m.low < TRUE_OHM_PER_M < ohm_per_m.high
    assert ohm_per_m.high / ohm_per_m.low < 1.035  # gain, digits, leads, length and two kelvin
    assert coil.turns < PLAIN.turns
    assert coil.resistance_ohm_20c.nominal == pytest.approx(500.0, rel=1e-3)
    assert coil.area_per_turn_m2.high == pytest.approx(PLAIN.area_per_turn_m2.high, rel=1e-6)
    assert coil.wire.source.endswith("as measured")


def test_every_figure_of_the_ohms_is_the_posterior_and_not_two_bands():
    """An earlier coil ties wire and packing: joined as if they were independent, the band is far too wide."""
    coil = known(EarlierCoil(3000.0, 1.02 * resistance_at(PLAIN, 3000).nominal))
    knowledge = coil.knowledge
    assert (coil.wire.ohm_per_m, coil.area_per_turn_m2) == bands(knowledge)
    assert coil.resistance_ohm_20c == resistance_band(knowledge, coil.turns)
    assert resistance_at(coil, coil.turns) == coil.resistance_ohm_20c
    assert resistance_curve(coil)(700.5)[1] == resistance_band(knowledge, 700.5).low
    assert resistance_curve(coil)(0) == (0.0, 0.0, 0.0)
    assert turns_for_resistance(coil, 300.0) == turns_for(knowledge, 300.0)
    apart = figure_coil(coil.recipe)
    apart = dataclasses.replace(
        apart, wire=coil.wire, area_per_turn_m2=coil.area_per_turn_m2, knowledge=None
    )

    def width(band):
        return math.log(band.high / band.low)

    assert width(coil.resistance_ohm_20c) < 0.8 * width(resistance_at(apart, coil.turns))


@pytest.mark.parametrize("factor", [0.9, 1.1])
def test_another_target_is_planned_anew_by_the_packing_that_is_known(factor):
    """As many turns less as each takes more room, as far as the caliper outweighs practice.

    Height: 3 % for the place, a wire of some twelve for the crest, 0.05 mm for the jaws, 3 % for what
    drift makes of half a coil: 8 % in all against 15 %.
    """
    target = BuildTarget(0.002)
    plain = figure_coil(recipe(**SMALL | {"target": target}))
    crest_m = plain.wire.overall_m  # a caliper rests on the highest wires
    at = 0.5 * plain.turns
    height_m = factor * at * plain.area_per_turn_m2.nominal / plain.width_m
    coil = with_readings(plain, [BuildCaliper(at, height_m + crest_m)])
    share = (coil.turns / plain.turns - 1) / (1 / factor - 1)
    assert 0.6 < share < 0.95
    assert coil.build_m <= 0.002 < coil.build_m * (1 + 1 / coil.turns)


def test_readings_are_learnt_once_wherever_they_are_given():
    in_recipe = known(TAIL)
    added = with_readings(figure_coil(recipe(**SMALL)), [TAIL])
    assert added.recipe == in_recipe.recipe
    assert added.turns == in_recipe.turns
    assert added.resistance_ohm_20c == in_recipe.resistance_ohm_20c
    assert knowledge_of(in_recipe) is in_recipe.knowledge
    assert knowledge_of(in_recipe).observations == (TAIL,)
    again = coil_as_known(in_recipe, knowledge_of(in_recipe))
    assert again == in_recipe
    reading = OhmReading(800.0, 1.03 * resistance_at(PLAIN, 800).nominal)
    both = knowledge_of(in_recipe, [reading])
    assert both.observations == (TAIL, reading)
    assert both.numbers == known(TAIL, reading).knowledge.numbers


def test_a_reading_given_twice_is_refused():
    for coil, readings in ((known(TAIL), [TAIL]), (PLAIN, [TAIL, TAIL])):
        with pytest.raises(UserMistake, match="given twice") as caught:
            with_readings(coil, readings)
        assert caught.value.remedy
    assert with_readings(PLAIN, []) is PLAIN


@pytest.mark.parametrize(
    ("reading", "says", "remedy"),
    [
        (SpoolTail(8.0, 43.0e3), "kohm", "likely causes in order"),
        (EarlierCoil(3000.0, 4.0), "earlier coil at 3000 turns", "measure again"),
        (EarlierCoil(3000.0, build_m=0.05), " mm to ", "measure again"),
        (BuildCaliper(2000.0, 0.05), "build at 2000 turns", "measure again"),
    ],
)
def test_a_reading_that_cannot_be_stops_everything_in_plain_words(reading, says, remedy):
    for where, act in (
        ("known.readings", lambda: known(reading)),
        ("known", lambda: with_readings(PLAIN, [reading])),
        ("known", lambda: knowledge_of(PLAIN, [reading])),
        ("known", lambda: figure_known(PLAIN, [reading])),
    ):
        with pytest.raises(WinderError) as caught:
            act()
        assert type(caught.value) is WinderError
        assert caught.value.where == where
        assert says in caught.value.what and remedy in caught.value.remedy


def test_a_long_coil_has_enough_even_at_the_high_end():
    target = ResistanceTarget(500.0, wind_long=True)
    coil = coil_of(recipe(**SMALL | {"target": target}))
    assert coil.wind_long
    assert coil.turns == pytest.approx(turns_to_wind_long(prior(PLAIN.wound), 500.0), abs=1)
    assert coil.turns > PLAIN.turns
    # 95 % limits: whatever lies within them, the coil has its ohms
    assert coil.resistance_ohm_20c.low >= 500.0
    assert resistance_at(coil, coil.turns - 1).low < 500.0
    tailed = known(TAIL, target=target)
    assert known(TAIL).turns < tailed.turns < coil.turns, "less doubt, less to spare"
    assert tailed.resistance_ohm_20c.low >= 500.0
    assert coil_as_known(tailed, tailed.knowledge).turns == tailed.turns, "never long twice"


def test_the_sheet_tells_both_the_expected_turns_and_the_long_ones():
    long = known(TAIL, target=ResistanceTarget(500.0, wind_long=True))
    sheet = figure_sheet(long)
    facts = sheet_facts(sheet)
    expected = facts["turns_for_target"]
    assert facts["wind_long"] is True
    assert facts["turns"] == long.turns == pytest.approx(math.ceil(expected["high"]), abs=1)
    assert expected["low"] < known(TAIL).turns < expected["high"]
    assert any("measure it and take turns off" in remark for remark in facts["remarks"])
    plain = sheet_facts(figure_sheet(known(TAIL)))
    assert plain["wind_long"] is False
    # The other is planned for other turns, where the packing's drift has no say.
    assert plain["turns_for_target"]["nominal"] == pytest.approx(expected["nominal"])
    assert plain["turns_for_target"]["high"] == pytest.approx(expected["high"], rel=1e-4)
    assert plain["turns"] == round(expected["nominal"])
    assert sheet_facts(figure_sheet(figure_coil(recipe())))["turns_for_target"] is None


@settings(max_examples=25)
@given(recipes(), st.floats(0.97, 1.03), st.booleans())
def test_every_band_of_a_known_coil_is_ordered_around_its_value(some_recipe, off, wind_long):
    plain = figure_coil(some_recipe)
    per_m = plain.wire.ohm_per_m.nominal
    coil = coil_of(
        dataclasses.replace(
            some_recipe,
            target=ResistanceTarget(plain.resistance_ohm_20c.nominal, wind_long),
            readings=(SpoolTail(8.0, 8.0 * per_m * off),),
            spool=Spool(length_m=4000.0),
            surroundings=Surroundings(cable_f=500e-12),
        )
    )
    facts = sheet_facts(figure_sheet(coil))
    told = {name: value for name, value in facts.items() if isinstance(value, dict)}
    assert len(told) >= 18
    for name, band in told.items():
        assert list(band) == ["nominal", "low", "high"]
        assert band["low"] <= band["nominal"] <= band["high"], name


def test_measured_ohms_say_nothing_of_the_mass_of_a_metre():
    """3 % more ohms may be thinner copper or worse copper: mass keeps the doubt of the tables."""
    plain, tailed = (figure_sheet(coil) for coil in (PLAIN, known(TAIL)))
    per_m = [sheet.copper_kg.nominal / sheet.wire_length_m.nominal for sheet in (plain, tailed)]
    assert per_m[0] == pytest.approx(per_m[1])
    assert tailed.copper_kg.high / tailed.copper_kg.low > 1.05


def test_what_is_told_of_the_readings_agrees_with_the_coil():
    coil = known(TAIL)
    told = figure_known(coil, coil.recipe.readings)
    assert told.ohm == coil.resistance_ohm_20c
    assert told.ohm_per_m == coil.wire.ohm_per_m
    assert told.ohm_before == resistance_band(prior(PLAIN.wound), coil.turns)
    assert told.wind_long_turns == pytest.approx(
        known(TAIL, target=ResistanceTarget(500.0, True)).turns, abs=1
    )
