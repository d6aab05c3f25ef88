"""The harness itself: repeatable to the cycle, and it sees what a real chip would suffer from."""

from __future__ import annotations

import pytest
from emulator.board import FOUR_EDGES, EmulatedBoard, bench
from emulator.builds import needs_cross_tools
from emulator.chip import HZ, RESET_POWER
from emulator.limits import run_at
from emulator.traffic import BusyHost

from firmware_protocol.framing import encode_message
from firmware_protocol.messages import Hello

pytestmark = needs_cross_tools
SECONDS = 0.4


def fresh() -> EmulatedBoard:
    return EmulatedBoard(bench(20, FOUR_EDGES))


@pytest.mark.parametrize("slice_cycles", [777, 3_200, 320_000])
def test_a_run_is_the_same_in_whatever_slices(slice_cycles):
    hashes = []
    for step in (int(SECONDS * HZ), slice_cycles):
        chip = fresh().chip
        chip.force(3000, 900)
        for number in range(20):
            chip.write(
                b"\0" + encode_message(Hello(1, 100 + number)), at=1_000_000 + 250_000 * number
            )
        while chip.now < SECONDS * HZ:
            chip.run_until(min(chip.now + step, int(SECONDS * HZ)))
        hashes.append(chip.hash)
    assert hashes[0] == hashes[1]


def test_interrupts_that_come_together_are_all_served():
    """Edges, bytes both ways and the millisecond at once: none may be dropped by the emulator."""
    run = run_at(40_000, steady_s=0.5)
    ticks = run.board.chip.vector(14).calls
    assert run.lossless
    assert abs(ticks - run.board.chip.now * 1000 / HZ) <= 2


def test_bytes_that_nobody_takes_overrun_the_receiver():
    board = fresh()
    board.run_s(0.2)
    board.chip.hang(interrupts_off=True)
    board.receive(bytes(20))
    board.run_s(0.01)
    assert board.chip.overruns == 20 - 3


def test_a_line_of_another_speed_is_not_understood_either_way():
    board = fresh()
    board.chip.set_host_baud(115_200)
    host = BusyHost(board)
    host.end.open(board.now_ns)
    host.live(1)
    assert host.end.welcome is None and host.end.frames_good == 0
    assert host.end.frames_damaged > 0


def test_the_motor_is_off_from_power_up_until_somebody_starts_it():
    board = fresh()
    board.chip.reset(RESET_POWER, held_s=0.05)
    for _ in range(3000):
        board.chip.run_until(board.chip.now + 1600)
        assert board.chip.enabled == 0 and board.chip.duty == 0 and not board.turning


def test_memory_at_power_up_is_not_trusted_to_be_zero():
    board = fresh()
    board.chip.reset(RESET_POWER)
    assert BusyHost(board).open().uptime_ms < 1000
    assert 0 < board.chip.stack_used() < 800
