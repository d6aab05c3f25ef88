"""Storms of disturbances on a sensor of one channel, drawn by seed: does what is claimed of the count hold?

    python -m tests.campaigns.chip_faults_storms [--runs N] [--first SEED] [--failing] [--jobs N]

Each run is a wind of the whole program on the unmodified binary in its emulator. A storm begins while the spindle
turns: 1 to 400 pulses against the level, 100 to 250 a second, 20 us to 2 ms long, even or scattered, at any place
between two edges. The sensor gives 1 to 100 counts a turn, the spindle turns at 100 to 1500 rpm. Two claims are
judged by the true count at the sensor: the campaign's own rule (``chip_faults_claim``) and the program's account.

One channel cannot tell a pulse that lasts as long as a true one at the highest speed, nor a single one that comes as
late. Such runs have lines of their own: the exit code is 1 if a run that could be seen does not hold.
"""

from __future__ import annotations

import argparse
import dataclasses
import math
import random
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from firmware_protocol.messages import Status, Trip
from tests.firmware.emulator.board import ONE_PULSE, EmulatedBoard, bench
from tests.firmware.emulator.winding import EmulatedWind, coil_of
from winder.coil.winding import figure_coil
from winder.wind.model import Phase

from .chip_faults_claim import MOVING, Heard, claim
from .chip_faults_run import PEAK, PEAK_ONE, RPM_MAX

SEEN = "tripped, or more than one edge told"
UNSEEN = "one edge told at most, no trip"
AS_TRUE = "pulses as long as true ones at the highest speed"
COUNTS = (1, 2, 4, 8, 20, 50, 100)
STORM_S = 12.0  # after its begin, until something must have come of it
REST_S = 1.0
LEAST_CPS = 4.0  # slower than that the planner refuses


@dataclass(frozen=True, slots=True)
class Storm:
    """What is drawn. ``share``: where between two edges the first pulse begins."""

    seed: int
    counts_per_turn: int
    rpm: int
    a_second: float
    width_us: float
    times: int
    scattered: bool
    share: float
    running_s: float  # at speed before it


@dataclass(frozen=True, slots=True)
class Run:
    """How it ended. Counts of the wind; ``ruled`` and ``accounted``: least and most by either claim."""

    storm: Storm
    cause: str
    shown: int
    told: int
    true: int
    false: int
    ruled: tuple[int, int]
    accounted: tuple[int, int]

    @property
    def what(self) -> str:
        """What a board of one channel could see of it."""
        if self.storm.width_us >= 30e6 / RPM_MAX / self.storm.counts_per_turn:
            return AS_TRUE
        return SEEN if self.cause != "NONE" or self.told > 1 else UNSEEN

    @property
    def off(self) -> int:
        """By how many counts the shown number is wrong."""
        return abs(self.shown - self.true)

    @property
    def rule_holds(self) -> bool:
        return self.ruled[0] <= self.true <= self.ruled[1]

    @property
    def account_holds(self) -> bool:
        return self.accounted[0] <= self.true <= self.accounted[1]


def storm_of(seed: int) -> Storm:
    draw = random.Random(seed)
    counts = draw.choice(COUNTS)
    rpm = draw.choice((100, 240, 600, 1000, draw.randint(100, 1500)))
    return Storm(
        seed,
        counts,
        max(rpm, math.ceil(60 * LEAST_CPS / counts)),
        draw.uniform(100, 250),
        draw.choice((20.0, 100.0, 500.0, 1000.0, 2000.0)),
        draw.choice((1, 2, 5, 20, 100, 200, 400)),
        draw.random() < 0.4,
        draw.uniform(0.0, 1.0),
        draw.uniform(0.2, 1.5),
    )


def _wind(storm: Storm) -> EmulatedWind:
    turns = max(4, round(storm.rpm / 60 * 6))
    coil = coil_of(turns)
    coil = figure_coil(dataclasses.replace(coil.recipe, speed_rpm=storm.rpm))
    return EmulatedWind(EmulatedBoard(bench(storm.counts_per_turn, ONE_PULSE)), coil)


def _hear(wind: EmulatedWind, heard: list[Heard], seconds: float) -> None:
    """On for so long, and every status written down."""
    until_ns = wind.clock.now_ns() + round(seconds * 1e9)
    while wind.clock.now_ns() < until_ns:
        wind.wind.step(alive=True)
        status: Status = wind.status
        if not heard or status.uptime_ms != heard[-1].status.uptime_ms:
            heard.append(Heard(wind.board.now_ns / 1e9, status))


def run(storm: Storm) -> Run:
    """One storm."""
    wind, heard = _wind(storm), list[Heard]()
    chip = wind.board.chip
    chip.sensor.seed(storm.seed)
    wind.start()
    _hear(wind, heard, storm.rpm / 600 + storm.running_s)
    period_us = 60e6 / storm.rpm / storm.counts_per_turn
    chip.sensor.disturb(
        storm.width_us,
        1e6 / storm.a_second,
        after_us=1 + storm.share * period_us,
        times=storm.times,
        scattered=storm.scattered,
    )
    begun = wind.board.now_ns
    while wind.board.now_ns - begun < STORM_S * 1e9:
        _hear(wind, heard, 0.1)
        still = chip.speed_cps == 0 and (chip.now - chip.moved_at) / 16e6 > REST_S
        if (
            still
            and chip.disturbances >= storm.times
            and wind.status.state not in MOVING
            and wind.phase is not Phase.WINDING
        ):
            break
    _hear(wind, heard, 0.3)
    return _judged(storm, wind, heard)


def _judged(storm: Storm, wind: EmulatedWind, heard: list[Heard]) -> Run:
    truth, last = wind.wind.session.course.truth, heard[-1].status
    peak = PEAK_ONE if storm.counts_per_turn == 1 else PEAK
    rate_max_cps = RPM_MAX * peak * storm.counts_per_turn / 60
    told = claim(heard, last.wind, rate_max_cps, 3.0, one_channel=True)
    tripped = next((one.status.trip for one in heard if one.status.trip), 0)
    chip = wind.board.chip
    return Run(
        storm,
        Trip(tripped).name if tripped else "NONE",
        last.count,
        last.implausible,
        abs(chip.true_count),
        chip.disturbances,
        (told.low, told.high),
        (truth.low, truth.high),
    )


def runs(first: int, number: int, jobs: int = 1) -> Iterable[Run]:
    storms = map(storm_of, range(first, first + number))
    if jobs == 1:
        yield from map(run, storms)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(run, storms)


HEADS = ("what could be seen", "runs", "rule holds", "account holds", "shown is off by", "outside")


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.chip_faults_storms")
    parser.add_argument("--runs", type=int, default=240)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--failing", action="store_true", help="every run that does not hold")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args(words)
    made = []
    for one in runs(asked.first, asked.runs, asked.jobs):
        made.append(one)
        if asked.failing and not (one.rule_holds and one.account_holds):
            print(one, flush=True)
    print("| " + " | ".join(HEADS) + " |\n" + "|---" * len(HEADS) + "|")
    for what in (SEEN, UNSEEN, AS_TRUE):
        those = [one for one in made if one.what == what]
        outside = [one for one in those if not (one.rule_holds and one.account_holds)]
        held = f"{sum(o.rule_holds for o in those)} | {sum(o.account_holds for o in those)}"
        most, most_out = (max((o.off for o in some), default=0) for some in (those, outside))
        print(f"| {what} | {len(those)} | {held} | {most} | {most_out} |")
    seen = [one for one in made if one.what == SEEN]
    failed = sum(not (one.rule_holds and one.account_holds) for one in seen)
    print(f"{len(seen) - failed} of {len(seen)} that could be seen hold", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
