"""Runs of the fault campaigns: a file of their sums, and their tables on the page, which are written from it.

On the page a table stands between ``<!-- measured: NAME -->`` and ``<!-- end measured -->``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from .chip_faults_run import Case, Row

FIGURES = Path(__file__).with_name("fault_sums.json")
PAGE = Path(__file__).parents[2] / "docs" / "firmware_faults.md"
_TABLE = re.compile(r"(<!-- measured: (\w+) -->\n).*?(<!-- end measured -->)", re.DOTALL)
_HEADS = "fault | rows | hold | tripped | unseeable | latest trip, s | peak rpm | the first that does not"


@dataclass(frozen=True, slots=True)
class Sum:
    """All rows of one fault. Seconds and rpm are the greatest."""

    fault: str
    rows: int
    held: int
    tripped: int
    unseeable: int
    after_s: float
    peak_rpm: float
    first_why: str


def sums_of(rows: Iterable[Row], cases: Iterable[Case]) -> list[Sum]:
    """In the order of the cases."""
    kinds: dict[str, list[Row]] = {case.fault: [] for case in cases}
    for row in rows:
        kinds[row.fault].append(row)
    return [
        Sum(
            fault,
            len(those),
            sum(row.holds for row in those),
            sum(row.tripped for row in those),
            sum(row.why.startswith("unseeable") for row in those),
            max(row.after_s or 0.0 for row in those),
            max(row.peak_rpm for row in those),
            next((f"{row.sensor}, {row.why}" for row in those if not row.holds), ""),
        )
        for fault, those in kinds.items()
        if those
    ]


def sums_table(sums: Iterable[Sum]) -> str:
    lines = [f"| {_HEADS} |", "|---" * 8 + "|"]
    for one in sums:
        figures = f"{one.rows} | {one.held} | {one.tripped} | {one.unseeable}"
        greatest = f"{one.after_s:.2f} | {one.peak_rpm:.0f}"
        lines.append(f"| {one.fault} | {figures} | {greatest} | {one.first_why} |")
    return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class Kept:
    """What was run of so many rows."""

    of: int
    sums: list[Sum]


def known() -> dict[str, Kept]:
    kept: Mapping[str, Any] = json.loads(FIGURES.read_text())
    return {
        name: Kept(run["of"], [Sum(**one) for one in run["sums"]]) for name, run in kept.items()
    }


def page_text(page: str, figures: Mapping[str, Kept]) -> str:
    """The page with each table as the figures are."""

    def table(found: re.Match[str]) -> str:
        kept = figures[found[2]]
        rows, held, blind = (
            sum(getattr(one, field) for one in kept.sums) for field in ("rows", "held", "unseeable")
        )
        said = f"Of {kept.of} rows {rows} were run, and {held} hold: {blind} of them because nobody could see the fault."
        return f"{found[1]}{said}\n\n{sums_table(kept.sums)}\n{found[3]}"

    return _TABLE.sub(table, page)


def keep(name: str, run: Kept) -> None:
    """Into the file, and onto the page."""
    figures = (known() if FIGURES.exists() else {}) | {name: run}
    plain = {one: asdict(figures[one]) for one in sorted(figures)}
    FIGURES.write_text(json.dumps(plain, indent=1) + "\n")
    PAGE.write_text(page_text(PAGE.read_text(), figures))
