"""From rows of the tables to the facts of ``model.py``."""

from __future__ import annotations

import json
import sqlite3

from winder.shelf.deeds_json import deeds_from_json
from winder.shelf.facts import plan_from_json
from winder.shelf.model import CoilRow, JournalLine, RunRecord, Said
from winder.shelf.readings import read_measured
from winder.wind.truth import CountTruth

# Without its long texts, which only one coil at a time is asked for.
COILS_SQL = """
    SELECT coils.id, coils.name, coils.wire, target_turns, direction, state, coils.begun,
        ohm_nominal, ohm_low, ohm_high, counts_per_turn, low, best, high, vouched_by, why,
        coils.note, place, declared, start_colour, finish_colour, hidden, spoiled,
        (SELECT count(*) FROM runs WHERE coil = coils.id) AS runs,
        EXISTS (SELECT 1 FROM runs WHERE coil = coils.id AND ended IS NULL) AS under_way,
        (SELECT next_words FROM runs WHERE coil = coils.id ORDER BY id DESC LIMIT 1) AS next_words,
        EXISTS (SELECT 1 FROM runs WHERE coil = coils.id AND seed IS NOT NULL) AS simulated,
        (SELECT text FROM readings WHERE coil = coils.id AND kind = 'tap' AND struck = ''
            ORDER BY id DESC LIMIT 1) AS tap,
        read.ohm AS measured_ohm, read.temperature_c AS measured_at_c, spools.name AS spool_name
    FROM coils
    LEFT JOIN readings AS read ON read.id =
        (SELECT max(id) FROM readings WHERE coil = coils.id AND ohm IS NOT NULL AND struck = '')
    LEFT JOIN spools ON spools.id = coils.spool
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
        truth=CountTruth(row["low"], row["best"], row["high"], row["vouched_by"], row["why"]),
        under_way=bool(row["under_way"]),
        next_words=row["next_words"] or "",
        measured_ohm=row["measured_ohm"],
        measured_at_c=row["measured_at_c"],
        simulated=bool(row["simulated"]),
        said=Said(
            note=row["note"],
            place=row["place"],
            direction=row["declared"],
            colours=(row["start_colour"], row["finish_colour"]),
            hidden=bool(row["hidden"]),
            spoiled=row["spoiled"],
            spool=row["spool_name"] or "",
        ),
        tapped=_tapped(row["tap"]),
    )


def _tapped(text: str | None) -> str:
    direction = None if text is None else read_measured(text).direction
    return "" if direction is None else direction.value


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
        deeds=tuple(deeds_from_json(row["deeds"])),
    )
