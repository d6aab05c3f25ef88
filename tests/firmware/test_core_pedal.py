"""The pedal and the stop switch of the C core over its own body and a model of a spindle, at the host port."""

from __future__ import annotations

from dataclasses import replace

import pytest
from host.bench import Bench, leg
from host.core import Machine, needs_compiler

from firmware_protocol.messages import (
    LEASE_MS,
    ClearTrip,
    EndAction,
    Flag,
    Has,
    Reason,
    State,
    Trip,
    Verdict,
)
from firmware_protocol.pedal import ArmPedal, PedalStatus
from firmware_protocol.settings import Settings, write_of
from firmware_protocol.vocabulary import PEDAL_SETTLE_MS, PedalFlag, Wired

pytestmark = needs_compiler
LONG = leg(0, 500_000, EndAction.COMPLETE)


def armed(one=LONG) -> Bench:
    machine = Machine(3)
    machine.identity.groups[4] = 1
    bench = Bench(machine)
    bench.open()
    bench.load(one)
    bench.run(60)
    bench.do(ArmPedal(**bench.beliefs(), generation=1))
    bench.run(60)
    return bench


def press(bench: Bench, span_ms: int) -> None:
    bench.machine.host.pedal_pressed = True
    bench.run(span_ms)


def let_go(bench: Bench, span_ms: int) -> None:
    bench.machine.host.pedal_pressed = False
    bench.run(span_ms)


def test_a_press_winds_and_letting_go_rests_and_pauses_and_stays_armed():
    bench = armed()
    press(bench, 1500)
    assert bench.status.state is State.WINDING
    let_go(bench, 3000)
    assert (bench.status.state, bench.status.reason) == (State.PAUSED, Reason.PEDAL_RELEASED)
    assert bench.status.count == bench.machine.turned > 0
    told = [heard for heard in bench.heard if isinstance(heard, PedalStatus)][-1]
    assert told.flags == PedalFlag.ARMED | PedalFlag.RELEASE_SEEN
    press(bench, 200)
    assert bench.status.state is State.WINDING


@pytest.mark.parametrize("held_ms", [0, 1, PEDAL_SETTLE_MS - 1, PEDAL_SETTLE_MS, 500])
def test_a_pedal_that_is_down_as_it_is_armed_moves_nothing(held_ms):
    bench = armed()
    bench.stop()
    press(bench, held_ms)
    bench.machine.host.pedal_pressed = True
    bench.do(ArmPedal(**bench.beliefs(), generation=1))
    bench.run(2000)
    assert bench.machine.turned == 0 and bench.status.state is State.ARMED
    let_go(bench, 100)
    press(bench, 100)
    assert bench.status.state is State.WINDING


def test_the_host_dies_with_the_pedal_down():
    bench = armed()
    press(bench, 1500)
    bench.operator_alive = False
    bench.run(LEASE_MS + 5000)
    assert bench.status.reason is Reason.LEASE_LOST
    stood = bench.machine.turned
    bench.operator_alive = True
    for _ in range(4):
        let_go(bench, 300)
        press(bench, 300)
    assert bench.machine.turned == stood


def test_the_stop_switch_cuts_at_once_latches_and_clears_only_once_it_is_out():
    bench = armed()
    press(bench, 1500)
    bench.machine.host.stop_pressed = True
    bench.run(1)
    assert bench.machine.host.duty_permille == 0
    bench.run(3000)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.STOP_PRESSED)
    assert bench.status.flags & Flag.STOP_PRESSED
    clear = ClearTrip(**bench.beliefs(), trip=Trip.STOP_PRESSED)
    assert bench.ask(clear).verdict is Verdict.CAUSE_REMAINS
    bench.machine.host.stop_pressed = False
    bench.run(60)
    bench.do(ClearTrip(**bench.beliefs(), trip=Trip.STOP_PRESSED))
    stood = bench.machine.turned
    bench.run(2000)
    assert bench.machine.turned == stood


def test_the_stop_switch_at_rest_refuses_a_start():
    bench = armed()
    bench.machine.host.stop_pressed = True
    bench.run(60)
    ask = ArmPedal(**bench.beliefs(), generation=1)
    assert bench.ask(ask).verdict is Verdict.STOP_PRESSED


def test_settings_with_a_pedal_bring_the_group_and_what_is_wired():
    bench = armed()
    bench.host.read_settings()
    told = next(heard for heard in bench.run(100) if isinstance(heard, Settings))
    wired = int(Wired.PEDAL | Wired.STOP_INPUT)
    machine = Machine(3)
    fresh = Bench(machine)
    fresh.host.open(0)
    fresh.run(60)
    content = replace(told, number=7, inputs=wired)
    fresh.host.send(
        write_of(content, 0, fresh.status.boot, fresh.status.revision), fresh.now_ms * 1_000_000
    )
    fresh.run(200)
    assert machine.identity.groups[4] == 1
    assert machine.identity.has & Has.PEDAL and machine.identity.has & Has.STOP_INPUT
