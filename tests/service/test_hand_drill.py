"""A counter on a hand drill, rehearsed: the board only counts, and a simulated person turns.

The judge is the simulated wire. A part of a turn is no turn: a coil of 120 turns ends at 120 and something.
"""

from __future__ import annotations

import dataclasses

import pytest
from opened_winds import open_on
from test_going_on import wind_until
from workshop_recipes import short_recipe

from winder.clock import NS_PER_S, HandClock
from winder.errors import UserMistake
from winder.laboratory.campaign import summary_of
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.service.observing import Ask, rehearse_observed
from winder.service.rehearsal import rehearse, report_of
from winder.shelf import Logbook
from winder.wind.model import Asked, Intent, Phase, TurnsOff

TURNS = 120
COIL = short_recipe(TURNS)


def drill(*, sense: bool, counts_per_turn: int = 20):
    return dataclasses.replace(
        SIMULATED_BENCH, name="hand drill", motor=False, direction_sense=sense,
        counts_per_turn=counts_per_turn, braking_rpm_s=None, traverse_travel_m=None,
    )  # fmt: skip


def open_drill(machine, book, seed=1):
    body, clock = simulated_machine(machine, COIL, seed), HandClock()
    opened = open_on(
        SimulatedLink(body, clock), clock, COIL, book, machine=machine, seed=seed, simulated=body
    )  # fmt: skip
    wind_until(opened, Phase.READY)
    return body, opened


def run(opened, seconds):
    until_ns = opened.wind.clock.now_ns() + round(seconds * NS_PER_S)
    while opened.wind.clock.now_ns() < until_ns:
        opened.wind.step()


@pytest.mark.parametrize("counts_per_turn", [1, 2, 20, 600])
@pytest.mark.parametrize("sense", [True, False])
def test_a_coil_by_hand_has_its_turns_whoever_counts_and_whoever_says_so(sense, counts_per_turn):
    machine = drill(sense=sense, counts_per_turn=counts_per_turn)
    for seed in range(1, 6):
        rehearsed = rehearse(COIL, machine, seed)
        report, body = report_of(rehearsed), rehearsed.body
        assert report["state"] == "complete"
        assert report["count_is"] == ("exact" if sense else "vouched")
        assert int(report["final_turns"]) == body.lay.turns == TURNS
        whole_counts = int(report["final_turns"] * counts_per_turn + 1e-9)
        assert report["final_counts"] == whole_counts, "session and wire agree to the count"


def test_the_hand_goes_past_the_target_and_turns_back_counted():
    with Logbook.in_memory() as book:
        body, opened = open_drill(drill(sense=True), book)
        opened.wind.ask(Asked(Intent.START))
        wind_until(opened, Phase.TAKING_OFF)
        past = opened.wind.view().count.off_turns
        assert past == pytest.approx(int(body.turns * 20) / 20 - TURNS) and past >= 1
        least = past
        while opened.wind.session.phase is Phase.TAKING_OFF:
            opened.wind.step()
            least = min(least, opened.wind.view().count.off_turns or least)
        assert least < past, "the screen counts what still has to come off"
        assert opened.wind.session.phase is Phase.COMPLETE
        assert body.lay.turns == TURNS


def test_without_a_sense_of_direction_the_turns_come_off_on_the_persons_word():
    with Logbook.in_memory() as book:
        body, opened = open_drill(drill(sense=False), book)
        opened.wind.ask(Asked(Intent.START))
        wind_until(opened, Phase.TAKING_OFF)
        run(opened, 20.0)
        assert opened.wind.session.phase is Phase.TAKING_OFF, "nothing comes off by itself"
        turned, off = body.turns, opened.wind.view().count.off_turns
        opened.wind.ask(Asked(Intent.TURNS_OFF, TurnsOff(off)))
        wind_until(opened, Phase.COMPLETE)
        assert body.turns == turned and body.lay.turns == TURNS


def test_nobody_drills_before_the_start_and_a_pause_lays_the_drill_down():
    with Logbook.in_memory() as book:
        body, opened = open_drill(drill(sense=True), book)
        run(opened, 30.0)
        assert body.turns == 0 and opened.wind.session.phase is Phase.READY
        opened.wind.ask(Asked(Intent.START))
        while body.turns < 40:
            opened.wind.step()
        opened.wind.ask(Asked(Intent.PAUSE))
        wind_until(opened, Phase.PAUSED)
        run(opened, 3.0)
        stood = body.turns
        run(opened, 30.0)
        assert body.turns == stood < 50
        opened.wind.ask(Asked(Intent.CONTINUE))
        wind_until(opened, Phase.COMPLETE)
        assert body.lay.turns == TURNS


def test_people_differ_by_seed_and_one_seed_gives_one_wind():
    machine = drill(sense=True)
    one, again, other = (report_of(rehearse(COIL, machine, seed)) for seed in (5, 5, 6))
    for report in (one, again, other):
        report.pop("wall_s")
    assert one == again and one["simulated_s"] != other["simulated_s"]


def test_a_campaign_by_hand_is_held_to_the_turn_and_stops_no_motor():
    reports = [report_of(rehearse(COIL, drill(sense=True), seed)) for seed in (1, 2)]
    for report in reports:
        report["machine"] = {"motor": False}
        report["host_stop_overrun_turns"] = None
    summary = summary_of(reports)
    assert summary["bounds_held"] and summary["host_stop_overrun_turns"] is None
    reports[0]["final_turns"], reports[0]["overrun_turns"] = TURNS + 1.1, 1.1
    assert not summary_of(reports)["bounds_held"]


def test_nothing_is_measured_at_a_pause_that_nobody_makes():
    with pytest.raises(UserMistake, match="makes no pauses"):
        rehearse_observed(COIL, drill(sense=True), 1, (Ask("ohm", share=0.5),))
