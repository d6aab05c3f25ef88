"""Edges and bytes that come at the worst moment: between a look and what follows from it.

A chip's interrupts may come wherever they are on. Here one comes as the core lets interrupts on again for the
so-manieth time, for every number until the command's work is done.
"""

from __future__ import annotations

import ctypes

import pytest
from host.bench import Bench, leg, wound
from host.core import CSettings, Machine, needs_compiler

from firmware_protocol.connection import NS_PER_MS
from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import (
    CloseWind,
    EndAction,
    Hello,
    Kept,
    Move,
    Reason,
    SettleNumber,
    Start,
    State,
    Stop,
    Verdict,
    Welcome,
)
from firmware_protocol.settings import Settings, write_of
from firmware_protocol.wire import unpack

pytestmark = needs_compiler
COMPLETE = EndAction.COMPLETE
RING_BYTES = 127  # 128, one of which tells full from empty


def driven_at_all(bench: Bench, span_ms: int) -> bool:
    driven = False
    for _ in range(span_ms):
        bench.run(1)
        driven |= bench.machine.host.duty_permille != 0
    return driven


@pytest.mark.parametrize("locks", range(1, 13))
def test_a_hand_that_turns_the_last_count_as_start_is_taken_leaves_nothing_to_drive(locks):
    machine = Machine(1)
    machine.host.direction_sense = True
    bench = Bench(machine)
    bench.open()
    bench.load(leg(0, 3, COMPLETE))
    machine.edge()
    machine.edge()
    bench.run(200)
    assert bench.status.count == 2
    frame = bench.host.send(Start(**bench.beliefs(), generation=1), bench.now_ms * NS_PER_MS)
    machine.host.locks_to_edge = locks
    driven = driven_at_all(bench, 100)
    assert machine.host.locks_to_edge == 0, "the edge came"
    answers = [heard.answer for heard in bench.heard if getattr(heard, "command", None) is frame]
    status = bench.to_rest()
    if answers[0].verdict is Verdict.DONE:
        assert (status.state, status.reason) == (State.COMPLETE, Reason.TARGET)
    else:
        assert answers[0].verdict is Verdict.WRONG_STATE, "the count was there before the plan"
    assert status.count == 3 and not driven
    assert machine.host.duty_permille == machine.host.brake_permille == 0


@pytest.mark.parametrize("locks", range(1, 13))
def test_an_edge_that_comes_as_a_move_begins_is_one_of_its_counts_or_none(locks):
    """Never one that the move does not know of: it ends where it was to end, or one count on."""
    machine = Machine(1)
    machine.host.direction_sense = True
    bench = Bench(machine)
    bench.open()
    bench.host.send(
        Move(**bench.beliefs(), counts=40, rate_mcps=200_000, accel_mcps2=300_000),
        bench.now_ms * NS_PER_MS,
    )
    machine.host.locks_to_edge = locks
    status = bench.to_rest()
    assert (status.state, status.reason) == (State.STILL, Reason.MOVE_DONE)
    assert status.count == machine.turned + 1  # the edge was no turn of the model
    assert 40 <= status.count <= 42


def test_a_stop_between_the_last_edge_and_the_loop_does_not_drive_again():
    machine = Machine(1)
    bench = wound(machine, leg(0, 10, COMPLETE, rate_mcps=20_000, accel_mcps2=40_000))
    while machine.model.next_down < 9:
        bench.run(1)
    machine.edge()
    assert machine.host.duty_permille == 0, "the edge itself has cut"
    machine.receive(b"\0" + encode_message(Stop()))
    assert not driven_at_all(bench, 300)
    status = bench.to_rest()
    assert (status.state, status.reason, status.count) == (State.COMPLETE, Reason.STOP, 10)


def test_bytes_beyond_a_full_ring_are_lost_and_told_and_the_host_says_it_again():
    machine = Machine(1)
    machine.boot()
    hello = b"\0" + encode_message(Hello(1, 77))
    lost = ctypes.c_uint8.in_dll(machine.library, "link_rings")  # heads and tails lie before it
    lost = ctypes.c_uint8.from_address(ctypes.addressof(lost) + 4)
    burst = b"\0" * (RING_BYTES - len(hello) + 3) + hello
    machine.library.host_receive_only(burst, ctypes.c_size_t(len(burst)))
    machine.library.host_turns()
    assert lost.value == 3
    assert unpacked(machine) == [], "a frame without its end is no frame"
    machine.receive(hello)
    assert [type(heard) for heard in unpacked(machine)] == [Welcome]
    flood = b"\0" * (RING_BYTES + 600)
    machine.library.host_receive_only(flood, ctypes.c_size_t(len(flood)))
    assert lost.value == 255, "it stays there; nought would mean that none was lost"
    machine.library.host_turns()
    machine.receive(hello)
    assert [type(heard) for heard in unpacked(machine)] == [Welcome]


def unpacked(machine: Machine) -> list[object]:
    frames = FrameReader().feed(machine.data_to_send())
    return [unpack(frame.kind, frame.payload) for frame in frames]


def test_settings_that_come_while_a_rest_is_still_being_kept_wait_for_it():
    machine = Machine(1)
    bench = wound(machine, leg(0, 100, COMPLETE))
    while bench.status.state is not State.COMPLETE:
        bench.run(1)
    count = bench.status.count
    machine.host.nv_write_ms = (
        60_000  # so slow that the wind is closed long before the record is whole
    )
    bench.do(CloseWind(**bench.beliefs()))
    bench.do(SettleNumber(0))
    kicks, writes = machine.host.watchdog_kicks, machine.host.nv_writes
    told = bench.beliefs()
    content = {name: getattr(machine.settings, name) for name, _ in CSettings._fields_}
    content["number"] = 1234
    command = write_of(Settings(**content), 0, told["boot"], told["revision"])
    bench.host.send(command, bench.now_ms * NS_PER_MS)
    bench.run(5)
    assert machine.host.nv_writes - writes > 2 * 48, "the record's bytes and both copies"
    assert machine.host.watchdog_kicks - kicks > machine.host.nv_writes - writes
    again = Bench(machine)
    again.open()
    welcome = again.host.welcome
    assert (welcome.kept_count, welcome.kept_flags) == (count, Kept.VALID | Kept.AT_REST)
    assert machine.settings.number == 1234
