"""Rehearsals in which somebody measures: the judge is the simulated wire, whose physics no model shares."""

from __future__ import annotations

import dataclasses
import json
import math
import statistics

import pytest
from workshop_recipes import short_recipe

from winder.coil.winding import figure_coil
from winder.errors import UserMistake
from winder.laboratory.campaign import run_campaign
from winder.laboratory.coverage import binomial_interval
from winder.machine.model import SIMULATED_BENCH
from winder.recipe.model import ResistanceTarget, RoundCore
from winder.service.observing import Ask, read_asks, rehearse_observed
from winder.simulator.instruments import BenchCaliper
from winder.simulator.meter import BenchOhmmeter, warmth_left

COIL = short_recipe(turns=400)


def small_resistance_coil(ohm=150.0):
    """A small core, so that packing matters as much as the wire; invented."""
    recipe = dataclasses.replace(
        COIL.recipe, core=RoundCore(0.004), width_m=0.003, target=ResistanceTarget(ohm)
    )
    return figure_coil(recipe)


def observed(coil, text, seed=1):
    return rehearse_observed(coil, SIMULATED_BENCH, seed, read_asks(text, coil))[1]


def width(band):
    return math.log(band["high"] / band["low"])


def test_what_was_observed_is_told_in_order_and_narrows_the_band():
    report = observed(COIL, "tail,caliper@30%,ohm@200")
    told = report["observed"]["observations"]
    assert [one["kind"] for one in told] == ["SpoolTail", "BuildCaliper", "OhmReading"]
    assert [one.get("turns") for one in told] == [None, 120, 200]
    assert all(one["learnt"] for one in told)
    assert report["state"] == "complete"
    assert report["observed"]["turns_planned"] == [400], "a target in turns is not planned again"
    before, after = (report["observed"][f"band{part}_ohm_20c"] for part in ("_before", ""))
    assert width(after) < 0.4 * width(before)
    assert json.loads(json.dumps(report)) == report


def test_a_resistance_is_planned_again_at_rest_and_comes_out_closer():
    coil = small_resistance_coil()
    without, measured = [], []
    for seed in range(1, 13):
        report = observed(coil, "tail,ohm@50%,ohm@80%", seed)
        run = report["observed"]
        assert report["state"] == "complete"
        assert report["final_counts"] == report["target_counts"]
        assert int(report["final_turns"]) == run["turns"] == run["turns_planned"][-1]
        measured.append(abs(run["wound_ohm_20c"] / 150.0 - 1))
        plain = observed(coil, "caliper@10%", seed)["observed"]
        without.append(abs(plain["wound_ohm_20c"] / 150.0 - 1))
    # At 120 ohm: gain 0.8 %, three digits and half the leads' 0.2 ohm 0.33 %, 2 K of thermometer and 2 K of warmth 0.79 % each.
    assert max(measured) < 0.008 + 0.0033 + 2 * 0.0079
    assert sum(measured) < sum(without) / 2


def test_a_coil_that_has_enough_already_is_ended_at_the_pause():
    """Read shortly before the end, a coil of thin wire is done before its turns are."""
    coil = small_resistance_coil()
    for seed in range(1, 9):
        report = observed(coil, "ohm@99%", seed)
        run = report["observed"]
        if report["state"] == "ended":
            assert run["turns"] == round(0.99 * coil.turns)
            assert run["wound_ohm_20c"] > 150.0 * 0.99
            return
    raise AssertionError("no seed gave a coil that had enough")


def test_winding_long_measuring_and_taking_off_meets_the_target():
    coil = small_resistance_coil()
    report = observed(coil, "ohm@50%,finish", seed=4)
    run = report["observed"]
    assert run["turns_taken_off"] > 0
    assert run["turns"] == report["target_turns"] == report["final_counts"] / 20
    assert report["state"] == "complete", "the motor took them off and the board counted"
    # meter and thermometer: 0.5 % and 1 K (0.39 %) at 95 %, 0.3 ohm of 150
    assert run["wound_ohm_20c"] == pytest.approx(150.0, rel=0.012)
    assert run["observations"][-1]["turns"] == report["target_turns"] + run["turns_taken_off"]


def test_an_earlier_coil_of_the_spool_tells_of_this_one():
    run = observed(COIL, "earlier")["observed"]
    (told,) = run["observations"]
    assert told["kind"] == "EarlierCoil"
    assert told["turns"] == 400
    assert told["ohm"] != pytest.approx(run["wound_ohm_20c"], rel=1e-6), "it packed in its own way"
    assert width(run["band_ohm_20c"]) < 0.7 * width(run["band_before_ohm_20c"])


def test_the_same_seed_measures_the_same():
    one, again = (observed(COIL, "tail,ohm@50%", seed=9)["observed"] for _ in range(2))
    assert one == again
    assert one != observed(COIL, "tail,ohm@50%", seed=10)["observed"]


def test_a_campaign_tells_its_coverage_with_an_interval_as_it_comes_out():
    """40 coils; a true 95 % band leaves eight or more outside less than 1 time in 1000 (binomial)."""
    coil = small_resistance_coil()
    asks = read_asks("tail,ohm@50%", coil)
    campaign = run_campaign(coil.recipe, runs=40, seed=500, observe=asks)
    summary = campaign["summary"]["observed"]
    hits = [run["observed"]["inside"] for run in campaign["runs"]]
    assert summary["inside"] == sum(hits)
    assert summary["runs"] == 40
    assert summary["inside"] > 32
    assert summary["coverage_low"] < summary["coverage"] <= summary["coverage_high"]
    assert (
        summary["band_half_width_share"]["median"]
        < summary["band_half_width_share_before"]["median"]
    )
    assert summary["off_target_share"]["runs"] == 40
    # The middle is where the coils are: less than a fifth of the half width beside them, and 1.25 deviations of forty's median.
    width = summary["band_half_width_share"]["median"]
    assert abs(summary["middle_off_share"]["median"]) < (0.2 + 1.25 * 0.51 / 40**0.5 * 3) * width
    plain = run_campaign(coil.recipe, runs=2, seed=1)
    assert "observed" not in plain["summary"]


@pytest.mark.parametrize(
    ("hits", "runs", "low", "high"),
    [
        (0, 10, 0.0, 0.3085),  # 1 - 0.025^(1/10)
        (10, 10, 0.6915, 1.0),
        (
            81,
            263,
            0.2527,
            0.3676,
        ),  # Newcombe, Stat. Med. 17 (1998) 857, table I, method 5; from memory
        (15, 148, 0.0578, 0.1617),  # likewise
    ],
)
def test_the_interval_of_a_share_is_the_exact_one(hits, runs, low, high):
    assert binomial_interval(hits, runs) == pytest.approx((low, high), abs=1e-4)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("scale", "not something to observe"),
        ("", "not something to observe"),
        ("tail,", "not something to observe"),
        ("tail@50%", "not something to observe"),
        ("ohm@", "not something to observe"),
        ("ohm@-5", "not something to observe"),
        ("ohm", "does not say where"),
        ("ohm@100%", "not on the way"),
        ("ohm@0", "not on the way"),
        ("caliper@400", "not on the way"),
        ("finish", "asks for no resistance"),
        ("tail,tail", "twice"),
    ],
)
def test_what_cannot_be_observed_is_refused_with_a_remedy(text, what):
    with pytest.raises(UserMistake, match=what) as caught:
        read_asks(text, COIL)
    assert caught.value.where == "--observe"
    assert caught.value.remedy


def test_asks_are_read():
    assert read_asks("tail, caliper,ohm@50%,ohm@300", COIL) == (
        Ask("tail"),
        Ask("caliper", share=0.5),
        Ask("ohm", share=0.5),
        Ask("ohm", turns=300),
    )


def test_a_bench_meter_errs_within_what_its_manual_says_and_by_the_same_gain():
    """1000 ohm on 2000 counts, 0.8 % + 3 digits, 2 K, leads of 0.1 to 0.3 ohm: copper of 234.5 C inferred zero."""
    for seed in range(300):
        meter = BenchOhmmeter(seed)
        readings = [meter.read(1000.0) for _ in range(2)]
        assert readings[0] == readings[1], "one gain, one nought, one thermometer for the sitting"
        shown, celsius = readings[0]
        assert shown == round(shown)  # a digit of the 2 kohm range is an ohm
        brought = shown * (234.5 + 20) / (234.5 + celsius)
        assert abs(brought / 1000 - 1) < 0.008 + 0.003 + 0.0005 + 0.0003 + 2.05 * 0.00393
        warm, _ = meter.read(1000.0, 4.0)
        assert warm / shown == pytest.approx(1 + 4 / (234.5 + 22), abs=1.5e-3)


def test_gains_of_two_ranges_are_alike_but_not_the_same():
    pairs = []
    for seed in range(400):
        meter = BenchOhmmeter(seed, digits=0, kelvin=0.0, leads_ohm=0.0, counts=2_000_000)
        pairs.append([meter.read(ohm)[0] / ohm for ohm in (100_000.0, 1_000_000.0)])
    low, high = zip(*pairs, strict=True)
    assert 0.35 < statistics.correlation(low, high) < 0.98


def test_the_warmth_of_a_wind_falls_away():
    assert warmth_left(4.0, 0.0) == 4.0
    assert warmth_left(4.0, 1200.0) == pytest.approx(4 / math.e)


def test_a_caliper_rests_on_the_highest_wire_under_its_jaws():
    heights_m = [0.001] * 100 + [0.002] + [0.001] * 99
    readings = [BenchCaliper(seed).read(heights_m, 20e-6) for seed in range(50)]
    assert sum(readings) / 50 == pytest.approx(0.002, abs=2e-5)
    far_from_it = [0.003] + [0.001] * 400
    assert BenchCaliper(1).read(far_from_it, 20e-6) < 0.0015
