"""The simulated board that only counts, against its own page (docs/protocol/counting.md), and the person's drill."""

from __future__ import annotations

import dataclasses

import pytest
from bench_rig import WIND, Bench

from firmware_protocol.messages import (
    ClearTrip,
    CloseWind,
    Flag,
    Kept,
    OpenWind,
    SetTarget,
    Start,
    State,
    Trip,
    Verdict,
)
from firmware_protocol.wire import Group
from winder.simulator.build import Build
from winder.simulator.drill import EASE_RPM, Doing, Drill
from winder.simulator.faults import SensorDropout
from winder.simulator.machine import SimulatedMachine

COUNTER = dataclasses.replace(
    Build(), motor=False, brake_nm=None, guard=False, wire_sensor=False, traverse_travel_m=None
)
TURNS = 30


def bench_of(*faults, seed: int = 1, **changes) -> Bench:
    return Bench(SimulatedMachine(dataclasses.replace(COUNTER, **changes), seed, faults))


def opened(*faults, turns: int = TURNS, seed: int = 1, **changes) -> Bench:
    bench = bench_of(*faults, seed=seed, **changes)
    assert bench.ask(OpenWind(**{**bench.fresh(), "wind": WIND})) == Verdict.DONE
    target = turns * bench.machine.build.counts_per_turn
    warn = 10 * bench.machine.build.counts_per_turn
    ask = SetTarget(**bench.fresh(), count=target, warn_before=warn)
    assert bench.ask(ask) == Verdict.DONE
    return bench


def test_the_board_says_that_it_only_counts():
    bench = bench_of()
    welcome = bench.host.welcome
    assert bytes(welcome.groups) == bytes((1, 0, 0, 0, 0, 1))
    assert (welcome.legs_max, welcome.rate_max_mcps, welcome.has) == (0, 0, 1)
    assert bench.status.leg == 255 and bench.status.flags & Flag.WIRE_PRESENT
    assert bench_of(direction_sense=False).host.welcome.has == 0
    assert welcome.groups[Group.COUNTING - 1] == 1


def test_a_start_is_unsupported_and_nothing_is_ever_driven_or_tripped():
    bench = opened()
    assert bench.ask(Start(**bench.fresh(), generation=1)) == Verdict.UNSUPPORTED
    assert bench.ask(ClearTrip(**bench.fresh(), trip=Trip.NONE)) == Verdict.WRONG_STATE
    bench.run(40.0)
    assert bench.machine.turns > TURNS
    for status in bench.statuses:
        assert (status.state, status.trip, status.unattributed) == (State.STILL, Trip.NONE, 0)
        assert not status.flags & Flag.DRIVEN


def test_nobody_turns_before_a_target_is_set_and_nobody_goes_on_after_the_wind_is_closed():
    bench = bench_of()
    bench.run(20.0)
    assert bench.ask(OpenWind(**{**bench.fresh(), "wind": WIND})) == Verdict.DONE
    bench.run(20.0)
    assert bench.machine.turns == 0
    ask = SetTarget(**bench.fresh(), count=400 * 20, warn_before=200)
    assert bench.ask(ask) == Verdict.DONE
    bench.run(1.0)
    assert bench.machine.turns == 0, "a drill is taken up first"
    bench.run(15.0)
    assert bench.machine.moving
    assert bench.ask(CloseWind(**bench.fresh())) == Verdict.DONE
    bench.run(5.0)
    stood = bench.machine.turns
    bench.run(20.0)
    assert bench.machine.turns == stood < 400


@pytest.mark.parametrize("seed", range(1, 9))
def test_the_spindle_stands_some_turns_past_the_target_and_is_turned_back_where_that_counts(seed):
    bench = opened(seed=seed)
    counts = []
    for _ in range(60):
        bench.run(1.0)
        counts.append(bench.status.count)
    assert 20 * (TURNS + 1) <= max(counts) < 20 * (TURNS + 8)
    assert 20 * TURNS <= counts[-1] < 20 * (TURNS + 1)
    assert counts[-1] == bench.machine.edges == int(bench.machine.turns * 20)
    assert bench.machine.lay.turns == TURNS
    assert min(status.rate_mcps for status in bench.statuses) < 0
    assert bench.status.rate_mcps == 0


def test_without_a_sense_of_direction_every_edge_counts_up_and_nobody_turns_back():
    bench = opened(direction_sense=False)
    bench.run(60.0)
    past = bench.status.count
    assert past == bench.machine.edges >= 20 * (TURNS + 1)
    bench.machine.turn_by_hand(-2.0)
    bench.run(0.2)
    assert bench.status.count == past + 40 and bench.status.unattributed == 0


def test_the_speed_wanders_and_falls_when_the_board_calls():
    bench = opened(turns=150)
    bench.run(60.0)
    # Counts between two statuses 1 s apart, in rpm.
    spans = zip(bench.statuses, bench.statuses[20:], strict=False)
    speeds = [(old.count, (new.count - old.count) * 3) for old, new in spans]
    cruise = [speed for count, speed in speeds if 20 * 20 < count < 20 * 120]
    assert min(cruise) > 150 and max(cruise) < 800 and max(cruise) - min(cruise) > 5
    near = [speed for count, speed in speeds if 20 * 146 < count < 20 * 148]
    assert near and max(near) < min(cruise)


def test_a_rest_is_kept_and_taken_back_with_the_next_edge():
    bench = opened(direction_sense=False)
    bench.run(2.0)
    kept = bench.machine.body.kept()
    assert (kept.wind, kept.count, kept.valid, kept.at_rest) == (WIND, 0, True, True)
    while not bench.machine.moving:
        bench.run(0.1)
    bench.run(0.5)
    assert not bench.machine.body.kept().at_rest
    bench.run(60.0)
    count = bench.status.count
    bench.machine.reset()
    bench = Bench(bench.machine)
    bench.run(1.0)
    welcome = bench.host.welcome
    assert (welcome.kept_wind, welcome.kept_count) == (WIND, count)
    assert welcome.kept_flags == Kept.VALID | Kept.AT_REST
    assert bench.status.wind == 0 and bench.status.count == 0


def test_a_board_that_is_reset_under_the_drill_shows_nothing_and_the_person_lets_go():
    bench = opened(turns=400)
    bench.run(12.0)
    assert bench.machine.moving
    bench.machine.reset()
    bench.run(10.0)
    assert not bench.machine.moving and bench.machine.edges_lost > 0
    assert not bench.machine.body.kept().at_rest


def test_edges_that_do_not_reach_the_board_are_turned_all_the_same():
    bench = opened(SensorDropout(10.0, dark_s=0.5), direction_sense=False)
    bench.run(60.0)
    assert bench.machine.edges_lost > 0
    assert bench.status.count == bench.machine.edges - bench.machine.edges_lost


def test_a_sign_of_life_or_its_absence_is_nothing_to_a_drill():
    bench = opened(turns=60)
    bench.alive = False
    bench.run(60.0)
    assert bench.machine.lay.turns == 60
    assert not bench.status.flags & Flag.LEASE_LIVE


def test_whoever_sits_at_the_keyboard_drills_only_on_their_own_word():
    drill = Drill(COUNTER, 1)
    drill.see(WIND, 600, 200)
    drill.listen()
    assert sum(drill.turn(0) for _ in range(2000)) == 0
    drill.begin()
    assert sum(drill.turn(0) for _ in range(1000)) > 5
    drill.lay_down()
    more = sum(drill.turn(100) for _ in range(2000))
    assert 0 < more < 10 and drill.doing is Doing.STANDS


def test_a_drill_is_never_faster_than_the_spindle_bears():
    slow = dataclasses.replace(COUNTER, speed_rpm_max=100.0)
    bench = Bench(SimulatedMachine(slow, 1))
    bench.ask(OpenWind(**{**bench.fresh(), "wind": WIND}))
    bench.ask(SetTarget(**bench.fresh(), count=20 * 20, warn_before=100))
    bench.run(30.0)
    assert 0 < max(status.rate_mcps for status in bench.statuses) / 1000 <= 100 / 60 * 20 * 1.05
    assert EASE_RPM > 80, "here the speed that is eased to is bounded too"
