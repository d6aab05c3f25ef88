"""The shelf taken out and in again: nothing is lost, nothing is half entered, no cell is a formula."""

from __future__ import annotations

import csv
import json
import resource
import sqlite3

import pytest

from tests.commands.shelf_of_coils import HOSTILE, enter, shelf_with, told
from winder.commands.main import main
from winder.shelf import Logbook
from winder.wind.model import SessionEvent


@pytest.fixture
def shelf(tmp_path, capsys):
    words = shelf_with(tmp_path / "book", ("=1+2", 1200, 225.0), (HOSTILE, 1190, 223.0))
    told(
        capsys,
        "spool",
        "new",
        "red",
        "--wire",
        "42 AWG single",
        "--gross",
        "182 g",
        "--tare",
        "61 g",
        *words,
    )
    told(capsys, "shelf", "edit", "1", "--spool", "red", "--note", "@SUM(A1)", *words)
    told(capsys, "spool", "edit", "red", "--tail", "20 m, 108.9 ohm, 20 C", *words)
    told(capsys, "shelf", "measure", "1", "226 ohm, 21 C", *words)
    told(capsys, "shelf", "measure", "1", "--strike", "3", "--because", "-2", *words)
    return words


def test_a_round_trip_loses_nothing(shelf, capsys, tmp_path):
    first, again = tmp_path / "all.json", tmp_path / "again.json"
    told(capsys, "shelf", "export", str(first), *shelf)
    new = ["--logbook", str(tmp_path / "new")]
    told(capsys, "shelf", "import", str(first), *new)
    told(capsys, "shelf", "export", str(again), *new)
    assert json.loads(first.read_text()) == json.loads(again.read_text())
    for words in (["shelf", "list"], ["shelf", "show", "1"], ["spool", "list"]):
        assert told(capsys, *words, "--json", *shelf) == told(capsys, *words, "--json", *new)


def test_what_comes_in_stands_beside_what_is_there(shelf, capsys, tmp_path):
    file = tmp_path / "all.json"
    told(capsys, "shelf", "export", str(file), *shelf)
    told(capsys, "shelf", "import", str(file), *shelf)
    coils = json.loads(told(capsys, "shelf", "list", "--json", *shelf))
    assert [coil["coil_id"] for coil in coils] == [1, 2, 3, 4]
    assert [coil["said"]["spool"] for coil in coils] == ["red", "", "red (2)", ""]
    one, other = (
        json.loads(told(capsys, "shelf", "show", number, "--json", *shelf)) for number in "13"
    )
    assert [line["text"] for line in one["runs"][0]["lines"]] == [
        line["text"] for line in other["runs"][0]["lines"]
    ]
    assert [each["ohm"] for each in one["readings"]] == [each["ohm"] for each in other["readings"]]


def test_no_cell_is_a_formula(shelf, capsys, tmp_path):
    file = tmp_path / "coils.csv"
    told(capsys, "shelf", "export", str(file), *shelf)
    with open(file, newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert [row["name"] for row in rows] == ["'=1+2", HOSTILE]
    assert rows[0]["note"] == "'@SUM(A1)"
    cells = [cell for row in rows for cell in row.values()]
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)
    assert float(rows[1]["ohm_20c_measured"]) == 223.0


def test_a_copy_while_a_wind_is_written_loses_nothing(shelf, capsys, tmp_path):
    copy = tmp_path / "copy.sqlite"
    with Logbook.open(shelf[1]) as logbook:
        run = enter(logbook, "under way", turns=10)
        logbook.write(run, [SessionEvent("count", n, "turn", n) for n in range(500)])
        told(capsys, "shelf", "copy", str(copy), *shelf)
        before = told(capsys, "shelf", "list", "--json", *shelf)
        logbook.write(run, [SessionEvent("count", 500, "later", 500)])
    assert told(capsys, "shelf", "list", "--json", "--logbook", str(copy)) == before
    with Logbook.open(copy) as logbook:  # a copy is a logbook as any
        assert len(logbook.coil("under way").runs[0].lines) == 501
    connection = sqlite3.connect(copy)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()


@pytest.mark.parametrize(
    "spoil",
    [
        lambda told: told.pop("journal"),
        lambda told: told["coils"][0].pop("wire"),
        lambda told: told["coils"][0].update(more="; DROP TABLE coils"),
        lambda told: told["runs"][0].update(coil=99),
        lambda told: told.update(version=99),
        lambda told: told.update(kind="else"),
        lambda told: told.update(coils=7),
        lambda told: told["coils"].append(None),
    ],
)
def test_what_is_spoiled_is_refused_whole(shelf, capsys, tmp_path, spoil):
    file = tmp_path / "all.json"
    told(capsys, "shelf", "export", str(file), *shelf)
    facts = json.loads(file.read_text())
    spoil(facts)
    file.write_text(json.dumps(facts))
    before = told(capsys, "shelf", "list", "--json", *shelf)
    assert main(["shelf", "import", str(file), *shelf]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert told(capsys, "shelf", "list", "--json", *shelf) == before


@pytest.mark.parametrize(
    ("words", "told_to"),
    [
        (["export", "x.txt"], "give the file one of these endings"),
        (["export", "{folder}/all.json"], "this name is taken already"),
        (["copy", "{folder}/all.json"], "this name is taken already"),
        (["copy", "{folder}/book"], "is the logbook itself"),
        (["copy", "{folder}/none/x"], "there is no folder"),
        (["import", "{folder}/none.json"], "cannot be read"),
        (["import", "{folder}/book"], "cannot be read"),
    ],
)
def test_a_mistake_ends_with_one_clear_line(shelf, capsys, tmp_path, words, told_to):
    (tmp_path / "all.json").write_text("[]")
    filled = [word.format(folder=tmp_path) for word in words]
    assert main(["shelf", *filled, *shelf]) == 2
    said = capsys.readouterr().err
    assert told_to in said
    assert said.count("\n") == 1


def test_of_a_copy_without_room_nothing_is_left(shelf, capsys, tmp_path):
    copy = tmp_path / "copy.sqlite"
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    limit = 40_000  # the logbook can be opened, its copy finds no room
    assert (tmp_path / "book").stat().st_size > limit
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, before[1]))
    try:
        code = main(["shelf", "copy", str(copy), *shelf])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert code == 1 and "copy.sqlite: could not be written" in capsys.readouterr().err
    assert not list(tmp_path.glob("copy*"))
