"""The C core's control loop on the model of a spindle that differs from what the core knows of it.

The count is exact always: every edge of the truth is in it. The stop is held to the bounds of the simulated
machine: 0.05 turn from 20 counts a turn on, half a turn below. Virtual time, by seed.
"""

from __future__ import annotations

import ctypes

import pytest
from host.bench import WIND, Bench, leg, wound
from host.core import Machine, needs_compiler

from firmware_protocol.messages import (
    ClearTrip,
    EndAction,
    Kept,
    Move,
    Pace,
    PlanLeg,
    Reason,
    Start,
    State,
    Trip,
    Verdict,
)

pytestmark = needs_compiler

SEEDS = range(4)
COMPLETE, PAUSE, CONTINUE = EndAction.COMPLETE, EndAction.PAUSE, EndAction.CONTINUE


def slow_machine(seed: int, brake: bool, counts_per_turn: int) -> tuple[Machine, int]:
    """A machine of few counts a turn, 1200 rpm at most; returns it and its full speed."""
    machine = Machine(seed, brake)
    machine.settings.full_rate_mcps = full = counts_per_turn * 20_000
    machine.settings.full_accel_mcps2 = 4 * full
    machine.library.model_build(seed, brake)
    return machine, full


@pytest.mark.parametrize("brake", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_wind_stops_on_its_count(seed, brake):
    machine = Machine(seed, brake)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    status = bench.to_rest()
    assert (status.state, status.reason) == (State.COMPLETE, Reason.TARGET)
    assert status.count == machine.turned
    assert 2000 <= status.count <= 2001  # 16 counts a turn
    assert machine.host.duty_permille == machine.host.brake_permille == 0


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("counts_per_turn", [1, 4])
def test_few_counts_a_turn_stop_by_coasting_and_one_gentle_nudge(seed, counts_per_turn):
    machine, full = slow_machine(seed, False, counts_per_turn)
    turns, rate = 40, full // 4
    accel = rate // 2
    end = turns * counts_per_turn
    one = leg(
        0, end, COMPLETE, rate_mcps=rate, accel_mcps2=accel,
        creep_mcps=min(rate, 4000), coast_counts=2,
    )  # fmt: skip
    bench = wound(machine, one)
    status = bench.to_rest(120_000)
    assert (status.state, status.trip) == (State.COMPLETE, Trip.NONE), status
    assert status.count == machine.turned
    assert end <= status.count <= end + counts_per_turn // 2


def test_a_coast_that_reaches_its_end_is_arrived_and_braked_at_that_edge():
    """A host takes a board that is past its end and says WINDING for one that runs on."""
    machine, full = slow_machine(1, True, 1)
    rate = full // 5
    one = leg(
        0, 5, COMPLETE, rate_mcps=rate, accel_mcps2=full // 2, creep_mcps=rate, coast_counts=1
    )
    bench = wound(machine, one)
    while bench.status.count < 5:
        assert bench.status.state is State.WINDING
        bench.run(1)
    bench.run(60)
    assert bench.status.state is not State.WINDING
    assert bench.to_rest().state is State.COMPLETE
    assert machine.model.place < 5.2


def test_the_speed_follows_the_plan_and_the_pace():
    machine = Machine(3)
    bench = wound(machine, leg(0, 4000, COMPLETE))
    bench.run(2500)
    assert 475 <= machine.model.speed_cps <= 525
    bench.do(Pace(**bench.beliefs(), permille=500))
    bench.run(1500)
    assert 237 <= machine.model.speed_cps <= 263
    assert abs(bench.status.rate_mcps - 1000 * machine.model.speed_cps) < 15_000
    bench.do(Pace(**bench.beliefs(), permille=1000))
    status = bench.to_rest()
    assert status.state is State.COMPLETE and status.count == machine.turned
    assert 4000 <= status.count <= 4001


def test_legs_run_into_one_another_and_a_pause_is_left_by_a_start():
    machine = Machine(2)
    legs = (
        leg(0, 300, CONTINUE, rate_mcps=200_000),
        leg(1, 900, PAUSE),
        leg(2, 1500, COMPLETE, rate_mcps=300_000),
    )
    bench = wound(machine, *legs)
    status = bench.to_rest()
    assert (status.state, status.reason, status.leg) == (State.PAUSED, Reason.LEG_PAUSE, 2)
    assert 900 <= status.count <= 901
    bench.start()
    status = bench.to_rest()
    assert status.state is State.COMPLETE and 1500 <= status.count <= 1501
    assert status.count == machine.turned


@pytest.mark.parametrize("way", ["stop", "lease"])
def test_a_stop_and_a_lost_lease_end_the_motion_and_a_start_goes_on(way):
    machine = Machine(4)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    bench.run(1800)
    if way == "stop":
        bench.stop()
        due = Reason.STOP
    else:
        bench.operator_alive = False
        due = Reason.LEASE_LOST
    status = bench.to_rest(6000)
    assert (status.state, status.reason) == (State.PAUSED, due)
    assert status.count == machine.turned < 2000
    bench.operator_alive = True
    bench.run(300)
    bench.start()
    assert bench.to_rest().state is State.COMPLETE
    assert 2000 <= bench.status.count == machine.turned <= 2001


def stopped_by(bench: Bench, cause: Trip) -> None:
    """Drive off, latched, count kept and true, and clearable when the cause is gone."""
    machine = bench.machine
    status = bench.to_rest(12_000)
    assert (status.state, status.trip) == (State.TRIPPED, cause)
    assert machine.host.duty_permille == 0
    assert bench.ask(Start(**bench.beliefs(), generation=1)).verdict is Verdict.WRONG_STATE


def test_an_open_guard_cuts_the_drive():
    machine = Machine(1)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    bench.run(1000)
    machine.host.guard_open = True
    machine.pass_ms(1)
    assert machine.host.duty_permille == 0 and machine.host.brake_permille == 0  # the dead time
    machine.pass_ms(3)
    assert machine.host.duty_permille == 0 and machine.host.brake_permille == 1000
    stopped_by(bench, Trip.GUARD_OPENED)
    bench.run(2000)
    clear = ClearTrip(**bench.beliefs(), trip=Trip.GUARD_OPENED)
    assert bench.ask(clear).verdict is Verdict.CAUSE_REMAINS
    machine.host.guard_open = False
    bench.do(ClearTrip(**bench.beliefs(), trip=Trip.GUARD_OPENED))
    bench.run(60)
    assert bench.status.state is State.PAUSED and bench.status.count == machine.turned


def test_lost_wire_trips_winding_but_no_move():
    machine = Machine(1)
    bench = Bench(machine)
    bench.open()
    machine.host.wire_lost = True
    bench.do(Move(**bench.beliefs(), counts=48, rate_mcps=100_000, accel_mcps2=200_000))
    assert bench.to_rest().state is State.STILL
    machine.host.wire_lost = False
    bench.load(leg(0, 2000, COMPLETE))
    bench.start()
    bench.run(1000)
    machine.host.wire_lost = True
    stopped_by(bench, Trip.WIRE_LOST)


def test_a_spindle_held_from_the_start_is_stalled():
    machine = Machine(1)
    machine.model.held = True
    bench = wound(machine, leg(0, 2000, COMPLETE))
    stopped_by(bench, Trip.STALLED)
    assert bench.status.count == 0


def test_a_spindle_that_is_caught_trips():
    machine = Machine(1)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    bench.run(1500)
    machine.model.held = True
    status = bench.to_rest(12_000)
    # It stands at once; a loop that sees only edges cannot tell that from a sensor gone blind.
    assert status.trip in (Trip.STALLED, Trip.SENSOR_IMPLAUSIBLE)
    assert status.count == machine.turned


def test_a_sensor_gone_blind_trips_and_its_rest_is_not_vouched_for():
    machine = Machine(1, brake=False)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    bench.run(1500)
    machine.model.dark = True
    stopped_by(bench, Trip.SENSOR_IMPLAUSIBLE)
    bench.run(4000)  # coasting, unseen, then the record is written
    count = bench.status.count
    assert count < machine.turned
    again = Bench(machine)
    again.open()
    welcome = again.host.welcome
    assert (welcome.boot, welcome.kept_wind, welcome.kept_count) == (2, WIND, count)
    assert welcome.kept_flags == Kept.VALID


def test_a_drive_that_does_not_obey_is_overspeed():
    machine = Machine(1)
    bench = wound(machine, leg(0, 20_000, COMPLETE, rate_mcps=300_000))
    bench.run(1500)
    # The truth runs away: a driver that is shorted gives full duty whatever it is told.
    for _ in range(400):
        machine.model.speed_cps = min(machine.model.speed_cps + 8, 2400)
        bench.run(1)
    status = bench.status
    assert status.state is State.TRIPPED
    assert status.trip in (Trip.OVERSPEED, Trip.SENSOR_IMPLAUSIBLE, Trip.NOT_STOPPED)


@pytest.mark.parametrize("counts", [160, -160, 1, -1])
def test_a_move_turns_by_its_counts_both_ways(counts):
    machine = Machine(2)
    bench = Bench(machine)
    bench.open()
    bench.do(Move(**bench.beliefs(), counts=counts, rate_mcps=200_000, accel_mcps2=300_000))
    status = bench.to_rest()
    assert (status.state, status.reason) == (State.STILL, Reason.MOVE_DONE)
    assert abs(status.count - counts) <= 1 and (status.count > 0) == (counts > 0)
    # Without a sense of direction an edge is passed one slot further on the way back.
    assert abs(status.count - machine.turned) <= 1


@pytest.mark.parametrize("sense", [True, False])
def test_winding_backward_counts_up(sense):
    machine = Machine(2)
    machine.host.direction_sense = sense
    bench = wound(machine, leg(0, 800, COMPLETE, spindle=-1))
    status = bench.to_rest()
    assert status.state is State.COMPLETE and 800 <= status.count <= 801
    assert machine.turned < 0 and abs(status.count + machine.turned) <= 1
    bench.do(Move(**bench.beliefs(), counts=-100, rate_mcps=200_000, accel_mcps2=300_000))
    after = bench.to_rest()
    assert abs(after.count - (status.count - 100)) <= 1
    assert abs(after.count + machine.turned) <= 2


def test_edges_at_rest_are_counted_apart_without_a_sense_of_direction():
    machine = Machine(1)
    bench = wound(machine, leg(0, 400, COMPLETE))
    count = bench.to_rest().count
    bench.run(500)
    for _ in range(3):
        machine.edge()
    bench.run(60)
    assert (bench.status.count, bench.status.unattributed) == (count, 3)


def test_edges_at_rest_move_the_count_with_a_sense_of_direction():
    machine = Machine(1)
    machine.host.direction_sense = True
    bench = wound(machine, leg(0, 400, COMPLETE))
    count = bench.to_rest().count
    bench.run(500)
    for backward in (True, True, False):
        machine.edge(backward)
    bench.run(60)
    assert (bench.status.count, bench.status.unattributed) == (count - 1, 0)


def test_the_very_edge_cuts_the_drive_before_the_loop_looks():
    machine = Machine(1)
    bench = wound(machine, leg(0, 10, COMPLETE, rate_mcps=20_000, accel_mcps2=40_000))
    bench.run(120)
    assert machine.host.duty_permille > 0
    while bench.status.count < 9 and bench.status.state is State.WINDING:
        bench.run(1)
    assert machine.host.duty_permille > 0
    seen = machine.model.next_down
    for _ in range(10 - int(seen)):
        machine.edge()
    assert machine.host.duty_permille == 0 and machine.host.brake_permille == 0
    bench.run(4)
    assert machine.host.brake_permille == 1000
    bench.run(51)
    assert bench.status.state is State.SLOWING and bench.status.reason is Reason.TARGET


def test_a_watchdog_boot_is_tripped_with_the_drive_off():
    machine = Machine(1)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    bench.run(1000)
    machine.boot(by_watchdog=True)
    assert machine.host.duty_permille == 0
    bench.run(100)
    status = bench.status
    assert (status.state, status.trip, status.wind) == (State.TRIPPED, Trip.WATCHDOG, 0)


def test_a_plan_that_is_hard_to_drive_does_no_harm():
    """Extremes of the fields that a host may send: nothing wraps, nothing moves faster than it may."""
    extremes: tuple[PlanLeg, ...] = (
        leg(0, 40, CONTINUE, accel_mcps2=2**32 - 1, rate_mcps=2_000_000, creep_mcps=2_000_000),
        leg(1, 60, PAUSE, accel_mcps2=1, rate_mcps=2_000_000, coast_counts=65_535),
        leg(2, 61, COMPLETE, accel_mcps2=2**32 - 1, rate_mcps=1000, creep_mcps=1000),
    )
    machine = Machine(1)
    bench = wound(machine, *extremes)
    for _ in range(100):
        bench.run(100)
        assert abs(machine.model.speed_cps) < 1.2 * machine.model.free_cps
    bench.stop()
    bench.to_rest(8000)
    assert bench.status.count == machine.turned


class CDrive(ctypes.Structure):
    """An order of body.h."""

    _fields_ = (
        ("order", ctypes.c_uint8),
        ("plan", ctypes.c_void_p),
        ("pace_permille", ctypes.c_uint16),
        ("reversed", ctypes.c_bool),
        ("move", ctypes.c_void_p),
    )


def test_the_order_off_ends_whatever_drives_and_nothing_drives_again():
    """The board gives it at rest only; a body must not depend on that."""
    machine = Machine(1)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    bench.run(1500)
    assert machine.host.duty_permille > 0
    off = CDrive(order=0)
    machine.library.body_obey(ctypes.byref(off))
    assert machine.host.duty_permille == machine.host.brake_permille == 0
    for _ in range(3000):
        bench.run(1)
        assert machine.host.duty_permille == machine.host.brake_permille == 0
    status = bench.status
    assert machine.model.speed_cps == 0.0
    assert status.count + status.unattributed == machine.turned < 2000, "undriven, so nobody's"
