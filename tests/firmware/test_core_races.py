"""Edges and bytes that come at the worst moment: between a look and what follows from it.

A chip's interrupts may come wherever they are on. Here one comes as the core lets interrupts on again for the
so-manieth time, for every number until the command's work is done.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable

from host.bench import Bench, leg, wound
from host.core import CSettings, Machine, needs_compiler

from firmware_protocol.connection import NS_PER_MS
from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.heard import Answered
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


def told_to(make: Callable[[Bench], object], locks: int) -> tuple[Bench, object]:
    """Two of a plan's three counts are there; then this command is taken, and an edge comes at that lock."""
    machine = Machine(1)
    machine.host.direction_sense = True
    bench = Bench(machine)
    bench.open()
    bench.load(leg(0, 3, COMPLETE))
    machine.edge()
    machine.edge()
    bench.run(200)
    assert bench.status.count == 2
    command = bench.host.send(make(bench), bench.now_ms * NS_PER_MS)
    data = bench.host.data_to_send(bench.now_ms * NS_PER_MS)
    machine.host.locks_to_edge = locks
    machine.receive(data)
    return bench, command


def locks_of(make: Callable[[Bench], object]) -> int:
    bench, _ = told_to(make, 10_000)
    return 10_000 - int(bench.machine.host.locks_to_edge)


def start_of(bench: Bench) -> Start:
    return Start(**bench.beliefs(), generation=1)


def move_of(bench: Bench) -> Move:
    return Move(**bench.beliefs(), counts=40, rate_mcps=200_000, accel_mcps2=300_000)


def test_a_hand_that_turns_the_last_count_as_start_is_taken_leaves_nothing_to_drive():
    verdicts = set()
    for lock in range(1, locks_of(start_of) + 1):
        bench, command = told_to(start_of, lock)
        assert bench.machine.host.locks_to_edge == 0, "the edge came"
        driven = driven_at_all(bench, 70)
        (answer,) = (
            h.answer for h in bench.heard if isinstance(h, Answered) and h.command is command
        )
        verdicts.add(answer.verdict)
        status = bench.to_rest()
        if answer.verdict is Verdict.DONE:
            assert (status.state, status.reason) == (State.COMPLETE, Reason.TARGET)
        assert status.count == 3 and not driven
        assert bench.machine.host.brake_permille == 0
    assert verdicts == {Verdict.DONE, Verdict.WRONG_STATE}, "before the look, and behind it"


def test_an_edge_that_comes_as_a_move_begins_is_one_of_its_counts_or_none():
    """Never one that the move does not know of: it ends where it was to end, or one count on."""
    for lock in range(1, locks_of(move_of) + 1):
        bench, _ = told_to(move_of, lock)
        assert bench.machine.host.locks_to_edge == 0, "the edge came"
        status = bench.to_rest()
        assert (status.state, status.reason) == (State.ARMED, Reason.MOVE_DONE)
        assert status.count == 3 + bench.machine.turned  # three edges were no turn of the model
        assert 42 <= status.count <= 44


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
