"""What outlives the power: power lost at every moment of a write leaves the old record or the new one.

A byte that was being written when the power went may hold anything; memory as it comes from the factory is
all ones. Chips that keep bytes so promise some 100000 writes of each.
"""

from __future__ import annotations

import ctypes
import random

import pytest
from host.bench import WIND, leg, wound
from host.core import Core, Machine, needs_compiler

from firmware_protocol.connection import NS_PER_MS
from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import EndAction, Hello, Kept, Start, State, Trip, Welcome
from firmware_protocol.wire import unpack

pytestmark = needs_compiler

BOTH = Kept.VALID | Kept.AT_REST


def memory_of(machine: Core) -> bytes:
    return bytes(machine.host.nv)


def welcome_after_boot(core: Core, memory: bytes) -> Welcome:
    """What a board says that wakes up with this memory."""
    ctypes.memmove(core.host.nv, memory, len(memory))
    core.boot()
    core.receive(b"\0" + encode_message(Hello(1, 77)))
    messages = [unpack(f.kind, f.payload) for f in FrameReader().feed(core.data_to_send())]
    return next(message for message in messages if isinstance(message, Welcome))


def test_a_new_memory_keeps_nothing_and_the_first_boot_is_one():
    welcome = welcome_after_boot(Core(), b"\xff" * 1024)
    assert (welcome.boot, welcome.kept_flags, welcome.kept_wind) == (1, 0, 0)


def test_boots_are_numbered_on_and_wrap():
    core = Core()
    boots = [welcome_after_boot(core, memory_of(core)).boot for _ in range(5)]
    assert boots == [1, 2, 3, 4, 5]
    last = bytes((0xFF, 0xFF, 0, 0, 0xFE, 0xFF, 1, 0))
    memory = last + memory_of(core)[8:]
    assert welcome_after_boot(core, memory).boot == 0
    assert welcome_after_boot(core, memory_of(core)).boot == 1


def test_a_torn_boot_number_is_the_one_before():
    core = Core()
    for _ in range(3):
        before = memory_of(core)
        boot = welcome_after_boot(core, before).boot
        after = memory_of(core)
        changed = [at for at in range(8) if after[at] != before[at]]
        for torn in changed[:-1]:
            memory = after[: torn + 1] + before[torn + 1 :]
            assert welcome_after_boot(Core(), memory).boot in (boot, boot + 1)


def test_every_moment_of_power_loss_leaves_the_old_record_or_the_new():
    chance = random.Random(1)
    machine = Machine(1)
    legs = (leg(0, 300, EndAction.PAUSE), leg(1, 600, EndAction.COMPLETE))
    bench = wound(machine, *legs)
    first = bench.to_rest().count
    bench.run(200)
    waking = Core()
    assert _kept(waking, memory_of(machine)) == (WIND, first, BOTH)
    bench.start()
    bench.run(100)
    assert _kept(waking, memory_of(machine)) == (WIND, first, Kept.VALID)
    while bench.status.state in (State.WINDING, State.SLOWING):
        bench.run(1)
    second = bench.status.count
    seen = set()
    for _ in range(150):
        before, writes = memory_of(machine), machine.host.nv_writes
        bench.run(1)
        memory = memory_of(machine)
        kept = _kept(waking, memory)
        seen.add(kept)
        if machine.host.nv_writes != writes:
            torn = bytearray(memory)
            at = next((n for n in range(1024) if before[n] != memory[n]), None)
            if at is not None:
                torn[at] = chance.randrange(256)
                seen.add(_kept(waking, bytes(torn)))
    old, new = (WIND, first, Kept.VALID), (WIND, second, BOTH)
    assert {old, new} <= seen <= {old, new, (WIND, second, Kept.VALID)}  # a torn mark is no rest


def _kept(core: Core, memory: bytes) -> tuple[int, int, int]:
    welcome = welcome_after_boot(core, memory)
    return welcome.kept_wind, welcome.kept_count, welcome.kept_flags


@pytest.mark.parametrize("wait_ms", range(0, 80, 7))
def test_a_start_that_overtakes_the_record_leaves_no_rest_vouched_for(wait_ms):
    machine = Machine(1)
    legs = (leg(0, 300, EndAction.PAUSE), leg(1, 600, EndAction.COMPLETE))
    bench = wound(machine, *legs)
    while bench.status.state is not State.PAUSED:
        bench.run(1)
    bench.run(wait_ms)
    from_count = bench.status.count
    bench.host.send(Start(**bench.beliefs(), generation=1), bench.now_ms * NS_PER_MS)
    waking = Core()
    while bench.status.count == from_count:
        bench.run(1)
        if machine.turned > from_count:
            assert not _kept(waking, memory_of(machine))[2] & Kept.AT_REST
    assert not _kept(waking, memory_of(machine))[2] & Kept.AT_REST
    assert 600 <= bench.to_rest().count == machine.turned <= 601


def test_records_go_round_so_that_no_byte_wears_out():
    machine = Machine(1)
    end = 8 * 20
    legs = [
        leg(n, 20 * (n + 1), EndAction.COMPLETE if n == 7 else EndAction.PAUSE) for n in range(8)
    ]
    bench = wound(machine, *legs)
    used, motion = set(), set()
    before = memory_of(machine)
    for n in range(8):
        if n:
            bench.start()
        bench.to_rest()
        bench.run(150)
        now = memory_of(machine)
        used |= {(at - 136) // 15 for at in range(136, 1024) if now[at] != before[at]}
        motion |= {(at - 8) // 2 for at in range(8, 136) if now[at] != before[at]}
        before = now
    assert bench.status.count in (end, end + 1)
    assert len(used) == 8
    assert len(motion) == 15  # set and cleared once a motion; the first was set before


MOTION_AT, SLOTS_AT, SLOT_BYTES = 8, 136, 15


def kept_over(machine: Machine) -> tuple[int, int]:
    welcome = welcome_after_boot(machine, memory_of(machine))
    return welcome.kept_count, welcome.kept_flags


@pytest.mark.parametrize("at", [0, 7, 10, 14])
def test_a_worn_byte_sends_the_record_on_to_the_next_place(at):
    machine = Machine(1)
    machine.host.worn_at, machine.host.worn_bytes = SLOTS_AT + SLOT_BYTES + at, 1
    bench = wound(machine, leg(0, 400, EndAction.COMPLETE))
    bench.to_rest()
    bench.run(400)
    assert kept_over(machine) == (bench.status.count, BOTH)


def test_a_mark_that_cannot_be_taken_back_is_written_anew_elsewhere():
    machine = Machine(1)
    legs = (leg(0, 100, EndAction.PAUSE), leg(1, 900, EndAction.COMPLETE))
    bench = wound(machine, *legs)
    bench.to_rest()
    bench.run(200)
    machine.host.worn_at, machine.host.worn_bytes = SLOTS_AT, 2 * SLOT_BYTES
    bench.start()
    bench.run(600)
    _, flags = kept_over(machine)
    assert flags == Kept.VALID  # in motion: not at rest, whatever the worn byte says


def test_motion_is_remembered_past_worn_cells():
    machine = Machine(1)
    machine.host.worn_at, machine.host.worn_bytes = MOTION_AT, 6
    bench = wound(machine, leg(0, 4000, EndAction.COMPLETE))
    bench.run(800)
    assert bench.status.count > 0
    machine.boot()
    bench.run(60)
    assert bench.status.trip is Trip.RESET_IN_MOTION


def test_a_memory_that_is_worn_out_keeps_nothing_and_the_board_winds_on():
    machine = Machine(1)
    machine.host.worn_at, machine.host.worn_bytes = SLOTS_AT, 1024 - SLOTS_AT
    bench = wound(machine, leg(0, 400, EndAction.COMPLETE))
    assert bench.to_rest().state is State.COMPLETE
    bench.run(2000)
    assert kept_over(machine)[1] == 0
