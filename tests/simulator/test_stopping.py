"""How the board stops: from a creep, at the very edge, and by a nudge where it must coast."""

from __future__ import annotations

import dataclasses
import itertools

import pytest
from bench_rig import Bench, leg

from firmware_protocol.body import Drive, Order
from firmware_protocol.messages import Pace, State, Verdict
from winder.simulator.board import SimulatedBody
from winder.simulator.build import RAD_PER_TURN, Build
from winder.simulator.control import NUDGE_RATE_MAX, TICK_S, Mode
from winder.simulator.draw import Told, draw_machine
from winder.simulator.machine import SimulatedMachine


def wound_to_the_cut(build: Build, plan, seed: int = 1) -> tuple[SimulatedBody, float]:
    """A body on which the cut was just made, and the speed in the tick before, counts/s."""
    body = SimulatedBody(build, seed, ())
    body.obey(Drive(Order.WIND, (plan,)))
    speed = 0.0
    while not body.control.arrived:
        speed = body.spindle.speed
        body.step()
        assert body.tick < 100_000 and body.control.trip == 0
    return body, speed


@pytest.mark.parametrize("counts", [20, 60, 333])
def test_the_drive_is_cut_by_the_edge_itself_and_not_by_the_next_tick(counts):
    """From the creep only the braking distance v^2 / (2 a) is run over; a tick would add a v t."""
    build = dataclasses.replace(Build(), counts_per_turn=counts, brake_nm=0.2)
    told = Told(counts, True, 1500.0, 600.0, 700.0, 5000.0, 0.1)
    body, speed = wound_to_the_cut(build, leg(told, 0, 20, 600.0))
    while body.spindle.speed:
        body.step()
    slowing = (0.2 + build.coulomb_nm) / build.inertia_kg_m2 / RAD_PER_TURN  # turns/s2
    braked_turns = (speed / counts) ** 2 / (2 * slowing)
    assert body.spindle.turns - 20 == pytest.approx(braked_turns, rel=0.05)
    assert speed / counts * TICK_S > 3 * braked_turns  # a tick's delay would show


def test_the_speed_at_the_cut_is_the_creep():
    """Friction off by 30 %, one drive in two with a brake: still within a third of what was asked."""
    looked_at = 0
    for seed in range(90):
        build, told = draw_machine(seed)
        if told.counts_per_turn < 20:
            continue
        plan = leg(told, 0, 60, told.speed_rpm_max * 0.7)
        _, speed = wound_to_the_cut(build, plan, seed)
        assert 0.67 < speed / (plan.creep_mcps / 1000) < 1.33, (seed, told)
        looked_at += 1
    assert looked_at > 40


# --- few counts a turn ------------------------------------------------------------------------


def one_count(braking_rpm_s: float | None) -> tuple[Build, Told]:
    """One count a turn, little friction, and a brake that is weak or missing."""
    told = Told(1, False, 1500.0, 600.0, 300.0, braking_rpm_s, None)
    per_rpm_s = 5e-5 * RAD_PER_TURN / 60  # torque for 1 rpm/s
    build = dataclasses.replace(
        Build(),
        counts_per_turn=1,
        direction_sense=False,
        viscous_nm_s=0.0,
        coulomb_nm=300.0 * per_rpm_s,
        brake_nm=None if braking_rpm_s is None else (braking_rpm_s - 300.0) * per_rpm_s,
        traverse_travel_m=None,
    )
    return build, told


@pytest.mark.parametrize("braking_rpm_s", [None, 1000.0, 2000.0])
def test_what_must_coast_uses_its_brake_ends_short_and_is_nudged(braking_rpm_s):
    build, told = one_count(braking_rpm_s)
    plan = leg(told, 0, 40, 900.0)
    assert plan.coast_counts > 0
    bench = Bench(SimulatedMachine(build))
    bench.load((plan,))
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    assert bench.machine.body.control.nudges == 1
    assert 0.0 <= bench.machine.turns - 40 < 0.3


def nudged(coast_counts: int) -> tuple[SimulatedBody, list[float], float]:
    """A long way to be nudged: the body at rest, the duty tick by tick, the speed at the edge."""
    build, told = one_count(None)
    plan = dataclasses.replace(leg(told, 0, 40, 900.0), coast_counts=coast_counts)
    body = SimulatedBody(build, 1, ())
    body.obey(Drive(Order.WIND, (plan,)))
    duties, speed = [], 0.0
    while not body.control.arrived:
        if body.control.mode is Mode.NUDGE:
            duties.append(body.control.duty)
            speed = body.spindle.speed
        body.step()
        assert body.tick < 100_000
    while body.spindle.speed:
        body.step()
    return body, duties, speed


@pytest.mark.parametrize("coast_counts", [4, 8, 16])
def test_a_nudge_rises_slowly_and_stays_gentle_however_long_its_way(coast_counts):
    body, duties, speed = nudged(coast_counts)
    rises = [after - before for before, after in itertools.pairwise(duties[1:])]
    assert max(rises) <= NUDGE_RATE_MAX * TICK_S * 1.001
    assert 0.0 < speed < 2.5  # turns/s; the coasting from there is under 0.3 turn
    assert int(body.spindle.turns) == 40 and body.spindle.turns - 40 < 0.3


def test_a_nudge_begins_below_the_friction_it_knows():
    body, duties, _ = nudged(4)
    assert 0.0 < duties[1] < body.control.friction_duty
    assert max(duties) < 2 * body.control.friction_duty


def test_a_new_pace_does_not_disturb_a_nudge():
    build, told = one_count(None)
    bench = Bench(SimulatedMachine(build))
    bench.load((leg(told, 0, 40, 900.0),))
    bench.start()
    while bench.machine.body.control.mode is not Mode.NUDGE:
        bench.run(0.02)
    assert bench.ask(Pace(**bench.beliefs(), permille=500)) == Verdict.DONE
    assert bench.machine.body.control.mode is Mode.NUDGE
    assert bench.run_to_rest().state == State.COMPLETE
    assert int(bench.machine.turns) == 40
    assert bench.machine.body.control.nudges == 1
