"""The counter-only board, as its binary runs on its chip: it counts what was there, and nothing else."""

from __future__ import annotations

import pytest
from emulator.board import ONE_PULSE, EmulatedBoard, bench, times_of
from emulator.builds import FIRMWARE, needs_cross_tools
from emulator.chip import RESET_POWER
from emulator.traffic import BusyHost

from firmware_protocol.messages import CloseWind, Kept, OpenWind, PlanBegin, SetTarget, Verdict

pytestmark = needs_cross_tools
OWN_LINES_MAX = 240
PORTB, BEEPER = 0x25, 0x01


@pytest.fixture
def board():
    return EmulatedBoard(bench(1, ONE_PULSE), "smallest", **times_of(10_000_000))


@pytest.fixture
def host(board):
    host = BusyHost(board, commands_per_s=20)
    host.open()
    assert host.ask(OpenWind(0, 0, 0, 4711)) is Verdict.DONE
    return host


def test_it_stays_small():
    lines = sum(
        path.read_text().count("\n")
        for path in (FIRMWARE / "ports" / "smallest").iterdir()
        if path.suffix in (".c", ".h")
    )
    assert lines <= OWN_LINES_MAX


def test_it_counts_every_edge_at_twice_what_it_claims(board, host):
    claimed = host.end.welcome.edge_rate_max_cps
    board.chip.force(2 * claimed, 2 * claimed)
    host.live(1.5)
    assert host.status.count == board.chip.edges == 2 * claimed
    assert host.troubles == []
    board.assert_sound()


def test_it_is_exact_while_bytes_to_it_are_lost(board, host):
    host.lose_every(37)
    board.chip.force(5000, 10_000)
    host.live(3)
    host.lose_every(0)
    host.live(0.5)
    assert host.end.resent > 0, "nothing was lost: the test proves nothing"
    assert host.status.count == board.chip.edges == 10_000


def test_disturbances_shorter_than_its_filter_count_nothing(board, host):
    board.chip.sensor.disturb(2, 700)
    host.live(1)
    assert board.chip.disturbances > 1000
    assert host.status.count == 0


def test_it_calls_out_at_the_target_and_not_before(board, host):
    assert host.ask(SetTarget(0, 0, 0, 0, 100, 0)) is Verdict.DONE
    board.chip.force(200, 99)
    host.live(1)
    assert not board.chip.peek(PORTB)[0] & BEEPER
    board.chip.force(200, 1)
    host.live(0.3)
    assert host.status.count == 100
    assert board.chip.peek(PORTB)[0] & BEEPER
    host.live(1)
    assert not board.chip.peek(PORTB)[0] & BEEPER


def test_it_has_no_motor_commands(board, host):
    assert host.ask(PlanBegin(0, 0, 0, 0, 1, 1)) is Verdict.UNSUPPORTED


def test_the_count_is_kept_over_a_power_cut(board, host):
    board.chip.force(1000, 321)
    host.live(2)
    boot = host.status.boot
    board.chip.reset(RESET_POWER, held_s=0.1)
    again = BusyHost(board, token=99)
    welcome = again.open()
    assert welcome.boot == boot + 1
    assert (welcome.kept_wind, welcome.kept_count) == (4711, 321)
    assert welcome.kept_flags == Kept.VALID | Kept.AT_REST
    board.assert_sound(resets=1)


def test_a_power_cut_in_motion_shows_in_what_is_kept(board, host):
    board.chip.force(1000, 321)
    host.live(2)
    board.chip.force(1000, 500)
    host.live(0.3)
    board.chip.reset(RESET_POWER)
    welcome = BusyHost(board, token=99).open()
    assert welcome.kept_wind == 4711
    assert not welcome.kept_flags & Kept.AT_REST


def test_a_hung_program_begins_anew_by_its_watchdog(board, host):
    boot = host.status.boot
    board.chip.hang()
    board.run_s(0.6)
    assert board.chip.resets == 0
    assert BusyHost(board, token=99).open().boot == boot + 1


def test_a_wind_ends_and_its_count_stays_readable(board, host):
    board.chip.force(1000, 50)
    host.live(0.5)
    assert host.ask(CloseWind(0, 0, 0, 0)) is Verdict.DONE
    board.chip.force(1000, 50)
    host.live(0.5)
    assert (host.status.wind, host.status.count) == (0, 50)
