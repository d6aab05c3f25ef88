"""Seeded faults of the machine's body: what the board makes of them, and what the truth is afterwards."""

from __future__ import annotations

import dataclasses

import pytest
from bench_rig import MS, TOLD, Bench, bench_with

from firmware_protocol.messages import ClearTrip, Kept, State, Trip, Verdict
from winder.simulator.faults import (
    GuardOpened,
    Jam,
    SensorDropout,
    WatchdogReset,
    WireBreak,
    draw_faults,
)


def test_a_broken_wire_trips_and_lays_nothing_more():
    bench = bench_with(WireBreak(30.0))
    bench.start()
    bench.run_to_rest()
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.WIRE_LOST)
    bench.run(1.0)
    assert bench.machine.lay.turns == 30 < bench.machine.turns
    assert bench.ask(ClearTrip(**bench.fresh(), trip=Trip.WIRE_LOST)) == Verdict.CAUSE_REMAINS
    bench.machine.join_wire()
    assert bench.ask(ClearTrip(**bench.fresh(), trip=Trip.WIRE_LOST)) == Verdict.DONE
    bare = bench.machine.turns - bench.machine.wire_turns
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    assert bench.machine.wire_turns == pytest.approx(bench.machine.turns - bare)
    assert bench.machine.lay.turns == int(60 - bare)


def test_turns_pulled_off_leave_the_wire_and_not_the_count():
    bench = bench_with()
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    bench.machine.pull_off(2.5)
    assert bench.fresh() and bench.status.count == 60 * 20 and int(bench.machine.turns) == 60
    assert bench.machine.lay.turns == 57
    assert bench.machine.wire_turns == bench.machine.turns - 2.5
    bench.machine.pull_off(100.0)  # no more than there are
    assert bench.machine.lay.turns == 0 and 0.0 <= bench.machine.wire_turns < 0.05


def test_turns_pulled_off_a_broken_wire_are_wound_again_after_the_joint():
    bench = bench_with(WireBreak(30.0))
    bench.start()
    bench.run_to_rest()
    bench.run(1.0)
    assert bench.machine.wire_turns == pytest.approx(30.0, abs=0.5)
    left = bench.machine.wire_turns - 4.0
    bench.machine.pull_off(4.0)
    assert bench.machine.wire_turns == left and bench.machine.lay.turns == int(left)
    bench.machine.join_wire()
    turned = bench.machine.turns
    assert bench.ask(ClearTrip(**bench.fresh(), trip=Trip.WIRE_LOST)) == Verdict.DONE
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    wound = bench.machine.turns - turned
    assert bench.machine.wire_turns == pytest.approx(left + wound, abs=1 / 20)
    assert bench.machine.lay.turns == int(bench.machine.wire_turns)


def test_an_opened_guard_trips_and_the_wind_ends_on_the_turn_after_it_was_cleared():
    bench = bench_with(GuardOpened(20.0, open_s=1.0))
    bench.start()
    bench.run_to_rest()
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.GUARD_OPENED)
    bench.run(3.0)
    turns = bench.machine.turns
    assert turns - 20 < 2.0 and not bench.machine.moving
    assert bench.ask(ClearTrip(**bench.fresh(), trip=Trip.GUARD_OPENED)) == Verdict.DONE
    bench.run(1.0)
    assert bench.machine.turns == turns
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    assert int(bench.machine.turns) == 60


@pytest.mark.parametrize("counts_per_turn", [1, 4, 20, 400])
def test_a_sensor_that_goes_dark_trips_and_the_spindle_rests(counts_per_turn):
    told = dataclasses.replace(TOLD, counts_per_turn=counts_per_turn)
    bench = bench_with(SensorDropout(30.0, dark_s=20.0), told=told)
    bench.start()
    bench.run_to_rest()
    assert bench.status.state == State.TRIPPED
    assert bench.status.trip in (Trip.SENSOR_IMPLAUSIBLE, Trip.STALLED)
    bench.run(5.0)
    assert not bench.machine.moving
    assert bench.machine.edges_lost > 0
    assert bench.machine.edges == bench.status.count + bench.machine.edges_lost


def test_a_single_lost_edge_is_implausible_at_speed():
    """40 ms of darkness at 333 counts a second: no spindle slows and speeds up so hard."""
    bench = bench_with(SensorDropout(30.0, dark_s=0.04))
    bench.start()
    bench.run_to_rest()
    assert bench.status.trip == Trip.SENSOR_IMPLAUSIBLE


def test_a_jammed_spindle_trips():
    bench = bench_with(Jam(30.0, torque_nm=1.0))
    bench.start()
    bench.run_to_rest()
    assert bench.status.state == State.TRIPPED
    assert bench.status.trip in (Trip.SENSOR_IMPLAUSIBLE, Trip.STALLED)
    bench.run(2.0)
    assert not bench.machine.moving


def test_a_spindle_that_cannot_start_is_stalled():
    bench = bench_with(Jam(0.0, torque_nm=1.0, jam_s=60.0))
    bench.start()
    bench.run_to_rest()
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.STALLED)
    assert bench.machine.turns == 0.0


def test_a_watchdog_reset_is_told_as_a_trip_of_a_new_boot():
    bench = bench_with(WatchdogReset(30.0))
    bench.start()
    bench.run(8.0)
    assert bench.machine.boot == 2
    assert (bench.status.boot, bench.status.state) == (2, State.TRIPPED)
    assert bench.status.trip == Trip.WATCHDOG


def test_a_reset_in_motion_loses_memory_and_edges_and_keeps_the_record():
    bench = bench_with(turns=500)
    bench.start()
    bench.run(3.0)
    machine = bench.machine
    turns, count = machine.turns, bench.status.count
    machine.reset()
    machine.run_until(machine.now_ns + 10_000 * MS)
    machine.take_bytes()
    while machine.moving:
        machine.run_until(machine.now_ns + 50 * MS)
        machine.take_bytes()
    assert machine.turns > turns + 1  # it coasted on, with the drive off
    assert machine.edges_lost > 0
    again = Bench(machine)
    welcome = again.host.welcome
    assert welcome is not None and welcome.boot == 2
    assert welcome.kept_flags & Kept.VALID == 0  # it had not come to rest in this wind
    assert again.status.count < count


def test_the_record_of_a_rest_survives_a_reset():
    bench = bench_with()
    bench.start()
    bench.run_to_rest()
    bench.run(0.2)
    bench.machine.reset()
    bench.run(1.0)
    welcome = Bench(bench.machine).host.welcome
    assert welcome is not None
    assert welcome.kept_flags == Kept.VALID | Kept.AT_REST
    assert welcome.kept_count == bench.machine.edges
    assert bench.status.count == 0


def test_edges_beyond_the_boards_rate_are_lost():
    bench = bench_with(turns=100, edge_rate_max_cps=250)
    bench.start()
    bench.run(6.0)
    assert bench.machine.edges_lost > 0


def test_drawn_faults_follow_from_their_seed():
    assert draw_faults(3, 1000) == draw_faults(3, 1000)
    drawn = [fault for seed in range(60) for fault in draw_faults(seed, 1000)]
    assert len({type(fault) for fault in drawn}) == 5
    assert all(0 < fault.turn < 1000 for fault in drawn)
