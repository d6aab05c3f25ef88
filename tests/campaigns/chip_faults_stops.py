"""After any stop the board rests within the times it told, whatever legal plan it winds by.

    python -m tests.campaigns.chip_faults_stops [--plans N] [--first SEED]

Each row is one machine and one plan by seed, stopped by a person, by a host that fell silent, by a cut, or at its
end. Seconds are counted from the moment the board could know. The exit code is 1 if a row does not hold.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass

from firmware_protocol.messages import LEASE_MS, EndAction, PlanLeg
from tests.firmware.emulator.board import EmulatedBoard, bench

from .chip_faults_claim import MOVING
from .chip_faults_host import ChipHost, leg_of

SENSORS = ((1, 1), (1, 20), (2, 20), (4, 4), (4, 20), (4, 100))  # sensor, counts a turn
STOPS = ("stop", "silence", "cut", "end")
BYTES_S = 0.02  # until a stop has crossed the line and been read


@dataclass(frozen=True, slots=True)
class Stopped:
    """One stop. Seconds; ``told`` of the welcome."""

    seed: int
    way: str
    sensor: int
    counts_per_turn: int
    rpm: float
    accel_rpm_s: float
    brake: bool
    cut_after_s: float
    cut_told_s: float
    rest_after_s: float
    rest_told_s: float

    @property
    def holds(self) -> bool:
        return self.cut_after_s <= self.cut_told_s and self.rest_after_s <= self.rest_told_s


def plan_of(draw: random.Random, counts_per_turn: int) -> tuple[PlanLeg, ...]:
    """Legs that a board has to take: any speed, any acceleration. Soft ones follow one that brings speed."""
    number, turns, legs = draw.randint(2, 3), 0.0, []
    for index in range(number):
        last = index == number - 1
        turns += 200 if last else draw.uniform(2, 15)
        rpm = draw.choice((60.0, 120.0, 300.0, 700.0, 1200.0, 1500.0))
        hard = 10 ** (draw.uniform(2, 3.5) if index == 0 else draw.uniform(0, 2))
        legs.append(
            leg_of(
                counts_per_turn,
                turns,
                rpm,
                accel_rpm_s=hard,
                creep_rpm=draw.choice((60.0, 60.0, rpm / 2)),
                index=index,
                end=EndAction.COMPLETE if last else EndAction.CONTINUE,
                coast_counts=draw.choice((0, 0, 1, 5)),
            )
        )
    return tuple(legs)


def _short(legs: tuple[PlanLeg, ...], counts_per_turn: int) -> tuple[PlanLeg, ...]:
    """The first leg alone, to be wound to its end."""
    first = legs[0]
    return (
        leg_of(
            counts_per_turn,
            4,
            first.rate_mcps / counts_per_turn * 0.06,
            accel_rpm_s=max(first.accel_mcps2 / counts_per_turn * 0.06, 60),
        ),
    )


def _push(host: ChipHost, board: EmulatedBoard, way: str, draw: random.Random) -> float:
    """Wind for a while and stop; the moment from which the board could know, s."""
    if way == "end":
        host.until(lambda: board.chip.duty > 0, 5)
        host.until(lambda: board.chip.duty == 0 and board.chip.true_count > 0, 90)
        return host.now_s
    host.until(lambda: host.status.leg >= 1 or host.status.state not in MOVING, 30)
    host.live(draw.uniform(0.1, 4.0))
    if way == "silence":
        host.live(0.25)
        host.alive = False
        return host.now_s + LEASE_MS / 1000
    host.cut() if way == "cut" else host.end.stop(board.now_ns)
    return host.now_s + BYTES_S


def stopped(seed: int) -> Stopped:
    """One machine, one plan, one stop; by seed."""
    draw = random.Random(seed)
    (sensor, counts), way = draw.choice(SENSORS), STOPS[seed % len(STOPS)]
    brake = draw.random() < 0.7
    board = EmulatedBoard(bench(counts, sensor, brake=brake))
    host, chip = ChipHost(board), board.chip
    host.open()
    legs = plan_of(draw, counts)
    host.load(*(_short(legs, counts) if way == "end" else legs))
    host.start()
    told_s = _push(host, board, way, draw)
    cut_s = host.now_s
    end_s = told_s + host.welcome.rest_ms / 1000 + 5
    while host.now_s < end_s:
        if chip.duty:
            cut_s = host.now_s
        host.live(0.004)
        if not chip.speed_cps and host.status.state not in MOVING and host.now_s > cut_s + 1:
            break
    rest_s = end_s if chip.speed_cps else chip.moved_at / 16e6
    soft = legs[0] if way == "end" else legs[1]
    return Stopped(
        seed,
        way,
        sensor,
        counts,
        round(soft.rate_mcps / counts * 0.06, 1),
        round(soft.accel_mcps2 / counts * 0.06, 1),
        brake,
        round(max(cut_s - told_s, 0.0), 2),
        0.05 if way == "cut" else host.welcome.cut_ms / 1000,
        round(max(rest_s - told_s, 0.0), 2),
        host.welcome.rest_ms / 1000,
    )


def rows(first: int, number: int) -> Iterator[Stopped]:
    yield from (stopped(seed) for seed in range(first, first + number))


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.chip_faults_stops")
    parser.add_argument("--plans", type=int, default=200)
    parser.add_argument("--first", type=int, default=1)
    asked = parser.parse_args(words)
    print(
        "| seed | stopped by | sensor | counts/turn | rpm | rpm/s | brake | cut after s | told | rest after s | told |"
    )
    print("|" + "---|" * 11)
    failed = 0
    for row in rows(asked.first, asked.plans):
        failed += not row.holds
        cells = (
            *(row.seed, row.way, row.sensor, row.counts_per_turn, row.rpm, row.accel_rpm_s),
            *("yes" if row.brake else "no", row.cut_after_s, row.cut_told_s, row.rest_after_s),
            f"{row.rest_told_s}{'' if row.holds else ' NO'}",
        )
        print("| " + " | ".join(str(cell) for cell in cells) + " |", flush=True)
    print(f"{asked.plans - failed} of {asked.plans} rest within the told times", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
