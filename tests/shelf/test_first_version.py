"""A logbook that an older program wrote: its coils get an account, nothing is called exact that may not be.

The file was written by the program of the first version, with four coils of 20 counts a turn: 1 was wound whole
(150 turns); 2 was killed and went on without a count, so that its turns may be held twice; 3 was killed and went on
with a count; 4 was killed and left.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from winder.shelf import Logbook
from winder.shelf.model import COMPLETE
from winder.shelf.schema import VERSION
from winder.wind.truth import OPEN, Certainty, exact

OLD = Path(__file__).parent / "fixtures" / "logbook_of_the_first_version.sqlite"
FILES = ("", "-wal", "-shm", "-journal", ".lock")


@pytest.fixture
def old(file: Path) -> Path:
    shutil.copy(OLD, file)
    return file


def beside(file: Path) -> dict[str, bytes]:
    return {
        ending: Path(f"{file}{ending}").read_bytes()
        for ending in FILES
        if Path(f"{file}{ending}").exists()
    }


def test_the_fixture_is_of_the_first_version():
    connection = sqlite3.connect(f"file:{OLD}?mode=ro&immutable=1", uri=True)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    hows = connection.execute("SELECT coil, how FROM runs ORDER BY id").fetchall()
    connection.close()
    assert {coil for coil, _ in hows} == {1, 2, 3, 4}


@pytest.mark.parametrize("read_only", [True, False])
def test_every_old_coil_gets_the_truth_that_is_left_of_it(old, read_only):
    with Logbook.open(old, read_only=read_only) as book:
        whole, twice, counted, left = book.coils()
        assert whole.truth == exact(150 * 20) and whole.state == COMPLETE
        assert twice.truth.certainty is Certainty.BETWEEN
        assert "twice" in twice.truth.why and "twice" in twice.truth_text
        assert counted.truth.certainty is not Certainty.EXACT
        assert left.truth.certainty is Certainty.BETWEEN and left.truth.high < OPEN
        for row in book.coils():
            assert row.truth == book.coil(row.coil_id).account.truth(), "stored as it is folded"
            assert row.next_words == ""


def test_what_an_old_run_had_on_record_lies_within_its_bounds(old):
    connection = sqlite3.connect(f"file:{OLD}?mode=ro&immutable=1", uri=True)
    connection.row_factory = sqlite3.Row
    with Logbook.open(old) as book:
        for row in book.coils():
            (run,) = connection.execute(
                "SELECT * FROM runs WHERE coil = ? ORDER BY id DESC LIMIT 1", (row.coil_id,)
            ).fetchall()
            lines = connection.execute(
                "SELECT facts FROM journal WHERE run = ? AND counts IS NOT NULL ORDER BY number",
                (run["id"],),
            ).fetchall()
            newest = json.loads(lines[-1]["facts"]).get("low", run["low"])
            assert row.truth.low <= newest <= row.truth.high
    connection.close()


def test_looking_leaves_the_file_as_it_was(old):
    before = beside(old)
    with Logbook.open(old, read_only=True) as book:
        assert len(book.coils()) == 4
        book.coil(2)
    assert beside(old) == before


def test_once_written_it_is_of_this_version_and_moved_once(old):
    truths = []
    for _ in range(3):
        with Logbook.open(old) as book:
            truths.append([row.truth for row in book.coils()])
            moved = [
                line
                for row in book.coils()
                for run in book.coil(row.coil_id).runs
                for line in run.lines
                if line.kind == "moved"
            ]
            assert len(moved) == 4
    assert truths[0] == truths[1] == truths[2]
    connection = sqlite3.connect(old)
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
    columns = {row[1] for row in connection.execute("PRAGMA table_info (runs)")}
    assert not columns & {"certainty", "low", "high", "vouched_by", "why", "last_sure", "turns"}
    connection.close()
