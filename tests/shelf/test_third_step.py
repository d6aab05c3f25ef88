"""A logbook of an earlier version gets spools, readings and a person's words, and loses nothing."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from winder.shelf import Logbook
from winder.shelf.readings import Readings, read_measured
from winder.shelf.schema import APPLICATION_ID, STEPS, VERSION
from winder.shelf.second_step import take_second_step

FIRST_VERSION = Path(__file__).parent / "fixtures" / "logbook_of_the_first_version.sqlite"


def of_the_second_version(file: Path) -> None:
    """What the version before this one wrote: an older file after its two steps."""
    shutil.copy(FIRST_VERSION, file)
    connection = sqlite3.connect(file, isolation_level=None)
    take_second_step(connection)
    connection.execute("PRAGMA user_version = 2")
    connection.close()


def measured_runs(file: Path) -> list[tuple[int, float]]:
    connection = sqlite3.connect(file)
    sql = "SELECT coil, measured_ohm FROM runs WHERE measured_ohm IS NOT NULL ORDER BY id"
    found = connection.execute(sql).fetchall()
    connection.close()
    return found


@pytest.mark.parametrize(
    "make", [lambda file: shutil.copy(FIRST_VERSION, file), of_the_second_version]
)
def test_an_older_logbook_keeps_its_coils_and_gets_its_readings(file, make):
    make(file)
    runs = measured_runs(file)
    before = (
        sqlite3.connect(file).execute("SELECT name, target_turns FROM coils ORDER BY id").fetchall()
    )
    with Logbook.open(file) as logbook:
        rows = logbook.coils()
        assert [(row.name, row.target_turns) for row in rows] == before
        found = [
            (row.coil_id, each.measured.ohm)
            for row in rows
            for each in Readings(logbook.book).of(row.coil_id)
        ]
        assert sorted(found) == sorted(runs)
        version = logbook.book.connection.execute("PRAGMA user_version").fetchone()[0]
        assert version == VERSION == 3
        assert logbook.book.connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert logbook.book.connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1


def test_both_ways_lead_to_the_same_tables(tmp_path):
    def tables(file: Path) -> set[tuple[str, str]]:
        with Logbook.open(file) as logbook:
            found = logbook.book.connection.execute("SELECT name, sql FROM sqlite_schema")
            return {(row["name"], row["sql"] or "") for row in found}

    older, new = tmp_path / "older.sqlite", tmp_path / "new.sqlite"
    of_the_second_version(older)
    assert tables(older) == tables(new)


def test_a_step_that_fails_leaves_a_second_version_as_it_was(file, monkeypatch):
    of_the_second_version(file)
    before = file.read_bytes()
    from winder.shelf import third_step

    monkeypatch.setattr(third_step, "STATEMENTS", (*third_step.STATEMENTS[:3], "CREATE nonsense"))
    with pytest.raises(Exception, match="nonsense"):
        Logbook.open(file)
    connection = sqlite3.connect(file)
    assert connection.execute("PRAGMA user_version").fetchone() == (2,)
    assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_schema")}
    connection.close()
    assert "spools" not in names and len(STEPS) == 1
    assert len(before) > 0


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE readings SET ohm = 1",
        "UPDATE readings SET text = 'better'",
        "DELETE FROM readings",
        "INSERT INTO readings (coil, kind, text, date) VALUES (99, 'ohm', '', '')",
        "UPDATE coils SET spool = 99",
    ],
)
def test_the_file_itself_guards_its_records(logbook, made, sql):
    """Tried past the program, with bare SQL."""
    made.begin(logbook)
    Readings(logbook.book).add(1, read_measured("812 ohm, 23 C"))
    with pytest.raises(sqlite3.IntegrityError):
        logbook.book.connection.execute(sql)
    (reading,) = Readings(logbook.book).of(1)
    assert reading.measured.ohm == 812.0
