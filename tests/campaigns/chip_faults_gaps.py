"""Drive and brake of a whole wind, cycle by cycle: how near they came to each other.

    python -m tests.campaigns.chip_faults_gaps

A wind of three legs with a pause, a stop and a slower leg, so that the loop brakes and drives by turns.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

from firmware_protocol.messages import EndAction, Start, State
from tests.firmware.emulator.board import EmulatedBoard, bench
from tests.firmware.emulator.chip import DriveTimes

from .chip_faults_host import NO_BELIEFS, ChipHost, leg_of

SENSORS = ((1, 1), (1, 20), (2, 20), (4, 20), (4, 100))
CYCLES_A_US = 16


@dataclass(frozen=True, slots=True)
class Gaps:
    """Of one wind; ``count`` and ``true`` say that it was one."""

    sensor: int
    counts_per_turn: int
    times: DriveTimes
    count: int
    true: int


def gaps_of(sensor: int, counts: int, **settings: int) -> Gaps:
    """60 turns: 30 at 1200 rpm and a pause, 20 at 300 with a person's stop, 10 at 600."""
    board = EmulatedBoard(bench(counts, sensor), "atmega328p", **settings)
    host = ChipHost(board)
    host.open()
    host.load(
        leg_of(counts, 30, 1200, end=EndAction.PAUSE),
        leg_of(counts, 50, 300, index=1, end=EndAction.CONTINUE),
        leg_of(counts, 60, 600, index=2),
    )
    host.start()
    host.until(lambda: host.status.state == State.PAUSED, 20)
    host.do(Start(**NO_BELIEFS, generation=1))
    host.live(1.5)
    host.end.stop(board.now_ns)
    host.until(lambda: host.status.state == State.PAUSED, 10)
    host.do(Start(**NO_BELIEFS, generation=1))
    host.until(lambda: host.status.state == State.COMPLETE, 30)
    host.live(0.3)
    return Gaps(sensor, counts, board.chip.drive_times, host.status.count, board.chip.true_count)


def main() -> int:
    print(
        "| sensor | counts/turn | drive on | brake on | overlaps | longest us | least us drive to brake | brake to drive |"
    )
    print("|" + "---|" * 8)
    overlaps = 0
    for sensor, counts in SENSORS:
        t = gaps_of(sensor, counts).times
        overlaps += t.overlaps
        us = [
            f"{x / CYCLES_A_US:.2f}" for x in (t.overlap_most, t.drive_to_brake, t.brake_to_drive)
        ]
        print(
            f"| {sensor} | {counts} | {t.drives} | {t.brakes} | {t.overlaps} | {' | '.join(us)} |",
            flush=True,
        )
    return 1 if overlaps else 0


if __name__ == "__main__":
    sys.exit(main())
