"""The third step of the schema: spools, readings of a finished coil, and what a person says of a coil.

Readings, tails and weighings are records: the file itself refuses to change or forget one. What was wrong is
struck out with a reason and stays to be seen.
"""

from __future__ import annotations

import sqlite3

STATEMENTS = (
    """
    CREATE TABLE spools (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE,
        wire TEXT NOT NULL,
        label TEXT NOT NULL,
        length_m REAL,
        gross_kg REAL,
        tare_kg REAL NOT NULL DEFAULT 0,
        note TEXT NOT NULL DEFAULT '',
        begun TEXT NOT NULL
    ) STRICT
    """,
    """
    CREATE TABLE spool_tails (
        id INTEGER PRIMARY KEY,
        spool INTEGER NOT NULL REFERENCES spools (id),
        text TEXT NOT NULL,
        length_m REAL NOT NULL,
        ohm REAL,
        temperature_c REAL NOT NULL,
        date TEXT NOT NULL,
        struck TEXT NOT NULL DEFAULT ''
    ) STRICT
    """,
    """
    CREATE TABLE weighings (
        id INTEGER PRIMARY KEY,
        spool INTEGER NOT NULL REFERENCES spools (id),
        text TEXT NOT NULL,
        gross_kg REAL NOT NULL,
        after_coil INTEGER NOT NULL,
        date TEXT NOT NULL,
        struck TEXT NOT NULL DEFAULT ''
    ) STRICT
    """,
    """
    CREATE TABLE readings (
        id INTEGER PRIMARY KEY,
        coil INTEGER NOT NULL REFERENCES coils (id),
        kind TEXT NOT NULL,
        text TEXT NOT NULL,
        ohm REAL,
        temperature_c REAL,
        henry REAL,
        meter TEXT NOT NULL DEFAULT '',
        date TEXT NOT NULL,
        struck TEXT NOT NULL DEFAULT ''
    ) STRICT
    """,
    "CREATE INDEX readings_of_coil ON readings (coil)",
    "CREATE INDEX tails_of_spool ON spool_tails (spool)",
    "CREATE INDEX weighings_of_spool ON weighings (spool)",
    "ALTER TABLE coils ADD COLUMN note TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE coils ADD COLUMN place TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE coils ADD COLUMN declared TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE coils ADD COLUMN start_colour TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE coils ADD COLUMN finish_colour TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE coils ADD COLUMN hidden INTEGER NOT NULL DEFAULT 0",
    "ALTER TABLE coils ADD COLUMN spoiled TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE coils ADD COLUMN spool INTEGER REFERENCES spools (id)",
    "CREATE INDEX coils_of_spool ON coils (spool)",
    # What was measured as a run ended is the first reading of its coil.
    """
    INSERT INTO readings (coil, kind, text, ohm, temperature_c, date)
    SELECT coil, 'ohm', 'as run ' || id || ' ended', measured_ohm, measured_at_c, coalesce(ended, started)
    FROM runs WHERE measured_ohm IS NOT NULL ORDER BY id
    """,
)
RECORDS = {
    "readings": "coil, kind, text, ohm, temperature_c, henry, meter, date",
    "spool_tails": "spool, text, length_m, ohm, temperature_c, date",
    "weighings": "spool, text, gross_kg, after_coil, date",
}


def take_third_step(connection: sqlite3.Connection) -> None:
    """Inside the transaction of the step."""
    for statement in STATEMENTS:
        connection.execute(statement)
    for table, columns in RECORDS.items():
        for what, when in (("changed", f"UPDATE OF {columns}"), ("forgotten", "DELETE")):
            connection.execute(
                f"CREATE TRIGGER {table}_are_not_{what} BEFORE {when} ON {table}"
                f" BEGIN SELECT RAISE(ABORT, 'a record is never {what}'); END"
            )
