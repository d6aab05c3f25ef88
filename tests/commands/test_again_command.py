"""``--mate`` and ``--like``: the next coil follows one of the shelf. Coils are invented."""

from __future__ import annotations

import json

import pytest

from tests.commands.running import AT_ONCE, short_recipe_file, winder
from tests.commands.shelf_of_coils import enter, shelf_with, told
from winder.commands.main import main
from winder.shelf import Logbook


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "240")
    return shelf_with(tmp_path / "book", ("drone", 60, None), ("tine", 1200, 236.0))


def planned(capsys, shelf, *words):
    return json.loads(told(capsys, "plan", *words, "--json", *shelf))


def test_a_mate_by_turns_has_as_many_turns_and_by_hum_as_well_on_the_same_bobbin(shelf, capsys):
    """On one kind of bobbin turns and turns-area go together, so all aims are the same but for what a reading says."""
    assert planned(capsys, shelf, "--mate", "2", "--by", "turns")["target_turns"] == 1200
    by_hum = planned(capsys, shelf, "--mate", "2", "--by", "hum")["target_turns"]
    by_ohms = planned(capsys, shelf, "--mate", "2", "--by", "resistance")["target_turns"]
    assert abs(by_hum - 1200) < 40 and abs(by_ohms - 1200) < 60


def test_a_mate_on_another_bobbin_is_aimed_at_the_first(shelf, capsys, tmp_path):
    file = short_recipe_file(tmp_path)
    file.write_text(file.read_text().replace('diameter = "10 mm"', 'diameter = "14 mm"'))
    recipe = str(file)
    wide = planned(capsys, shelf, recipe, "--mate", "2", "--by", "hum")["target_turns"]
    # turns-area goes with the diameter squared: bare cores (10/14)^2, full bobbins (18/22)^2
    assert 1200 * (10 / 14) ** 2 < wide < 1200 * (18 / 22) ** 2
    assert planned(capsys, shelf, recipe, "--mate", "2", "--by", "turns")["target_turns"] == 1200


def test_a_mirrored_mate_is_wound_the_other_way_and_compared(shelf, capsys):
    words = ["wind", "--mate", "1", "--by", "turns", "--mirrored", "--port", "sim?pace=50"]
    done = winder(*words, *AT_ONCE, *shelf)
    assert done.returncode == 0, done.stderr
    assert "drone (no. 3) has as many turns as drone (no. 1)" in done.stdout
    record = json.loads(told(capsys, "shelf", "show", "3", "--json", *shelf))
    assert (record["direction"], record["target_turns"]) == ("counter-clockwise", 60)
    assert record["recipe_text"].startswith("# mate of drone (no. 1) by turns, mirrored")
    # it can be paired as any coil
    assert "as many turns" in told(capsys, "shelf", "pair", "1", "3", *shelf)


def test_the_same_again_has_the_recipe_and_the_spool_of_the_first(shelf, capsys):
    told(capsys, "spool", "new", "red", "--wire", "42 AWG single", "--length", "900 m", *shelf)
    told(capsys, "shelf", "edit", "1", "--spool", "red", *shelf)
    done = winder("wind", "--like", "drone", "--port", "sim?pace=50", *AT_ONCE, *shelf)
    assert done.returncode == 0, done.stderr
    first, _, second = json.loads(told(capsys, "shelf", "list", "--json", *shelf))
    assert (second["wire"], second["target_turns"]) == (first["wire"], first["target_turns"])
    assert second["said"]["spool"] == "red"
    (red,) = json.loads(told(capsys, "spool", "list", "--json", *shelf))
    assert red["coils"] == [1, 3]


@pytest.mark.parametrize(
    ("words", "told_to"),
    [
        (["plan"], "what should be wound?"),
        (["plan", "--mate", "1"], "add --by turns, --by resistance or --by hum"),
        (["plan", "--by", "hum"], "which coil is it a mate for"),
        (["plan", "--mate", "1", "--by", "resistance"], "was never measured"),
        (["plan", "x.toml", "--like", "1"], "leave the recipe out"),
        (["plan", "--like", "9"], "there is no coil '9'"),
        (["plan", "--like", "3"], "nothing is wound on coil 3"),
        (["wind", "--port", "sim", *AT_ONCE], "what should be wound?"),
        (["wind", "--port", "sim", *AT_ONCE, "--like", "3"], "nothing is wound on coil 3"),
    ],
)
def test_a_mistake_ends_with_one_clear_line(shelf, capsys, words, told_to):
    with Logbook.open(shelf[1]) as logbook:
        enter(logbook, "begun", turns=None)
    assert main([*words, *shelf]) == 2
    said = capsys.readouterr().err
    assert told_to in said
    assert said.count("\n") == 1


def test_an_implausible_reading_is_told_with_how_to_strike_it(shelf, capsys):
    told(capsys, "shelf", "measure", "2", "23.6 ohm, 20 C", *shelf)
    told(capsys, "spool", "new", "red", "--wire", "42 AWG single", "--length", "900 m", *shelf)
    told(capsys, "shelf", "edit", "2", "--spool", "red", *shelf)
    assert main(["plan", "--like", "2", *shelf]) == 2
    said = capsys.readouterr().err
    assert "reading '23.6 ohm, 20 C' cannot be used" in said
    strike = "winder shelf measure 2 --strike 2 --because"
    assert strike in said
    told(capsys, *strike.split()[1:], "a slip", *shelf)
    assert planned(capsys, shelf, "--like", "2")["target_turns"] == 1200
