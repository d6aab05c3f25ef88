"""What the RP2040 keeps in its flash: settings, boot number and record, over a power that fails at any write or erasure.

A few moments of each; ``python -m tests.campaigns.rp2040_memory`` tries every one.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from emulator.board import FOUR_EDGES, bench, kept_twice
from emulator.rp2040_board import (
    GP,
    MEMORY_BYTES,
    OUTPUTS,
    SECTOR_BYTES,
    STORE_AT,
    UART,
    USB,
    Rp2040Board,
    log_of,
    memory_of,
    memory_with,
)
from emulator.rp2040_scenes import (
    full_log,
    kept_after_rest,
    memory_after_boot,
    operations_of_a_boot,
    settings_after_write,
)
from emulator.rp2040_tools import needs_rp2040_tools
from emulator.traffic import BusyHost

from firmware_protocol.messages import OpenWind, State, Trip, Verdict
from firmware_protocol.settings import UNTAUGHT, Settings, write_of
from firmware_protocol.vocabulary import LineSpeed, Low

pytestmark = needs_rp2040_tools
MACHINE = bench(20, FOUR_EDGES)


def told(host: BusyHost) -> Settings:
    host.end.read_settings()
    (found,) = (heard for heard in host.live(0.1) if isinstance(heard, Settings))
    return found


def test_a_log_is_read_as_it_was_written():
    memory = {7: 1, 200: 0, 0: 254}
    flash = log_of(memory).ljust(SECTOR_BYTES, b"\xff") + log_of({7: 9}, 2)
    assert memory_of(flash)[7] == 9
    assert [memory_of(log_of(memory))[at] for at in (7, 200, 0, 1)] == [1, 0, 254, 255]


def test_one_that_was_never_taught_drives_no_pin():
    board = Rp2040Board(MACHINE, taught=False)
    host = BusyHost(board)
    welcome = host.open()
    assert welcome.groups == bytes((1, 0, 0, 0, 0, 1))
    assert told(host) == UNTAUGHT
    for name in (*OUTPUTS, "STEP", "RIGHT"):
        assert board.chip.output(GP[name]) is None, name


@pytest.mark.parametrize(("over", "low"), [(USB, 0), (UART, sum(Low))])
def test_settings_are_written_told_and_in_force_at_the_pins(over, low):
    """Over USB the port stays as it is while the board boots anew; the serial line takes its other speed."""
    board = Rp2040Board(MACHINE, over, taught=False)
    content = replace(Rp2040Board(MACHINE).settings, low=low, line=LineSpeed.SLOW)
    host = BusyHost(board)
    host.open()
    assert host.ask(write_of(content, 0, 0, 0)) is Verdict.DONE
    board.chip.set_host_baud(115_200)
    board.run_s(1.2)
    again = BusyHost(board, token=7)
    assert again.open().boot == 2
    assert told(again) == content
    assert (again.status.state, again.status.trip) == (State.STILL, Trip.NONE)
    for name in OUTPUTS[:-1]:
        assert board.chip.output(GP[name]) is bool(low & Low[name]), name
    assert board.chip.output(GP["CONTACTOR"]) is not bool(low & Low.CONTACTOR)
    assert board.chip.state["connected"] is (over == USB)
    board.assert_sound()


def test_with_a_wind_open_it_keeps_what_it_has():
    board = Rp2040Board(MACHINE)
    host = BusyHost(board)
    host.open()
    assert host.ask(OpenWind(0, 0, 0, 5)) is Verdict.DONE
    assert host.ask(write_of(replace(board.settings, dead_ms=9), 0, 0, 0)) is Verdict.WRONG_STATE
    assert board.memory()[-96:] == kept_twice(board.settings)


@pytest.mark.parametrize(("copy", "due"), [(0.1, "old"), (1.0, "either"), (1.1, "new")])
def test_settings_torn_by_a_power_cut_are_the_old_or_the_new(copy, due):
    """``copy``: so far in the writing of the two copies, of which only bytes are written that differ."""
    board = Rp2040Board(MACHINE)
    before, after = (
        board.settings,
        replace(board.settings, number=0xFEDCBA98, cut_ms=1234, rest_ms=7777),
    )
    differ = sum(
        a != b for a, b in zip(kept_twice(before)[:48], kept_twice(after)[:48], strict=True)
    )
    memory, failed = settings_after_write(board, after, math.ceil(copy * differ))
    assert failed, "the power did not fail: the test proves nothing"
    found = {kept_twice(before): "old", kept_twice(after): "new"}.get(memory[-96:], "torn")
    assert found == due or (due == "either" and found != "torn")
    board.assert_sound(resets=int(failed))


@pytest.mark.parametrize("at", [1, -4, 0])
def test_a_boot_that_begins_a_sector_survives_a_power_cut_at_any_of_its_writes(at):
    """``at``: the so manieth; not above 0: from the last on."""
    board = Rp2040Board(MACHINE)
    memory = memory_with(board.settings) | {0: 5, 1: 0, 2: 250, 3: 255, 40: 77}
    at = at if at > 0 else operations_of_a_boot(memory) + at
    after, failed = memory_after_boot(board, full_log(memory), at)
    assert failed, "the power did not fail: the test proves nothing"
    assert board.chip.state["flash"]["erasures"] >= 1, "no sector was begun"
    boots = [
        int.from_bytes(after[i : i + 2], "little") for i in (0, 4) if after[i] ^ after[i + 2] == 255
    ]
    assert max(boots) in (6, 7), "a boot number went back, or ran ahead"
    assert all(after[place] == byte for place, byte in memory.items() if place > 7)
    assert len(after) == MEMORY_BYTES
    board.assert_sound(resets=1)


@pytest.mark.parametrize("at", [10])
def test_a_record_torn_by_a_power_cut_vouches_for_no_false_count(at):
    kept = kept_after_rest(Rp2040Board(MACHINE), at)
    assert kept.holds, kept


def test_a_place_of_the_flash_that_takes_nothing_is_gone_round():
    """A worn place: the core writes its record elsewhere, and what it kept is read after a reset."""
    board = Rp2040Board(MACHINE)
    board.run_s(0.2)
    flash = bytes.fromhex(board.chip.call("kept", STORE_AT, SECTOR_BYTES))
    used = STORE_AT + len(flash.rstrip(b"\xff"))
    board.chip.call("wear", used + 8, used + 12)
    kept = kept_after_rest(board, 0)
    assert kept.at_rest and kept.count == kept.true
