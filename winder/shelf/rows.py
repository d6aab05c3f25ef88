"""From rows of the tables to the facts of ``model.py``.

Also the one judgement made here: whether the spindle may have been moving when a run broke off. That
is so when the newest line that speaks of motion or rest speaks of motion; an intent to start counts,
because it is committed before the request is sent.
"""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from winder.shelf.facts import machine_from_json, plan_from_json
from winder.shelf.model import CoilRow, JournalLine, RunRecord, UnfinishedRun
from winder.wind.events import truth_from_facts
from winder.wind.model import Certainty, CountTruth, Intent

MOTION = ("started", "leg", "slowing", "count", "trip")
REST = ("opened", "plan", "at rest", "cleared", "complete", "ended")
# A start is on record before it is sent; after it the spindle may move.
MOVING_INTENTS = (Intent.START.value, Intent.CONTINUE.value)

COILS_SQL = """
    SELECT coils.*,
        (SELECT count(*) FROM runs WHERE coil = coils.id) AS runs,
        (SELECT counts_per_turn FROM runs WHERE coil = coils.id ORDER BY id DESC LIMIT 1)
            AS counts_per_turn,
        done.certainty, done.low, done.high, done.vouched_by, done.why, done.last_sure,
        read.measured_ohm, read.measured_at_c
    FROM coils
    LEFT JOIN runs AS done ON done.id =
        (SELECT max(id) FROM runs WHERE coil = coils.id AND certainty IS NOT NULL)
    LEFT JOIN runs AS read ON read.id =
        (SELECT max(id) FROM runs WHERE coil = coils.id AND measured_ohm IS NOT NULL)
"""


def coil_row(row: sqlite3.Row) -> CoilRow:
    return CoilRow(
        coil_id=row["id"],
        name=row["name"],
        wire=row["wire"],
        target_turns=row["target_turns"],
        direction=row["direction"],
        state=row["state"],
        date=row["begun"],
        ohm_20c=(row["ohm_nominal"], row["ohm_low"], row["ohm_high"]),
        runs=row["runs"],
        counts_per_turn=row["counts_per_turn"],
        truth=truth_of(row),
        measured_ohm=row["measured_ohm"],
        measured_at_c=row["measured_at_c"],
    )


def truth_of(row: sqlite3.Row) -> CountTruth | None:
    if row["certainty"] is None:
        return None
    return CountTruth(
        Certainty(row["certainty"]),
        row["low"],
        row["high"],
        row["vouched_by"],
        row["why"],
        row["last_sure"],
    )


def run_record(row: sqlite3.Row, lines: tuple[JournalLine, ...]) -> RunRecord:
    return RunRecord(
        run_id=row["id"],
        wind=row["wind"],
        port=row["port"],
        machine_name=row["machine_name"],
        counts_per_turn=row["counts_per_turn"],
        simulated_seed=row["seed"],
        first_turn=row["first_turn"],
        plan=plan_from_json(row["plan"]),
        started=row["started"],
        ended=row["ended"],
        how=row["how"],
        truth=truth_of(row),
        turns=row["turns"],
        measured_ohm=row["measured_ohm"],
        measured_at_c=row["measured_at_c"],
        lines=lines,
    )


def journal_line(row: sqlite3.Row) -> JournalLine:
    return JournalLine(
        number=row["number"],
        at_ns=row["at_ns"],
        date=row["date"],
        kind=row["kind"],
        text=row["text"],
        counts=row["counts"],
        facts=json.loads(row["facts"]),
    )


def unfinished_run(row: sqlite3.Row, lines: tuple[JournalLine, ...]) -> UnfinishedRun:
    """``row`` is of ``runs`` with the coil's ``name``; ``lines`` is the whole journal, in order."""
    last = lines[-1] if lines else None
    counted = [line for line in lines if line.counts is not None]
    start = row["first_turn"] * row["counts_per_turn"]
    return UnfinishedRun(
        run_id=row["id"],
        coil_id=row["coil"],
        coil_name=row["name"],
        wind=row["wind"],
        port=row["port"],
        simulated_seed=row["seed"],
        counts_per_turn=row["counts_per_turn"],
        machine=machine_from_json(row["machine_facts"]),
        plan=plan_from_json(row["plan"]),
        date=row["started"],
        last_date=last.date if last else row["started"],
        last_kind=last.kind if last else "",
        last_text=last.text if last else "",
        count=(counted[-1].counts or 0) if counted else 0,
        truth=_last_truth(counted, start),
        moving=was_moving(lines),
    )


def _last_truth(counted: list[JournalLine], start: int) -> CountTruth:
    """The truth at the last committed count; without one the turns the run began with."""
    if not counted:
        return CountTruth(Certainty.EXACT, start, start)
    line = counted[-1]
    counts = start + (line.counts or 0)
    return truth_from_facts(line.facts) or CountTruth(Certainty.EXACT, counts, counts)


def was_moving(lines: tuple[JournalLine, ...]) -> bool:
    """Whether the spindle may have been moving after the newest line."""
    for line in reversed(lines):
        if line.kind in REST:
            return False
        if line.kind in MOTION or _starts(line.kind, line.facts):
            return True
    return False


def _starts(kind: str, facts: dict[str, Any]) -> bool:
    return kind == "intent" and facts.get("intent") in MOVING_INTENTS
