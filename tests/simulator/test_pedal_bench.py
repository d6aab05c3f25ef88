"""The pedal and the stop switch of a simulated machine, pressed by hand lines: the whole machine, its motor and its count."""

from __future__ import annotations

import dataclasses

import pytest
from bench_rig import TOLD, Bench, bench_with, leg

from firmware_protocol.messages import ClearTrip, Has, Reason, State, Trip, Verdict
from firmware_protocol.pedal import ArmPedal
from firmware_protocol.vocabulary import Wired
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.simulator.build import Build
from winder.simulator.hands import do_by_hand
from winder.simulator.machine import SimulatedMachine, identity_of
from winder.simulator.settings import said_of


def by_hand(bench: Bench, line: str, then_s: float = 0.3) -> None:
    assert do_by_hand(bench.machine, line) == ""
    bench.run(then_s)


def armed(turns: int = 400) -> Bench:
    bench = bench_with(pedal=True, legs=(leg(TOLD, 0, turns, 1000.0),))
    assert bench.ask(ArmPedal(**bench.fresh(), generation=1)) == Verdict.DONE
    bench.run(0.2)
    return bench


def test_a_machine_file_with_a_pedal_gives_a_bench_with_pedal_and_stop_switch():
    machine = dataclasses.replace(SIMULATED_BENCH, pedal=True)
    body = simulated_machine(machine, None, 1)
    identity = identity_of(body.build)
    assert identity.groups == (1, 1, 1, 1, 1, 1)
    assert identity.has & Has.PEDAL and identity.has & Has.STOP_INPUT
    assert identity.settings.inputs & Wired.PEDAL
    assert (
        said_of(identity, identity.settings) == identity
    )  # a board that boots with them says the same
    plain = identity_of(simulated_machine(SIMULATED_BENCH, None, 1).build)
    assert plain.groups[4] == 0 and not plain.has & (Has.PEDAL | Has.STOP_INPUT)


def test_a_press_winds_and_letting_go_rests_with_an_exact_count():
    bench = armed()
    by_hand(bench, "pedal down", 3.0)
    assert bench.status.state == State.WINDING and bench.machine.moving
    by_hand(bench, "pedal up", 4.0)
    assert (bench.status.state, bench.status.reason) == (State.PAUSED, Reason.PEDAL_RELEASED)
    assert not bench.machine.moving
    assert bench.status.count == bench.machine.edges > 0
    by_hand(bench, "pedal down", 2.0)
    assert bench.machine.moving


def test_the_release_is_obeyed_within_the_settling_time_and_two_ticks():
    bench = armed()
    by_hand(bench, "pedal down", 3.0)
    assert do_by_hand(bench.machine, "pedal up") == ""
    bench.run(0.15)
    assert bench.status.state != State.WINDING


def test_a_whole_coil_by_foot_ends_on_its_turn():
    bench = armed(60)
    for _ in range(40):
        if bench.status.state == State.COMPLETE:
            break
        by_hand(bench, "pedal down", 1.0)
        by_hand(bench, "pedal up", 2.0)
    assert bench.status.state == State.COMPLETE
    assert bench.status.count == bench.machine.edges == 60 * 20


def test_the_stop_switch_cuts_and_stays_latched():
    bench = armed()
    by_hand(bench, "pedal down", 3.0)
    by_hand(bench, "stop pressed", 3.0)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.STOP_PRESSED)
    assert not bench.machine.moving
    clear = ClearTrip(**bench.fresh(), trip=Trip.STOP_PRESSED)
    assert bench.ask(clear) == Verdict.CAUSE_REMAINS
    by_hand(bench, "stop released", 2.0)
    assert not bench.machine.moving
    assert bench.ask(ClearTrip(**bench.fresh(), trip=Trip.STOP_PRESSED)) == Verdict.DONE
    bench.run(2.0)
    assert not bench.machine.moving and bench.status.state == State.PAUSED


def test_the_host_dies_with_the_foot_on_the_pedal():
    bench = armed()
    by_hand(bench, "pedal down", 2.0)
    bench.alive = False
    bench.run(6.0)
    assert bench.status.reason == Reason.LEASE_LOST and not bench.machine.moving
    bench.alive = True
    bench.run(3.0)
    assert not bench.machine.moving


@pytest.mark.parametrize("line", ["pedal down", "pedal up", "stop pressed", "stop released"])
def test_a_bench_without_a_pedal_says_how_to_get_one(line):
    machine = SimulatedMachine(Build(), 1)
    assert "pedal = true" in do_by_hand(machine, line)
