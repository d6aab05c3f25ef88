"""The faults of the other chip's table, put to the RP2040's program in its emulator.

    python -m tests.campaigns.rp2040_faults [--every N] [--only WORDS] [--small] [--jobs N]

Rows and judge are those of ``chip_faults``. Left out: the rows of a board without a motor, and those of boot loaders,
which this chip has not. The loss of power, resets and a hang are put to it. Exit code 1 if a row does not hold.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from tests.firmware.emulator.board import Bench
from tests.firmware.emulator.chip import ProgramDied
from tests.firmware.emulator.rp2040_board import Rp2040Board
from tests.firmware.emulator.rp2040_tools import missing_tools

from .chip_faults import CASES, line_of, small, sums_table, table_head
from .chip_faults_run import Case, Row, Scene, run


class Rp2040Scene(Scene):
    def _board(self, machine: Bench, settings: dict[str, int]) -> Any:
        return Rp2040Board(machine, **settings)


def cases(*, of: tuple[Case, ...] = CASES) -> list[Case]:
    return [case for case in of if case.sensor and not case.loader]


def _run(number: int) -> Row:
    case = CASES[number]
    try:
        return run(case, Rp2040Scene)
    except ProgramDied as trouble:
        raise SystemExit(f"{case.fault}, {case.counts_per_turn} counts a turn: {trouble}") from None


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.rp2040_faults")
    parser.add_argument("--every", type=int, default=1, help="each so manieth row")
    parser.add_argument("--only", default="", help="faults whose name has these words")
    parser.add_argument("--small", action="store_true", help="one row of each fault")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args(words)
    if missing := missing_tools():
        print(f"not run: {missing} missing")
        return 1
    chosen = cases(of=small() if asked.small else CASES)
    numbers = [CASES.index(case) for case in chosen if asked.only in case.fault][:: asked.every]
    made: list[Row] = []
    print(table_head())
    with ProcessPoolExecutor(asked.jobs) as pool:
        for row in pool.map(_run, numbers):
            made.append(row)
            print(line_of(row), flush=True)
    print(sums_table(made))
    failed = sum(not row.holds for row in made)
    print(f"{len(made) - failed} of {len(made)} rows hold")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
