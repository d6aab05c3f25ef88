"""Every ordinary fault of sensor, motor, boot loader and supply, put to the unmodified binary in its emulator.

    python -m tests.campaigns.chip_faults [--json] [--small] [--only WORDS] [--failing] [--sum] [--into FILE] [--jobs N]
                                         [--every N] [--page]

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
from functools import partial
from pathlib import Path

from tests.firmware.emulator.chip import ProgramDied

from .chip_faults_clean import CLEAN
from .chip_faults_list import FAULTS
from .chip_faults_run import RPM_MAX, Case, Row, Scene, run
from .fault_page import Kept, keep, sums_of, sums_table

CASES: tuple[Case, ...] = tuple(case for group in (*FAULTS, *CLEAN) for case in group())
# In the gate: nothing that differs from another fault by a figure only.
SMALL_LEAVES_OUT = (
    *("of 100 us", "of 2000 us", "reads low", "110 degrees", "interrupts off", "just behind"),
    *("with its brake", "power lost for 0.5 s,", "supply dips for 50 ms,"),
)

# Nor what the core's own tests put in more ways (test_core_disturbed.py), nor the milder of two alike.
SMALL_HAS_LIKE = (
    *("of 500 us, late", "of 20 us, just before", "a second of 20 us", "at the cut, no brake"),
    *("at rest, no brake", "70 degrees apart, 50:50", "90 degrees apart, 60:40"),
)


def small() -> tuple[Case, ...]:
    """One case of every fault, with one sensor after the other."""
    kinds: dict[str, list[Case]] = {}
    for case in CASES:
        if not any(words in case.fault for words in SMALL_LEAVES_OUT):
            kinds.setdefault(case.fault, []).append(case)
    chosen = []
    for number, cases in enumerate(kinds.values()):
        slower = [case for case in cases if case.rpm < RPM_MAX] or cases  # takes less time
        if not any(words in cases[0].fault for words in SMALL_HAS_LIKE):
            chosen.append(slower[5 * number % len(slower)])
    return tuple(chosen)


def _run_one(index: int, scene: type[Scene] = Scene) -> Row:
    case = CASES[index]
    try:
        return run(case, scene)
    except ProgramDied as trouble:
        raise SystemExit(f"{case.fault}, {case.counts_per_turn} counts a turn: {trouble}") from None


def rows_of(cases: Iterable[Case], jobs: int = 1, scene: type[Scene] = Scene) -> Iterable[Row]:
    places = [CASES.index(case) for case in cases]
    one = partial(_run_one, scene=scene)
    if jobs == 1:
        yield from map(one, places)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(one, places)


def rows_into(path: Path, cases: Iterable[Case], jobs: int, scene: type[Scene]) -> Iterable[Row]:
    """Those of the file, then those that it lacks, which are added as they come: a long run may be broken off."""
    lines = path.read_text().splitlines() if path.exists() else []
    kept = {row.case: row for row in (Row(**json.loads(line)) for line in lines)}
    asked = list(cases)
    yield from (kept[case.name] for case in asked if case.name in kept)
    if jobs == 0:
        return
    with path.open("a") as file:
        for row in rows_of((case for case in asked if case.name not in kept), jobs, scene):
            print(json.dumps(asdict(row)), file=file, flush=True)
            yield row


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


def main(
    words: list[str] | None = None,
    name: str = "chip_faults",
    cases: tuple[Case, ...] = CASES,
    scene: type[Scene] = Scene,
) -> int:
    parser = argparse.ArgumentParser(prog=f"python -m tests.campaigns.{name}")
    parser.add_argument("--json", action="store_true", help="one object a line in place of a table")
    parser.add_argument("--small", action="store_true", help="one row of each fault")
    parser.add_argument("--only", default="", help="faults whose name has these words")
    parser.add_argument("--every", type=int, default=1, help="each so manieth row")
    parser.add_argument("--failing", action="store_true", help="only rows that do not hold")
    parser.add_argument("--sum", action="store_true", help="one line a fault")
    parser.add_argument(
        "--into", type=Path, help="a file of rows: those that it lacks are run and added"
    )
    parser.add_argument("--jobs", type=int, default=1, help="with --into 0: no row more")
    parser.add_argument("--page", action="store_true", help="keep the sums, on the page too")
    asked = parser.parse_args(words)
    if asked.jobs < 1 and not (asked.into and asked.jobs == 0):
        parser.error("--jobs takes 1 or more, or 0 with --into")
    few = small() if asked.small else cases
    chosen = [case for case in cases if case in few and asked.only in case.fault][:: asked.every]
    if asked.into:
        rows = rows_into(asked.into, chosen, asked.jobs, scene)
    else:
        rows = rows_of(chosen, asked.jobs, scene)
    if not asked.json and not asked.sum:
        print(table_head())
    made = []
    for row in rows:
        made.append(row)
        if not asked.sum and (not asked.failing or not row.holds):
            print(json.dumps(asdict(row)) if asked.json else line_of(row), flush=True)
    if asked.sum:
        print(sums_table(sums_of(made, cases)))
    if asked.page:
        keep(name, Kept(len(cases), sums_of(made, cases)))
    failed = sum(not row.holds for row in made)
    print(f"{len(made) - failed} of {len(made)} rows hold", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
