"""What the firmware takes of an RP2040, and how fast it counts there. A script, not a test.

    python tests/benchmarks/bench_rp2040.py

In virtual time, with Debian's arm-none-eabi-gcc 12.2.1 and rp2040js 1.4.1: for each kind of sensor the first loss of a
rising row of rates (counts a second, from the claimed one on) with everything on, and of the first of all sizes, stack
and the cycles of each interrupt. With everything on means: the speed loop at work, the guide led to and fro as fast as it
follows, telemetry, 20 commands and 5 signs of life a second, and all inputs looked at. A board claims the lesser of 500000
counts a second and half of its first loss; exit code 1 where it claims more.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "firmware")]

from emulator.board import FOUR_EDGES, ONE_PULSE, TWO_EDGES, bench  # noqa: E402
from emulator.rp2040_board import Rp2040Board  # noqa: E402
from emulator.rp2040_chip import VECTORS  # noqa: E402
from emulator.rp2040_limits import Run, run_at  # noqa: E402
from emulator.rp2040_tools import missing_tools  # noqa: E402
from emulator.traffic import BusyHost  # noqa: E402

MEMORY_BYTES = 256 * 1024
STEP_CPS, FINE_CPS, MOST_CPS = 50_000, 10_000, 2_000_000
CLAIM_MOST_CPS = 500_000
SENSORS = {FOUR_EDGES: "four edges", TWO_EDGES: "two edges", ONE_PULSE: "one pulse"}


def allowed_cps(first_loss_cps: float) -> float:
    """The most that a board may claim."""
    return min(CLAIM_MOST_CPS, first_loss_cps / 2)


def sizes(run: Run) -> None:
    program, chip = run.board.binary, run.board.chip
    print("| flash | of it copied to memory and variables | deepest stack | never used |")
    print("|---|---|---|---|")
    used = chip.stack_used()
    copied = program.variables_end - 0x2000_0000
    print(f"| {program.flash} | {copied} | {used} | {MEMORY_BYTES - copied - used} |")


def interrupts(run: Run) -> None:
    print("| interrupt | calls | least | mean | most |")
    print("|---|---|---|---|---|")
    for number, name in VECTORS.items():
        times = run.board.chip.vector(number)
        print(f"| {name} | {times.calls} | {times.least} | {times.mean:.0f} | {times.most} |")
    print(f"\nlongest wait of an edge for its interrupt: {run.latency_cycles} cycles")


def claimed_cps(sensor: int) -> int:
    return BusyHost(Rp2040Board(bench(20, sensor), filter_us=0)).open().edge_rate_max_cps


def show(run: Run) -> None:
    print(
        f"| {run.rate_cps} | {run.reached_cps:.0f} | {run.counted} of {run.injected} | {run.overruns} "
        f"| {run.resent} | {run.steps} | {run.tripped.name} |",
        flush=True,
    )


def to_first_loss(sensor: int) -> tuple[Run, Run]:
    """The rows of one sensor, coarse and then fine: the first run, and the slowest that lost a count."""
    print(
        "| asked | reached | counted of injected | bytes overrun | commands sent again | steps | trip |"
    )
    print("|---|---|---|---|---|---|---|")
    runs: list[Run] = []

    def lossless_at(rate_cps: int) -> bool:
        runs.append(run_at(rate_cps, sensor=sensor))
        show(runs[-1])
        return runs[-1].lossless

    lost_cps = next(
        rate_cps
        for rate_cps in range(claimed_cps(sensor), MOST_CPS, STEP_CPS)
        if not lossless_at(rate_cps)
    )
    for rate_cps in range(lost_cps - STEP_CPS + FINE_CPS, lost_cps, FINE_CPS):
        if not lossless_at(rate_cps):
            break
    return runs[0], min((run for run in runs if not run.lossless), key=lambda run: run.reached_cps)


def main() -> int:
    if missing := missing_tools():
        raise SystemExit(f"not run: {missing} missing")
    began_s, runs = time.perf_counter(), {}
    for sensor, name in SENSORS.items():
        print(f"\n{name}:\n")
        runs[sensor] = to_first_loss(sensor)
    print("\n| sensor | first loss, counts/s | may claim | claims |\n|---|---|---|---|")
    for sensor, (first, lost) in runs.items():
        most = allowed_cps(lost.reached_cps)
        print(f"| {SENSORS[sensor]} | {lost.reached_cps:.0f} | {most:.0f} | {first.rate_cps} |")
    fastest = runs[FOUR_EDGES][0]
    print("\nbytes:\n")
    sizes(fastest)
    print(f"\ncycles of 8 ns, entry and return included, at {fastest.rate_cps} counts/s asked:\n")
    interrupts(fastest)
    print(f"\nall of this took {time.perf_counter() - began_s:.0f} s")
    return int(any(f.rate_cps > allowed_cps(lost.reached_cps) for f, lost in runs.values()))


if __name__ == "__main__":
    sys.exit(main())
