"""What the firmware takes of an RP2040, and how fast it counts there. A script, not a test.

    python tests/benchmarks/bench_rp2040.py [RATE ...]

In virtual time, with Debian's arm-none-eabi-gcc 12.2.1 and rp2040js 1.4.1: the first loss of a rising row of rates (counts
a second, from the claimed one on; RATE: these instead) with everything on, and of the first of them sizes, stack and
the cycles of each interrupt. With everything on means: the speed loop at work, the guide led to and fro as fast as it follows, telemetry,
20 commands and 5 signs of life a second. This emulator is slow: a rate takes half a minute of a computer that has
nothing else to do.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "firmware")]

from emulator.board import FOUR_EDGES, bench  # noqa: E402
from emulator.rp2040_board import Rp2040Board  # noqa: E402
from emulator.rp2040_chip import VECTORS  # noqa: E402
from emulator.rp2040_limits import Run, run_at  # noqa: E402
from emulator.rp2040_tools import missing_tools  # noqa: E402
from emulator.traffic import BusyHost  # noqa: E402

MEMORY_BYTES = 256 * 1024
MOST_CPS = 2_000_000


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
    print(f"\nlongest wait of an edge for its interrupt: {run.board.chip.latency} cycles")


def show(run: Run) -> None:
    print(
        f"| {run.rate_cps} | {run.reached_cps:.0f} | {run.counted} of {run.injected} | {run.overruns} "
        f"| {run.resent} | {run.steps} | {run.tripped.name} |",
        flush=True,
    )


def limits(rates: list[int]) -> Run:
    """The row up to its first loss; returns its first run."""
    print(
        "| asked | reached | counted of injected | bytes overrun | commands sent again | steps | trip |"
    )
    print("|---|---|---|---|---|---|---|")
    first = run = run_at(rates[0])
    show(run)
    for rate_cps in rates[1:]:
        if not run.lossless:
            break
        run = run_at(rate_cps)
        show(run)
    print("\nnothing lost" if run.lossless else f"\nfirst loss at {run.rate_cps} counts/s")
    return first


def main() -> None:
    if missing := missing_tools():
        raise SystemExit(f"not run: {missing} missing")
    began_s = time.perf_counter()
    claimed_cps = BusyHost(Rp2040Board(bench(20, FOUR_EDGES))).open().edge_rate_max_cps
    print(f"claimed: {claimed_cps} counts/s\n")
    rates = [int(word) for word in sys.argv[1:]]
    first = limits(rates or list(range(claimed_cps, MOST_CPS + 1, claimed_cps // 2)))
    print("\nbytes:\n")
    sizes(first)
    print(f"\ncycles of 8 ns, entry and return included, at {first.rate_cps} counts/s asked:\n")
    interrupts(first)
    print(f"\nall of this took {time.perf_counter() - began_s:.0f} s")


if __name__ == "__main__":
    main()
