"""Every ordinary fault of sensor, motor, boot loader and supply, put to the unmodified binary in its emulator.

    python -m tests.campaigns.chip_faults [--json] [--small] [--only WORDS] [--failing] [--jobs N]

Each row is one wind in virtual time. It holds if the true count lies within what a host may claim of what it was
told, the spindle rests or an alarm was given, and it was never faster than 110 % of the machine's highest speed (120
% at one count a turn). The command's exit code is 1 if a row does not hold.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict

from tests.firmware.emulator.chip import ProgramDied

from .chip_faults_clean import CLEAN
from .chip_faults_list import FAULTS
from .chip_faults_run import Case, Row, run

CASES: tuple[Case, ...] = tuple(case for group in (*FAULTS, *CLEAN) for case in group())
SMALL_EVERY = 37  # of the cases, in the gate


def small() -> tuple[Case, ...]:
    """The first of every fault, at the middle of what it is put to."""
    seen: dict[str, list[Case]] = {}
    for case in CASES:
        seen.setdefault(case.fault, []).append(case)
    return tuple(cases[len(cases) // 2] for cases in seen.values())


def _run_one(index: int) -> Row:
    case = CASES[index]
    try:
        return run(case)
    except ProgramDied as trouble:
        raise SystemExit(f"{case.fault}, {case.counts_per_turn} counts a turn: {trouble}") from None


def rows_of(cases: Iterable[Case], jobs: int = 1) -> Iterable[Row]:
    places = [CASES.index(case) for case in cases]
    if jobs == 1:
        yield from map(_run_one, places)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(_run_one, places)


HEADS = (
    *("fault", "sensor", "counts/turn", "rpm", "cause", "after s", "peak rpm", "turns past"),
    *("shown", "claimed", "true", "holds"),
)


def line_of(row: Row) -> str:
    after = "" if row.after_s is None else f"{row.after_s:.2f}"
    claimed = f"{row.low}" if row.certainty == "exact" else f"{row.low} to {row.high}"
    cells = (
        *(row.fault, row.sensor, row.counts_per_turn, f"{row.rpm:g}", row.cause, after),
        *(f"{row.peak_rpm:.0f}", f"{row.turns_past:.1f}", row.shown, claimed, row.true),
        ("yes" + (f" ({row.why})" if row.why else "")) if row.holds else f"NO: {row.why}",
    )
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def table_head() -> str:
    return "| " + " | ".join(HEADS) + " |\n" + "|---" * len(HEADS) + "|"


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.chip_faults")
    parser.add_argument("--json", action="store_true", help="one object a line in place of a table")
    parser.add_argument("--small", action="store_true", help="one row of each fault")
    parser.add_argument("--only", default="", help="faults whose name has these words")
    parser.add_argument("--failing", action="store_true", help="only rows that do not hold")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args(words)
    cases = [case for case in (small() if asked.small else CASES) if asked.only in case.fault]
    if not asked.json:
        print(table_head())
    number = failed = 0
    for row in rows_of(cases, asked.jobs):
        number += 1
        failed += not row.holds
        if not asked.failing or not row.holds:
            print(json.dumps(asdict(row)) if asked.json else line_of(row), flush=True)
    print(f"{number - failed} of {number} rows hold", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
