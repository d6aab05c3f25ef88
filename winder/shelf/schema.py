"""The tables, and how a logbook of an older program becomes one of this.

``user_version`` counts the steps that a file has been through. Each step runs statement by statement
inside one transaction together with its new number, so a program that dies in the middle leaves the
file as it was. ``application_id`` says that the file is a logbook at all.
"""

from __future__ import annotations

import sqlite3

from winder.shelf.second_step import take_second_step

APPLICATION_ID = 0x54555253  # "TURS", our own choice

STEPS: tuple[tuple[str, ...], ...] = (
    (
        """
        CREATE TABLE coils (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL,
            recipe_text TEXT NOT NULL,
            recipe_facts TEXT NOT NULL,
            coil_facts TEXT NOT NULL,
            target_turns INTEGER NOT NULL,
            wire TEXT NOT NULL,
            ohm_nominal REAL NOT NULL,
            ohm_low REAL NOT NULL,
            ohm_high REAL NOT NULL,
            direction TEXT NOT NULL,
            state TEXT NOT NULL,
            begun TEXT NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE runs (
            id INTEGER PRIMARY KEY,
            coil INTEGER NOT NULL REFERENCES coils (id),
            wind INTEGER NOT NULL,
            port TEXT NOT NULL,
            machine_name TEXT NOT NULL,
            machine_facts TEXT NOT NULL,
            counts_per_turn INTEGER NOT NULL,
            seed INTEGER,
            first_turn INTEGER NOT NULL,
            plan TEXT NOT NULL,
            started TEXT NOT NULL,
            ended TEXT,
            how TEXT NOT NULL DEFAULT '',
            certainty TEXT,
            low INTEGER,
            high INTEGER,
            vouched_by TEXT NOT NULL DEFAULT '',
            why TEXT NOT NULL DEFAULT '',
            last_sure INTEGER,
            turns REAL,
            measured_ohm REAL,
            measured_at_c REAL
        ) STRICT
        """,
        "CREATE INDEX runs_of_coil ON runs (coil)",
        """
        CREATE TABLE journal (
            run INTEGER NOT NULL REFERENCES runs (id),
            number INTEGER NOT NULL,
            at_ns INTEGER NOT NULL,
            date TEXT NOT NULL,
            kind TEXT NOT NULL,
            text TEXT NOT NULL,
            counts INTEGER,
            facts TEXT NOT NULL,
            PRIMARY KEY (run, number)
        ) STRICT, WITHOUT ROWID
        """,
    ),
)
VERSION = len(STEPS) + 1  # the second step is a function


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Go through the steps that the file has not seen yet. The connection is in autocommit mode."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        for step in STEPS[version:]:
            for statement in step:
                connection.execute(statement)
        if version < VERSION:
            take_second_step(connection)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {VERSION}")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")
