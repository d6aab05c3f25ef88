"""Winding a little long and taking off: exact by the inverse, never in proportion."""

from __future__ import annotations

import dataclasses
import math

import pytest
from coil_makers import recipe, recipes
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.drift import DriftingWinding
from winder.coil.knowledge import (
    learn,
    prior,
    resistance_band,
    take_off,
    turns_for,
    turns_to_wind_long,
)
from winder.coil.steiner import turns_of_length, wound_length_m
from winder.coil.winding import figure_coil
from winder.errors import UserMistake
from winder.machine.instruments import Instruments
from winder.recipe.model import RoundCore, TurnsTarget
from winder.recipe.observations import BuildCaliper

NULLED = Instruments(leads_ohm=0.0)  # a meter that deducts its leads

COLD_MIN = 10_000.0  # rested so long that nothing is warm any more


def ohm_of(coil, area_m2, ohm_per_m, turns):
    """Steiner's length times ohms per metre, written out."""
    wound_m = coil.core_perimeter_m * turns + math.pi * area_m2 / coil.width_m * turns**2
    return ohm_per_m * (wound_m + coil.recipe.leads_m)


@given(recipes(), st.floats(0.5, 2.0), st.floats(0.01, 0.5))
def test_with_known_packing_it_is_exact_whatever_the_wire(some_recipe, wire, share):
    """The wire's ohms per metre do not matter: the reading itself tells them."""
    coil = figure_coil(some_recipe)
    area_m2, ohm_per_m = coil.area_per_turn_m2.nominal, coil.wire.ohm_per_m.nominal * wire
    wanted = coil.turns * (1 - share)
    off = take_off(
        prior(coil.wound, NULLED),
        ohm_of(coil, area_m2, ohm_per_m, coil.turns),
        ohm_of(coil, area_m2, ohm_per_m, wanted),
        rested_min=COLD_MIN,
    )
    assert off.turns == pytest.approx(coil.turns - wanted, rel=1e-7, abs=1e-7)
    assert off.low <= off.turns <= off.high
    assert off.whole == round(off.turns)


def test_in_proportion_one_would_take_a_quarter_too_many():
    """ "Proportional removal takes 25-29 % too many on a 6 mm core" (computed independently).

    6500 turns on a bobbin whose outer turn is that much longer than the mean one.
    """
    coil = figure_coil(recipe(core=RoundCore(0.006), width_m=0.016, target=TurnsTarget(6500)))
    measured, target = 1000.0, 995.0
    off = take_off(prior(coil.wound, NULLED), measured, target, rested_min=COLD_MIN)
    in_proportion = coil.turns * (1 - target / measured)
    assert 1.2 < in_proportion / off.turns < 1.4


def test_a_kelvin_is_worth_twenty_to_thirty_turns():
    """ "1 K is 20-29 turns of a 6500-turn coil" (computed independently)."""
    coil = figure_coil(recipe(core=RoundCore(0.010), width_m=0.016, target=TurnsTarget(6500)))
    cold = take_off(prior(coil.wound, NULLED), 1000.0, 950.0, rested_min=COLD_MIN)
    warm = take_off(
        prior(coil.wound, NULLED), 1000.0, 950.0, temperature_c=21.0, rested_min=COLD_MIN
    )
    assert 19 < cold.turns - warm.turns < 29
    assert (
        cold.meter_turns > cold.turns - warm.turns
    )  # the meter's own doubt holds a kelvin and more


def test_nothing_too_much_takes_nothing_off_and_too_little_is_told_as_missing():
    coil = figure_coil(recipe())
    assert take_off(
        prior(coil.wound, NULLED), 500.0, 500.0, rested_min=COLD_MIN
    ).turns == pytest.approx(0.0, abs=1e-7)
    assert take_off(prior(coil.wound, NULLED), 500.0, 510.0, rested_min=COLD_MIN).turns < 0


@pytest.mark.parametrize("measured", [0.0, -5.0, math.inf, math.nan])
def test_a_reading_that_is_none_is_refused(measured):
    coil = figure_coil(recipe())
    with pytest.raises(UserMistake, match="ohm measured"):
        take_off(prior(coil.wound, NULLED), measured, 500.0, rested_min=COLD_MIN)


def test_a_caliper_makes_the_taking_off_surer():
    coil = figure_coil(recipe(core=RoundCore(0.006), width_m=0.016))
    begun = prior(coil.wound, NULLED)
    measured = dataclasses.replace(BuildCaliper(coil.turns), build_m=coil.build_m)
    later = learn(begun, measured)
    wide, narrow = (take_off(k, 1000.0, 900.0, rested_min=COLD_MIN) for k in (begun, later))
    assert narrow.high - narrow.low < wide.high - wide.low


@given(recipes(), st.floats(0.3, 1.2))
def test_winding_long_is_long_enough_at_the_high_end(some_recipe, share):
    coil = figure_coil(some_recipe)
    knowledge = prior(coil.wound, NULLED)
    ohm = resistance_band(knowledge, coil.turns * share).nominal
    turns = turns_to_wind_long(knowledge, ohm)
    assert turns >= turns_for(knowledge, ohm).nominal
    assert resistance_band(knowledge, turns).low >= ohm * (1 - 1e-9)


windings = st.builds(
    DriftingWinding,
    st.floats(0.005, 0.2),
    st.floats(0.002, 0.05),
    st.floats(10, 20_000),
    st.floats(0, 1),
)
areas_m2 = st.floats(1e-10, 1e-7)
drifts = st.floats(-0.5, 0.5)


@given(windings, areas_m2, drifts, st.floats(0.01, 3.0))
def test_length_and_turns_are_inverse_with_drift(winding, area_m2, drift, share):
    turns = winding.turns * share
    length_m = winding.length_m(turns, area_m2, drift)
    assert winding.turns_of(length_m, area_m2, drift) == pytest.approx(turns, rel=1e-6)


@given(windings, areas_m2, st.floats(0.01, 3.0))
def test_without_drift_it_is_the_plain_winding(winding, area_m2, share):
    turns, per_width_m = winding.turns * share, area_m2 / winding.width_m
    plain_m = wound_length_m(winding.perimeter_m, per_width_m, turns)
    assert winding.length_m(turns, area_m2, 0.0) == pytest.approx(plain_m + winding.leads_m)
    assert turns_of_length(winding.perimeter_m, per_width_m, plain_m) == pytest.approx(turns)


@given(windings, areas_m2, drifts)
def test_a_drift_does_not_change_the_finished_length(winding, area_m2, drift):
    even_m = winding.length_m(winding.turns, area_m2, 0.0)
    assert winding.length_m(winding.turns, area_m2, drift) == pytest.approx(even_m)


@pytest.mark.parametrize("share", [0.3, 1.0, 1.7])
def test_lengths_with_drift_are_the_sum_of_their_turns(share):
    """Turn by turn: each turn lies on the height of those below it, with the packing of its depth."""
    winding = DriftingWinding(0.03, 0.01, 2000, 0.0)
    area_m2, drift, turns = 6e-9, 0.3, round(2000 * share)
    height_m = length_m = 0.0
    for turn in range(turns):
        depth = min((turn + 0.5) / 2000, 1.0)
        rise_m = area_m2 * (1 + drift * (depth - 1 / 3)) / 0.01
        length_m += 0.03 + 2 * math.pi * (height_m + rise_m / 2)
        height_m += rise_m
    assert winding.length_m(turns, area_m2, drift) == pytest.approx(length_m, rel=1e-6)
    assert winding.build_m(turns, area_m2, drift) == pytest.approx(height_m, rel=1e-6)
