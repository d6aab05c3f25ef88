"""What the winding board's program takes of its chip, on the emulated ATmega328P. The tables are ``bench_chip.py``."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.lines import Line

ROOT = Path(__file__).parents[2]
FLASH_LIMIT = 30_208  # beside a boot loader of 2 KB, and as many bytes as stay free
RAM_SPARE = 64  # bytes never used by the deepest stack, at least
EDGE_LIMIT = 332  # cycles of the sensor's interrupt, as it was once
STEP_UM_SIXTH = 6.0  # a tenth of the wire, about


def lines() -> Iterator[Line]:
    sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "firmware")]
    from emulator.builds import missing_tools

    if missing := missing_tools():
        print(f"NOT RUN, the chip: {missing} missing")
        return
    from emulator.board import FOUR_EDGES, EmulatedBoard, bench
    from emulator.builds import RAM_BYTES
    from emulator.chip import VECTOR_NAMES
    from emulator.guided import GuidedHost, turns_leg
    from emulator.limits import first_loss_cps, run_at
    from emulator.traffic import BusyHost
    from emulator.winding import EmulatedWind, coil_of

    from firmware_protocol.messages import EndAction

    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(20, pauses=(10,)))
    wind.start()
    wind.to_the_end()
    binary, stack = wind.board.binary, wind.board.chip.stack_used()
    yield Line("chip, flash", binary.flash, "bytes", FLASH_LIMIT, "limit")
    spare = RAM_BYTES - binary.variables - stack
    yield Line("chip, memory never used", spare, "bytes", RAM_SPARE, "at least")
    yield Line("chip, deepest stack", stack, "bytes", RAM_BYTES, "all its memory")
    claimed = BusyHost(EmulatedBoard(bench(20, FOUR_EDGES))).open().edge_rate_max_cps
    run = run_at(claimed)
    for number, name in VECTOR_NAMES.items():
        if (times := run.board.chip.vector(number)).calls and "sensor" in name:
            yield Line(f"chip, {name}", times.most, "cycles", EDGE_LIMIT, "once")
    loss = first_loss_cps(claimed, claimed // 5)
    yield Line("chip, first loss", loss.rate_cps, "counts a second", claimed, "claimed")
    host, leg = (
        GuidedHost(EmulatedBoard(bench(20, FOUR_EDGES))),
        turns_leg(20, 0, 120, EndAction.COMPLETE),
    )
    host.load(leg)
    host.start()
    host.to_rest()
    off = max(abs(off_um) for _, off_um in host.take_deviations((leg,)))
    yield Line("chip, guide off its place at most", off, "um", STEP_UM_SIXTH, "a tenth of the wire")
