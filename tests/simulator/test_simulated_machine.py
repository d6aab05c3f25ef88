"""The whole machine at the end of a line: winding, stopping, resets, hands, faults, repeatability."""

from __future__ import annotations

import dataclasses
import itertools
import random

import pytest
from bench_rig import MS, TOKEN, TOLD, Bench, bench_with, leg

from firmware_protocol.messages import (
    LEASE_MS,
    ClearTrip,
    CloseWind,
    EndAction,
    Flag,
    Move,
    Pace,
    Reason,
    Side,
    State,
    TraverseMark,
    TraverseStep,
    Trip,
    Verdict,
)
from winder.simulator.build import Build
from winder.simulator.draw import Told
from winder.simulator.faults import draw_faults
from winder.simulator.machine import SimulatedMachine


def test_a_wind_ends_on_the_turn_with_its_wire_on_the_bobbin():
    bench = bench_with(turns=200)
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    machine = bench.machine
    assert int(machine.turns) == 200 and machine.turns - 200 <= 0.05
    assert bench.status.count == machine.edges >= 4000
    assert machine.lay.turns == 200
    assert machine.wound_ohm > 200 * machine.build.core_perimeter_m * machine.build.ohm_per_m


def test_statuses_come_every_50_ms_whatever_happens():
    bench = bench_with()
    bench.start()
    bench.run_to_rest()
    uptimes = [status.uptime_ms for status in bench.statuses]
    assert {b - a for a, b in itertools.pairwise(uptimes)} == {50}


def test_a_paused_leg_goes_on_and_ends_on_the_turn():
    legs = (leg(TOLD, 0, 15, 600.0, EndAction.PAUSE), leg(TOLD, 1, 60, 1000.0))
    bench = bench_with(legs=legs)
    bench.start()
    status = bench.run_to_rest()
    assert (status.state, status.reason) == (State.PAUSED, Reason.LEG_PAUSE)
    assert int(bench.machine.turns) == 15
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    assert int(bench.machine.turns) == 60


@pytest.mark.parametrize("after_s", [0.01, 0.3, 1.5, 3.2])
@pytest.mark.parametrize("brake", [0.0225, None])
def test_a_stop_rests_and_a_start_winds_on_to_the_turn(after_s, brake):
    told = dataclasses.replace(TOLD, braking_rpm_s=5000.0 if brake else None)
    bench = bench_with(told=told, brake_nm=brake)
    bench.start()
    bench.run(after_s)
    bench.host.stop(bench.machine.now_ns)
    status = bench.run_to_rest()
    assert (status.state, status.reason) == (State.PAUSED, Reason.STOP)
    assert not bench.machine.moving
    assert status.count == bench.machine.edges
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    assert int(bench.machine.turns) == 60 and bench.machine.turns - 60 <= 0.05


def test_a_silent_host_brings_the_spindle_to_rest():
    bench = bench_with(turns=500)
    bench.start()
    bench.run(3.0)
    bench.alive = False
    silent_ns = bench.machine.now_ns
    status = bench.run_to_rest()
    assert (status.state, status.reason) == (State.PAUSED, Reason.LEASE_LOST)
    slowing_s = 1000.0 / 600.0  # the leg's acceleration
    # one sign of life may be younger than the silence by its period, rest is heard after a wait
    assert bench.machine.now_ns - silent_ns < (LEASE_MS + 600) * MS + slowing_s * 1e9
    assert status.count == bench.machine.edges


def test_the_pace_makes_it_slower_and_full_again():
    bench = bench_with(turns=500)
    bench.start()
    bench.run(4.0)
    full = bench.status.rate_mcps
    assert bench.ask(Pace(**bench.fresh(), permille=400)) == Verdict.DONE
    bench.run(3.0)
    assert bench.status.rate_mcps == pytest.approx(full * 0.4, rel=0.02)
    assert bench.ask(Pace(**bench.fresh(), permille=1000)) == Verdict.DONE
    bench.run(3.0)
    assert bench.status.rate_mcps == pytest.approx(full, rel=0.02)


@pytest.mark.parametrize("counts", [40, -40, 3, -3, 1, -1, 555])
@pytest.mark.parametrize("direction_sense", [True, False])
def test_a_move_goes_its_counts_either_way(counts, direction_sense):
    bench = bench_with(direction_sense=direction_sense)
    ask = Move(**bench.fresh(), counts=counts, rate_mcps=100_000, accel_mcps2=200_000)
    assert bench.ask(ask) == Verdict.DONE
    bench.run(0.1)
    status = bench.run_to_rest()
    assert (status.state, status.reason) == (State.ARMED, Reason.MOVE_DONE)
    assert 0 <= (status.count - counts) * (1 if counts > 0 else -1) <= 1
    assert abs(bench.machine.turns * 20 - counts) <= 1.5
    assert status.unattributed == 0
    if direction_sense:
        assert status.count == bench.machine.edges


def test_winding_and_unwinding_return_to_the_same_edges():
    bench = bench_with(direction_sense=True)
    for counts in (400, -400, 400, -400):
        ask = Move(**bench.fresh(), counts=counts, rate_mcps=150_000, accel_mcps2=200_000)
        assert bench.ask(ask) == Verdict.DONE
        bench.run(0.1)
        bench.run_to_rest()
        assert bench.status.count == bench.machine.edges
        assert bench.machine.lay.turns == max(int(bench.machine.bobbin_turns), 0)


def test_few_counts_without_a_brake_coast_short_and_are_nudged_once():
    told = Told(1, False, 1500.0, 600.0, 700.0, None, None)
    build = dataclasses.replace(
        Build(), counts_per_turn=1, direction_sense=False, brake_nm=None, traverse_travel_m=None
    )
    bench = Bench(SimulatedMachine(build))
    plan = (leg(told, 0, 50, 900.0),)
    assert plan[0].coast_counts > 0
    bench.load(plan)
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    assert bench.machine.body.control.nudges == 1
    assert int(bench.machine.turns) == 50


# --- the operator's hands -----------------------------------------------------------------------


def test_edges_by_hand_are_unattributed_without_a_sense_of_direction():
    bench = bench_with(direction_sense=False)
    bench.machine.turn_by_hand(0.3)
    bench.machine.turn_by_hand(-0.3)
    bench.run(0.1)
    assert bench.status.count == 0
    assert bench.status.unattributed == 12
    assert bench.machine.turns == pytest.approx(0.0, abs=1e-12)


def test_edges_by_hand_are_counted_with_their_sign_by_a_sense_of_direction():
    bench = bench_with(direction_sense=True)
    bench.machine.turn_by_hand(0.72)
    bench.run(0.1)
    assert (bench.status.count, bench.status.unattributed) == (14, 0)
    bench.machine.turn_by_hand(-1.0)
    bench.run(0.1)
    assert bench.status.count == bench.machine.edges == -6


def test_a_step_of_the_guide_and_the_marks():
    bench = bench_with()
    mark = TraverseMark(**bench.fresh(), side=Side.LEFT, at_um=0)
    assert bench.ask(mark) == Verdict.DONE
    assert bench.ask(TraverseStep(**bench.fresh(), distance_um=7500)) == Verdict.DONE
    bench.run(0.1)
    status = bench.run_to_rest()
    assert (status.state, status.traverse_um) == (State.ARMED, 7500)
    assert status.flags & Flag.REFERENCED
    mark = TraverseMark(**bench.fresh(), side=Side.RIGHT, at_um=7450)
    assert bench.ask(mark) == Verdict.DONE
    bench.run(0.1)
    assert bench.status.traverse_um == 7450


def test_a_guide_at_the_end_of_its_travel_trips_and_can_be_cleared():
    bench = bench_with()
    assert bench.ask(TraverseStep(**bench.fresh(), distance_um=-5500)) == Verdict.DONE
    bench.run(1.5)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.TRAVERSE_LIMIT)
    clear = ClearTrip(**bench.fresh(), trip=Trip.TRAVERSE_LIMIT)
    assert bench.ask(clear) == Verdict.DONE
    assert bench.ask(TraverseStep(**bench.fresh(), distance_um=500)) == Verdict.DONE
    bench.run(0.2)
    assert bench.status.state == State.ARMED


def test_the_guide_lays_between_its_turning_points():
    plan = (leg(TOLD, 0, 400, 1200.0, pitch_um=80.0, left_um=1000, right_um=4000),)
    bench = bench_with(legs=plan)
    bench.mark_left()
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    lay = bench.machine.lay
    used_m = [index * lay.bin_m for index, height in enumerate(lay.heights_m) if height > 0]
    # the guide walked in from the left mark, hence a few turns before the left turning point
    assert used_m[-1] < 0.0041
    inside = [height for index, height in enumerate(lay.heights_m) if index * lay.bin_m > 0.0011]
    assert sum(inside) > 0.9 * sum(lay.heights_m)


def test_a_new_bobbin_begins_empty():
    bench = bench_with()
    bench.start()
    bench.run_to_rest()
    bench.machine.change_bobbin()
    assert bench.machine.lay.turns == 0 and bench.machine.wound_ohm == 0.0
    assert 0.0 <= bench.machine.bobbin_turns < 0.05


def test_a_second_wind_on_the_same_bobbin_lays_where_the_guide_is_then():
    """The guide follows the wind's count, which begins anew; the bobbin's turns go on."""
    plan = (leg(TOLD, 0, 20, 1000.0, pitch_um=90.0, left_um=0, right_um=7500),)
    bench = bench_with(legs=plan)
    bench.mark_left()
    for wind in (1, 2):
        if wind == 2:
            assert bench.ask(CloseWind(**bench.fresh())) == Verdict.DONE
            back_um = -bench.status.traverse_um
            assert bench.ask(TraverseStep(**bench.fresh(), distance_um=back_um)) == Verdict.DONE
            bench.run(0.5)
            bench.load(plan)
        bench.start()
        assert bench.run_to_rest().state == State.COMPLETE
    lay = bench.machine.lay
    assert lay.turns == 40
    beyond = round(20 * 90e-6 / lay.bin_m) + 4  # 20 turns of 90 um, and a wire
    assert max(lay.heights_m[:beyond]) > 0.0
    assert max(lay.heights_m[beyond:]) == 0.0


# --- repeatability ------------------------------------------------------------------------------


def faulty_machine(seed: int) -> SimulatedMachine:
    """Guided by hand, so that the seed has a say in the lay, and with faults."""
    build = dataclasses.replace(Build(), traverse_travel_m=None)
    return SimulatedMachine(build, seed, draw_faults(seed, 60))


def replayed(
    machine: SimulatedMachine, sent: list[tuple[int, bytes]], chance: random.Random
) -> tuple[bytes, float, float]:
    """What the board says to the same bytes at the same times; turns and ohms at the last of them."""
    heard = bytearray()
    for at_ns, data in sent:
        while machine.now_ns < at_ns:
            step_ns = chance.choice((1, 999_999, 3 * MS, 10 * MS, 111 * MS))
            machine.run_until(min(at_ns, machine.now_ns + step_ns))
            heard += machine.take_bytes()
        machine.receive(data)
        heard += machine.take_bytes()
    return bytes(heard), machine.turns, machine.wound_ohm


@pytest.mark.parametrize("seed", range(6))
def test_the_same_seed_gives_the_same_bytes_however_time_is_sliced(seed):
    bench = Bench(faulty_machine(seed), slice_ns=37 * MS + 1234)
    bench.load((leg(TOLD, 0, 60, 1000.0),))
    bench.start()
    bench.run_to_rest()
    sent, heard = bench.sent_by_host, bytes(bench.sent_by_board)
    runs = [replayed(faulty_machine(seed), sent, random.Random(slicing)) for slicing in (1, 2, 3)]
    assert runs[0] == runs[1] == runs[2]
    # The bench heard the same, and at most a few statuses after it last wrote.
    assert heard.startswith(runs[0][0]) and len(heard) - len(runs[0][0]) < 400
    assert len(heard) > 1000


def test_another_seed_guides_another_hand():
    ohms = set()
    for seed in (1, 2):
        build = dataclasses.replace(Build(), traverse_travel_m=None)
        bench = Bench(SimulatedMachine(build, seed))
        bench.load((leg(TOLD, 0, 60, 1000.0),))
        bench.start()
        bench.run_to_rest()
        ohms.add(bench.machine.wound_ohm)
    assert len(ohms) == 2


def test_time_stands_where_the_board_has_bytes_to_send():
    machine = SimulatedMachine(Build())
    machine.run_until(10**9)
    first_ns = machine.now_ns
    assert 0 < first_ns < 10**9
    machine.run_until(10**9)
    assert machine.now_ns == first_ns
    assert machine.take_bytes()
    machine.run_until(first_ns + 7)
    assert machine.now_ns == first_ns + 7


def test_a_machine_speaks_only_for_what_is_wired_to_it():
    build = dataclasses.replace(Build(), traverse_travel_m=None, brake_nm=None, guard=False)
    welcome = Bench(SimulatedMachine(build)).host.welcome
    assert welcome is not None
    assert tuple(welcome.groups) == (1, 1, 0, 1, 0, 1)
    assert welcome.token == TOKEN
    assert welcome.rate_max_mcps == 1500 * 20 * 1000 // 60
