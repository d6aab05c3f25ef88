"""Settings on the chip: written over the line, kept through power cuts, and in force at the pins."""

from __future__ import annotations

from dataclasses import replace

import pytest
from emulator.board import FOUR_EDGES, EmulatedBoard, bench
from emulator.builds import needs_cross_tools
from emulator.chip import EEPROM_BYTES, RESET_POWER
from emulator.traffic import BusyHost

from firmware_protocol.connection import HostEnd
from firmware_protocol.messages import OpenWind, State, Trip, Verdict
from firmware_protocol.settings import UNTAUGHT, Settings, write_of
from firmware_protocol.vocabulary import LineSpeed, Low
from firmware_protocol.wire import pack

pytestmark = needs_cross_tools
DDRB, PORTB = 0x24, 0x25
OUTPUTS = 0x1F
LEASE_OVER_S = 1.1
WRITING_S = 0.45  # 96 bytes of 3.4 ms, and the watchdog's patience


def settings_told(board: EmulatedBoard) -> Settings:
    host = BusyHost(board)
    host.end = HostEnd(4711)
    host.open()
    host.end.read_settings()
    (told,) = (heard for heard in host.live(0.2) if isinstance(heard, Settings))
    board.run_s(LEASE_OVER_S)
    return told


def written(board: EmulatedBoard, content: Settings) -> Verdict:
    """The answer; the chip then goes on writing."""
    host = BusyHost(board)
    host.open()
    status = host.status
    host.end.send(write_of(content, 0, status.boot, status.revision), board.now_ns)
    for _ in range(30):
        for heard in host.live(0.001):
            if hasattr(heard, "answer"):
                return Verdict(heard.answer.verdict)
    raise AssertionError("no answer")


def test_a_chip_that_was_never_taught_drives_no_pin():
    board = EmulatedBoard(bench(20, FOUR_EDGES), taught=False)
    board.run_s(0.5)
    assert settings_told(board) == UNTAUGHT
    assert board.chip.peek(DDRB)[0] & OUTPUTS == 0
    assert BusyHost(board).open().groups == bytes((1, 0, 0, 0, 0, 1))


@pytest.mark.parametrize("low", [0, sum(Low)])
def test_once_taught_its_outputs_are_off_at_the_level_that_was_told(low):
    board = EmulatedBoard(bench(20, FOUR_EDGES), taught=False)
    board.run_s(0.2)
    content = replace(EmulatedBoard(bench(20, FOUR_EDGES)).settings, low=low)
    assert written(board, content) is Verdict.DONE
    board.run_s(WRITING_S + LEASE_OVER_S)
    assert settings_told(board) == content
    assert board.chip.peek(DDRB)[0] & OUTPUTS == OUTPUTS
    off_but_contactor = OUTPUTS & ~int(Low.CONTACTOR)
    assert board.chip.peek(PORTB)[0] & off_but_contactor == low & off_but_contactor
    host = BusyHost(board)
    assert host.open().boot == 2
    assert (host.status.state, host.status.trip) == (State.STILL, Trip.NONE)


@pytest.mark.parametrize("after_s", [0.002, 0.05, 0.15, 0.17, 0.25, 0.33, 0.4])
def test_power_lost_while_it_writes_leaves_the_old_settings_or_the_new(after_s):
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    before, after = board.settings, replace(board.settings, number=0xFEDCBA98, dead_ms=9, low=31)
    after = replace(after, rest_ms=7777, cut_ms=1234, step_pm=1_250_000, friction_permille=99)
    board.run_s(0.2)
    assert written(board, after) is Verdict.DONE
    board.run_s(after_s)
    board.chip.reset(RESET_POWER)
    board.run_s(0.6)
    told = settings_told(board)
    assert told in (before, after)
    kept = board.chip.eeprom()[EEPROM_BYTES - 96 :]
    assert kept[:44] == kept[48:92] == pack(told), "the torn copy was not mended"
    assert board.chip.ee_too_soon == 0


def test_the_line_takes_its_other_speed_with_the_new_boot():
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    board.run_s(0.2)
    assert written(board, replace(board.settings, line=LineSpeed.SLOW)) is Verdict.DONE
    board.run_s(WRITING_S + 0.3)
    board.chip.set_host_baud(115_200)
    assert settings_told(board).line is LineSpeed.SLOW


def test_with_a_wind_open_the_chip_keeps_what_it_has():
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    host = BusyHost(board)
    host.open()
    assert host.ask(OpenWind(0, 0, 0, 5)) is Verdict.DONE
    kept = board.chip.eeprom()
    content = replace(board.settings, dead_ms=9)
    assert host.ask(write_of(content, 0, 0, 0)) is Verdict.WRONG_STATE
    host.live(0.3)
    assert board.chip.eeprom()[EEPROM_BYTES - 96 :] == kept[EEPROM_BYTES - 96 :]
