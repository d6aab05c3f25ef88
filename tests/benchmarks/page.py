"""The page of costs, written from the figures that the benchmarks left."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

PAGE = Path(__file__).parents[2] / "docs" / "costs.md"
HEAD = """\
# What everything costs

    python -m tests.benchmarks --page

runs everything on this page and writes it again, from `tests/benchmarks/figures.json`. Each figure stands beside a peer or a limit of the same run; processor times are those of one core, the least of several. Figures of two machines do not compare, ratios do.
"""
TITLES = {
    "frames": "Frames of the protocol",
    "start-up": "Start of the program",
    "rehearsals": "A rehearsal of 8000 turns at 1000 rpm",
    "campaigns": "Winds of a campaign, with their judge",
    "coils": "The coil model",
    "lays": "The lay",
    "journal": "The journal",
    "screen": "The wind screen and the line beside it",
    "stop key": "From the stop key to the stop on the line",
    "chip": "The chip of the winding board",
}
REMARKS = {
    "start-up": """\
Frozen dataclasses are ready at once ([decision 037](decisions/037-frozen-classes-ready-at-once.md)), and neither sheet nor plan of a round coil loads numpy.
""",
    "journal": """\
A wind does not wait for these commits while anything may move ([decision 036](decisions/036-the-disk-has-its-own-time.md)); a disk that hangs is below.
""",
    "rehearsals": """\
The first aim was 1700 times real time in the loop. It stops at what gives the same bytes at the same times ([decision 030](decisions/030-ordinary-ticks-in-one-go.md)). Most of the rest is the program itself: twenty statuses a second go whole through link, host end, account and watch. A closed form for steady stretches would be a second statement of the control law, and is not there.

The program's first version (commit 218b712, `python tests/benchmarks/bench_rehearsal.py` in it) makes the same turns at some 250 times real time on the same machine. The account of the count, the watch and seventy-seven kinds of faults came since. Memory grows by less than 0.1 kB a turn, for every turn can be taken off again.
""",
    "campaigns": """\
The aim was 100 faulty winds. A scene goes on for some 20 seconds of machine time: 400 steps of 0.2 ms, and no part of a step stands out. A long campaign runs on a compiled copy (`python -m tests.campaigns.compiled`), 1.6 times as fast.
""",
}


def page_text(figures: Mapping[str, Mapping[str, Any]]) -> str:
    """A table for each part; a part that has no figures is left out."""
    text = HEAD
    for part, title in TITLES.items():
        rows = [row for row in figures.values() if row["part"] == part]
        if not rows:
            continue
        text += f"\n## {title}\n\n| | figure | against | ratio |\n|---|---|---|---|\n"
        for row in sorted(rows, key=lambda row: int(row["place"])):
            against = f"{row['against']:.4g} ({row['whose']})"
            text += f"| {row['name']} | {row['figure']:.4g} {row['unit']} | {against} | {row['ratio']:.2f} |\n"
        text += f"\n{REMARKS[part]}" if part in REMARKS else ""
    return text
