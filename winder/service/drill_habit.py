"""How far a hand drill ran on beyond its number in its last winds: by so much the call to stop comes early."""

from __future__ import annotations

import statistics

from winder.shelf.logbook import Logbook
from winder.shelf.model import RunRecord

WINDS = 5  # the newest that reached their number
COILS_LOOKED_AT = 20
EARLY_TURNS_MAX = 50.0  # more is no coasting


def overrun_turns(logbook: Logbook, machine_name: str) -> float:
    """The middle of what this drill overran in its last winds that reached their number; 0 without any."""
    found: list[float] = []
    for coil in logbook.newest_on(machine_name, COILS_LOOKED_AT):
        for run in reversed(coil.runs):
            beyond = _beyond(run) if run.machine_name == machine_name else None
            if beyond is not None:
                found.append(beyond)
        if len(found) >= WINDS:
            break
    return min(EARLY_TURNS_MAX, statistics.median(found[:WINDS])) if found else 0.0


def _beyond(run: RunRecord) -> float | None:
    """Turns that the first rest at or past the number lay beyond it."""
    for line in run.lines:
        if line.counts is not None and line.kind in ("at rest", "complete"):
            beyond = line.counts - run.plan.target_counts
            if beyond >= 0:
                return beyond / run.counts_per_turn
    return None
