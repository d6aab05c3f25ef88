"""The second step of the schema: coils get an account, folded from the deeds of their journal.

What a logbook of the first version says becomes deeds: an ended run one statement with its truth, an unfinished one the
board's last word on record, with what the spindle may have made since. A coil that went on after a run that broke off
may hold the turns of that run's end twice: its count is said to be between, never exact.
"""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from winder.shelf.deeds_json import deeds_to_json
from winder.shelf.facts import machine_from_json, plan_from_json
from winder.wind.account import Account
from winder.wind.deeds import Brought, Deed, Drive, Drives, Opens, Says, Stretch, Word

TWICE = "an earlier version of this program may have counted some turns twice"
MOTION = ("started", "leg", "slowing", "count", "trip")
REST = ("opened", "plan", "at rest", "cleared", "complete", "ended")
HOW = {
    "complete": "complete",
    "here": "here",
    "ended": "here",
    "end here": "here",
    "left": "left",
    "taking off": "left",
}

STATEMENTS = (
    "ALTER TABLE coils ADD COLUMN counts_per_turn INTEGER",
    "ALTER TABLE coils ADD COLUMN low INTEGER NOT NULL DEFAULT 0",
    "ALTER TABLE coils ADD COLUMN best INTEGER NOT NULL DEFAULT 0",
    "ALTER TABLE coils ADD COLUMN high INTEGER NOT NULL DEFAULT 0",
    "ALTER TABLE coils ADD COLUMN vouched_by TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE coils ADD COLUMN why TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE runs ADD COLUMN next_words TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE journal ADD COLUMN deeds TEXT NOT NULL DEFAULT '[]'",
    "CREATE INDEX runs_of_wind ON runs (wind)",
)
DROPPED = ("certainty", "low", "high", "vouched_by", "why", "last_sure", "turns")


def take_second_step(connection: sqlite3.Connection) -> None:
    """Inside the transaction of the step."""
    for statement in STATEMENTS:
        connection.execute(statement)
    connection.row_factory = sqlite3.Row
    for (coil,) in connection.execute("SELECT id FROM coils ORDER BY id").fetchall():
        _move(connection, coil)
    for column in DROPPED:
        connection.execute(f"ALTER TABLE runs DROP COLUMN {column}")


def _move(connection: sqlite3.Connection, coil: int) -> None:
    runs = connection.execute("SELECT * FROM runs WHERE coil = ? ORDER BY id", (coil,)).fetchall()
    if not runs:
        return
    account, doubled = Account(runs[-1]["counts_per_turn"]), 0
    for run in runs:
        lines = connection.execute(
            "SELECT * FROM journal WHERE run = ? ORDER BY number", (run["id"],)
        ).fetchall()
        broke = run["certainty"] is not None and run["how"] == "broken off"
        if broke:
            doubled += max(0, run["high"] - _low_on_record(lines, run))
        elif run is runs[-1]:
            deeds = _deeds(run, lines, doubled)
            account = account.take_all(deeds)
            _add_line(connection, run["id"], lines, deeds)
        connection.execute("UPDATE runs SET how = ? WHERE id = ?", (_how(run), run["id"]))
    if runs[-1]["how"] == "broken off":
        run = runs[-1]
        lines = connection.execute(
            "SELECT * FROM journal WHERE run = ? ORDER BY number", (run["id"],)
        ).fetchall()
        deeds = _ended(run, doubled if len(runs) > 1 else 0)
        account = account.take_all(deeds)
        _add_line(connection, run["id"], lines, deeds)
    truth = account.truth()
    connection.execute(
        "UPDATE coils SET counts_per_turn = ?, low = ?, best = ?, high = ?, vouched_by = ?, why = ? WHERE id = ?",
        (account.per_turn, truth.low, truth.best, truth.high, truth.by, truth.why, coil),
    )


def _how(run: sqlite3.Row) -> str:
    return HOW.get(run["how"], "lost") if run["ended"] is not None else ""


def _deeds(run: sqlite3.Row, lines: list[sqlite3.Row], doubled: int) -> list[Deed]:
    return (
        _ended(run, doubled) if run["certainty"] is not None else _unfinished(run, lines, doubled)
    )


def _ended(run: sqlite3.Row, doubled: int) -> list[Deed]:
    why = "; ".join(filter(None, (run["why"], TWICE if doubled else "")))
    low = max(0, run["low"] - doubled)
    return [Brought(low, run["low"], run["high"], run["counts_per_turn"], run["vouched_by"], why)]


def _unfinished(run: sqlite3.Row, lines: list[sqlite3.Row], doubled: int) -> list[Deed]:
    """The last word on record, of a wind that a board may still have open."""
    counted = [line for line in lines if line["counts"] is not None]
    start, count = run["first_turn"] * run["counts_per_turn"], 0
    low = best = high = start
    by, why = "", ""
    if counted:
        count = counted[-1]["counts"] or 0
        truth = json.loads(counted[-1]["facts"])
        low = best = truth.get("low", start + count) - count
        high = truth.get("high", start + count) - count
        by, why = str(truth.get("by", "")), str(truth.get("why", ""))
    why = "; ".join(filter(None, (why, TWICE if doubled else "")))
    machine = machine_from_json(run["machine_facts"])
    deeds: list[Deed] = []
    if low or high or doubled:
        deeds.append(Brought(low - doubled, best, high, run["counts_per_turn"], by, why))
    opened = [json.loads(line["facts"]) for line in lines if line["kind"] == "opened"]
    boot = int(opened[-1].get("boot", 0)) if opened else 0
    sense, motor = machine.direction_sense, machine.motor
    deeds.append(Opens(run["wind"], boot, run["counts_per_turn"], sense, motor))
    deeds.append(Drives(run["wind"], _drive(run)))
    deeds.append(Says(run["wind"], Word(count, moving=_was_moving(lines))))
    return deeds


def _drive(run: sqlite3.Row) -> Drive:
    plan, machine = plan_from_json(run["plan"]), machine_from_json(run["machine_facts"])
    per_rpm = run["counts_per_turn"] / 60
    stretches = tuple(
        Stretch(
            leg.end_counts,
            leg.at_end.value != "continue",
            leg.speed_rpm * per_rpm,
            max(leg.acceleration_rpm_s, 1.0) * per_rpm,
        )
        for leg in plan.legs
    )
    return Drive(stretches, max(machine.coasting_rpm_s, 1.0) * per_rpm)


def _was_moving(lines: list[sqlite3.Row]) -> bool:
    """Whether the spindle may have been moving after the newest line; a start was on record before it was sent."""
    for line in reversed(lines):
        if line["kind"] in REST:
            return False
        facts: dict[str, Any] = json.loads(line["facts"])
        if line["kind"] in MOTION or facts.get("intent") in ("start", "continue"):
            return True
    return False


def _low_on_record(lines: list[sqlite3.Row], run: sqlite3.Row) -> int:
    counted = [json.loads(line["facts"]) for line in lines if line["counts"] is not None]
    lows = [facts["low"] for facts in counted if "low" in facts]
    return int(lows[-1]) if lows else int(run["first_turn"] * run["counts_per_turn"])


def _add_line(
    connection: sqlite3.Connection, run: int, lines: list[sqlite3.Row], deeds: list[Deed]
) -> None:
    at_ns, date = (lines[-1]["at_ns"], lines[-1]["date"]) if lines else (0, "")
    values = (
        run,
        len(lines) + 1,
        at_ns,
        date,
        "moved",
        "taken over from an older logbook",
        None,
        "{}",
    )
    connection.execute(
        "INSERT INTO journal (run, number, at_ns, date, kind, text, counts, facts, deeds)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (*values, deeds_to_json(deeds)),
    )
