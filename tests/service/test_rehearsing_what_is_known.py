"""Rehearsals of a recipe with readings, and of one that is wound long: the simulated wire is the judge."""

from __future__ import annotations

import dataclasses
import math
import statistics

import pytest
from workshop_recipes import short_recipe

from winder.coil.known import coil_of, with_readings
from winder.laboratory.campaign import run_campaign
from winder.machine.model import SIMULATED_BENCH
from winder.recipe.model import ResistanceTarget, RoundCore
from winder.recipe.observations import BuildCaliper, EarlierCoil, SpoolTail
from winder.service.bodies import PACKING, bobbin_build, simulated_machine, spread_of
from winder.service.observing import read_asks, rehearse_observed
from winder.service.rehearsal import rehearse, report_of

TARGET_OHM = 150.0


def small_coil(*readings, wind_long=False):
    """A small core, so that packing matters as much as the wire; invented."""
    recipe = dataclasses.replace(
        short_recipe(turns=400).recipe,
        core=RoundCore(0.004),
        width_m=0.003,
        target=ResistanceTarget(TARGET_OHM, wind_long),
        readings=readings,
    )
    return coil_of(recipe)


PLAIN = small_coil()
TAIL = SpoolTail(20.0, 20.0 * 1.04 * PLAIN.wire.ohm_per_m.nominal)
EARLIER = EarlierCoil(float(PLAIN.turns), 1.03 * TARGET_OHM)


def test_without_readings_spools_are_drawn_as_ever():
    """As wide as conforming wire may be: the table's own limits."""
    table = PLAIN.wire.ohm_per_m
    assert spread_of(PLAIN).packing == PACKING
    assert spread_of(PLAIN).ohm_factors == (table.low / table.nominal, table.high / table.nominal)
    assert spread_of(small_coil(wind_long=True)) == spread_of(PLAIN)


def test_the_simulated_spool_is_one_that_shows_the_reading():
    """The readings are of this spool: a rehearsal with another would contradict them for nothing."""
    coil = small_coil(TAIL)
    drawn = [bobbin_build(SIMULATED_BENCH, coil, seed).ohm_per_m for seed in range(300)]
    band = coil.wire.ohm_per_m
    inside = sum(band.low < ohm < band.high for ohm in drawn)
    assert 270 <= inside <= 297, "95 % limits; fewer or more are chance less than 1 time in 1000"
    assert statistics.mean(drawn) == pytest.approx(TAIL.ohm / 20.0, rel=4e-3)


def test_a_caliper_moves_the_packing_that_is_drawn():
    at = 0.5 * PLAIN.turns
    flat_m = at * PLAIN.area_per_turn_m2.nominal / PLAIN.width_m + PLAIN.wire.overall_m
    packings = [
        spread_of(with_readings(PLAIN, [BuildCaliper(at, flat_m * factor)])).packing
        for factor in (0.9, 1.1)
    ]
    assert packings[0] > PACKING > packings[1]


def test_what_an_earlier_coil_ties_together_is_drawn_together():
    """It told of ohms times length: where the ohms are high the wind is dense, and the coil's ohms hold."""
    coil = small_coil(EARLIER)
    drawn = [bobbin_build(SIMULATED_BENCH, coil, seed) for seed in range(300)]
    ohms = [math.log(build.ohm_per_m) for build in drawn]
    packings = [math.log(build.packing) for build in drawn]
    assert statistics.correlation(ohms, packings) > 0.15
    assert spread_of(small_coil(TAIL)).packing_by_ohm == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("readings", [(EARLIER,), (TAIL, EARLIER)], ids=["earlier", "both"])
def test_rehearsals_land_in_the_narrowed_band(readings):
    """40 coils; a true 95 % band leaves eight or more outside less than 1 time in 1000 (binomial)."""
    coil = small_coil(*readings)
    campaign = run_campaign(coil.recipe, runs=40, seed=900)
    assert campaign["summary"]["complete"] == 40
    bands = [run["resistance_ohm_20c"] for run in campaign["runs"]]
    assert sum(band["low"] <= band["wound"] <= band["high"] for band in bands) > 32
    before = PLAIN.resistance_ohm_20c
    for band in bands:
        assert band["high"] / band["low"] < (before.high / before.low) ** 0.8
        assert band["expected"] == pytest.approx(TARGET_OHM, rel=2e-3)


def test_observing_goes_on_from_what_the_recipe_knows():
    coil = small_coil(TAIL)
    run = rehearse_observed(coil, SIMULATED_BENCH, 5, read_asks("tail,ohm@50%", coil))[1]
    seen = run["observed"]
    assert all(one["learnt"] for one in seen["observations"])
    assert seen["band_before_ohm_20c"]["nominal"] == pytest.approx(
        coil.resistance_ohm_20c.nominal * seen["turns"] / coil.turns, rel=0.05
    )
    again = seen["observations"][0]
    warmer = 1 + 0.00393 * (again["temperature_c"] - TAIL.temperature_c)  # IEC 60028
    first = again["expected"]
    tail_ohm = TAIL.ohm / TAIL.length_m * again["length_m"] * warmer
    assert first["low"] < tail_ohm < first["high"]
    assert first["high"] / first["low"] < 1.05, "the recipe's own tail is known already"


def test_a_recipe_wound_long_is_wound_so_and_says_so():
    coil = small_coil(wind_long=True)
    report = report_of(rehearse(coil, SIMULATED_BENCH, 3))
    assert report["state"] == "complete"
    assert report["measure_at_end"] is True
    assert report["target_turns"] == coil.turns > PLAIN.turns
    assert int(report["final_turns"]) == coil.turns
    assert report_of(rehearse(PLAIN, SIMULATED_BENCH, 3))["measure_at_end"] is False


@pytest.mark.parametrize("asks", ["finish", "ohm@50%,finish", "ohm@50%", "tail"])
def test_what_is_wound_long_is_taken_off_once(asks):
    """Long by the recipe, by the wish to finish, or by both: the same turns come on and off."""
    long = small_coil(wind_long=True)
    report = rehearse_observed(long, SIMULATED_BENCH, 4, read_asks(asks, long))[1]
    run = report["observed"]
    assert report["state"] == "complete"
    assert run["turns_taken_off"] > 0
    assert run["turns"] == report["target_turns"]
    # A spool of fewer ohms than its table takes more turns, at most in proportion; no other asks for more.
    tail = run["observations"][0]
    poorer = max(tail["expected"]["nominal"] / tail["ohm"], 1.0) if asks == "tail" else 1.0
    assert run["turns_planned"][0] <= long.turns * poorer
    assert run["observations"][-1]["turns"] == report["target_turns"] + run["turns_taken_off"]
    # meter and thermometer: 0.5 % and 1 K (0.39 %) at 95 %, 0.3 ohm of 150
    assert run["wound_ohm_20c"] == pytest.approx(TARGET_OHM, rel=0.012)
    if asks == "finish":
        by_wish = rehearse_observed(PLAIN, SIMULATED_BENCH, 4, read_asks(asks, PLAIN))[1]
        assert by_wish["observed"]["turns_planned"] == run["turns_planned"] == [long.turns]
        assert by_wish["observed"]["turns_taken_off"] == run["turns_taken_off"]


def test_the_body_is_built_for_the_coil_as_known():
    coil = small_coil(TAIL)
    body = simulated_machine(SIMULATED_BENCH, coil, 1)
    assert body.build == bobbin_build(SIMULATED_BENCH, coil, 1)
    assert body.build.ohm_per_m > 1.02 * PLAIN.wire.ohm_per_m.nominal
