"""``winder spool`` and ``--spool``: wire is accounted for, and too little is said everywhere. Spools are invented."""

from __future__ import annotations

import json

import pytest

from tests.commands.running import AT_ONCE, short_recipe_file, winder
from tests.commands.shelf_of_coils import enter, told
from winder.commands import wind
from winder.commands.main import build_parser, main
from winder.errors import UserMistake
from winder.shelf import Logbook
from winder.wind.model import How


@pytest.fixture
def book(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "240")
    return ["--logbook", str(tmp_path / "book")]


def left(capsys, book, name="red"):
    (facts,) = [
        each
        for each in json.loads(told(capsys, "spool", "list", "--json", *book))
        if each["name"] == name
    ]
    return facts


def new(capsys, book, *words, name="red"):
    return told(capsys, "spool", "new", name, "--wire", "42 AWG single", *words, *book)


def test_a_spool_by_length_and_by_mass(book, capsys):
    """Mass from first principles: copper of 8960 kg/m3 and the film of a 42 AWG single wire, about 28.5 g a km.

    Without the film copper alone (63.3 um) is 8960 * pi / 4 * 63.3e-6 ** 2 = 28.2 g a km: an upper bound in metres.
    """
    assert "1500 m left" in new(capsys, book, "--length", "1500 m")
    new(capsys, book, "--gross", "90 g", "--tare", "61.8 g", name="blue")
    metres = left(capsys, book, "blue")["left_m"]
    assert metres["low"] < metres["nominal"] < 28.2 / 28.2 * 1000 * 1.03
    assert metres["nominal"] > 900


def test_tails_and_coils_take_their_wire_off_and_teach_its_ohms(book, capsys):
    new(capsys, book, "--length", "1500 m")
    before = left(capsys, book)
    told(capsys, "spool", "edit", "red", "--tail", "20 m, 108.9 ohm, 20 C", *book)
    after = left(capsys, book)
    assert after["left_m"]["nominal"] == pytest.approx(before["left_m"]["nominal"] - 20, abs=0.5)
    # 108.9 ohm of 20 m is 5.445 ohm a metre at 20 C
    assert after["ohm_per_m"]["nominal"] == pytest.approx(5.445, rel=2e-3)
    width = after["ohm_per_m"]["high"] - after["ohm_per_m"]["low"]
    assert width < before["ohm_per_m"]["high"] - before["ohm_per_m"]["low"]
    with Logbook.open(book[1]) as logbook:
        logbook.end_run(enter(logbook, "drone", turns=1200), How.COMPLETE)
    told(capsys, "shelf", "edit", "drone", "--spool", "red", *book)
    again = left(capsys, book)
    # 1200 turns on a round core of 10 mm: more than 1200 pi 10 mm = 37.7 m, less than with 4 mm of build
    assert 37.7 < after["left_m"]["nominal"] - again["left_m"]["nominal"] < 68
    assert again["coils"] == [1]


def take_a_coil(capsys, book, name):
    with Logbook.open(book[1]) as logbook:
        logbook.end_run(enter(logbook, name, turns=1200), How.COMPLETE)
    told(capsys, "shelf", "edit", name, "--spool", "red", *book)


def test_a_weighing_stands_and_coils_since_come_off_it(book, capsys):
    new(capsys, book, "--gross", "182.4 g", "--tare", "61 g")
    full = left(capsys, book)["left_m"]["nominal"]
    take_a_coil(capsys, book, "first")
    after = left(capsys, book)["left_m"]["nominal"]
    weighs = 61 + (182.4 - 61) * after / full
    told(capsys, "spool", "edit", "red", "--weighs", f"{weighs:.1f} g", *book)
    weighed = left(capsys, book)["left_m"]["nominal"]
    assert weighed == pytest.approx(after, rel=0.01)
    take_a_coil(capsys, book, "second")
    # as much as the first took, from what was weighed
    again = left(capsys, book)["left_m"]["nominal"]
    assert weighed - again == pytest.approx(full - after, rel=0.05)
    # half of it gone without a coil cannot be: said, and nothing entered
    assert main(["spool", "edit", "red", "--weighs", "100 g", *book]) == 2
    assert "does not fit what else is known" in capsys.readouterr().err
    assert left(capsys, book)["left_m"]["nominal"] == again


def test_too_little_wire_is_said_by_every_command(book, capsys, tmp_path):
    recipe = str(short_recipe_file(tmp_path, turns=2000))
    new(capsys, book, "--length", "40 m")
    for words in (["recipe", "check"], ["sheet"], ["plan"]):
        out = told(capsys, *words, recipe, "--spool", "red", *book)
        assert "too little" in out and "the wire would end at about turn" in out
        facts = json.loads(told(capsys, *words, recipe, "--spool", "red", "--json", *book))
        assert facts["supply"]["lasts"] == "no"
        ends = facts["supply"]["ends_at_turns"]["nominal"]
        assert 900 < ends < 40 / 0.0314  # not more than 40 m round the bare core
        told(capsys, *words, recipe)
    short = winder("wind", recipe, "--port", "sim?pace=50", *AT_ONCE, "--spool", "red", *book)
    assert short.returncode == 2
    assert "too little wire on spool 'red'" in short.stderr and "--short-wire" in short.stderr
    assert json.loads(told(capsys, "shelf", "list", "--json", *book)) == []


def test_the_recipe_s_own_spool_is_heeded(book, capsys, tmp_path):
    recipe = str(short_recipe_file(tmp_path, turns=2000, more='\n[spool]\nlength = "40 m"\n'))
    for words in (["recipe", "check"], ["sheet"], ["plan"]):
        assert "too little" in told(capsys, *words, recipe)
    assert winder("wind", recipe, "--port", "sim?pace=50", *AT_ONCE, *book).returncode == 2


def test_a_wind_takes_its_wire_off_its_spool(book, capsys, tmp_path):
    recipe = str(short_recipe_file(tmp_path, turns=60))
    new(capsys, book, "--length", "40 m")
    wound = winder("wind", recipe, "--port", "sim?pace=50", *AT_ONCE, "--spool", "red", *book)
    assert wound.returncode == 0, wound.stderr
    facts = left(capsys, book)
    assert facts["coils"] == [1]
    # 60 turns on a core of 10 mm: 1.9 m and a little
    assert 1.88 < facts["used_m"]["nominal"] < 2.3
    short = str(short_recipe_file(tmp_path, turns=2000))
    words = ["wind", short, "--port", "sim?pace=50&break=20", *AT_ONCE, "--spool", "red", *book]
    assert winder(*words).returncode == 2
    assert "red" in told(capsys, "shelf", "show", "1", *book)


@pytest.mark.parametrize(
    ("words", "told_to"),
    [
        (["new", "x", "--wire", "copper", "--length", "9 m"], "is not a wire in the tables"),
        (["new", "x", "--wire", "42 AWG single"], "how much wire this spool held is not known"),
        (["new", "red", "--wire", "42 AWG single", "--length", "9 m"], "a spool 'red' already"),
        (["new", "\x1b[31m", "--wire", "42 AWG single", "--length", "9 m"], "needs a short name"),
        (["new", "x", "--wire", "42 AWG single", "--length", "nine"], "--length"),
        (["new", "x", "--wire", "42 AWG single", "--gross", "9 g", "--tare", "10 g"], "weighs 9 g"),
        (["edit", "red"], "no change was given"),
        (["edit", "red", "--weighs", "90 g"], "the weight of the empty spool is not known"),
        (["edit", "red", "--tail", "20 m, 9 ohm"], "does not fit what else is known"),
        (["edit", "blue", "--note", "x"], "no spool is called 'blue'"),
    ],
)
def test_a_mistake_ends_with_one_clear_line_and_changes_nothing(book, capsys, words, told_to):
    new(capsys, book, "--length", "1500 m")
    before = left(capsys, book)
    assert main(["spool", *words, *book]) == 2
    said = capsys.readouterr().err
    assert told_to in said
    assert said.count("\n") == 1
    assert left(capsys, book) == before


def test_a_spool_of_other_wire_is_refused(book, capsys, tmp_path):
    told(capsys, "spool", "new", "thin", "--wire", "44 AWG single", "--length", "900 m", *book)
    with Logbook.open(book[1]) as logbook:
        enter(logbook, "drone", turns=1200)
    recipe = str(short_recipe_file(tmp_path))
    for words in (["shelf", "edit", "1"], ["plan", recipe], ["sheet", recipe]):
        assert main([*words, "--spool", "thin", *book]) == 2
        assert "spool 'thin' has 44 AWG single" in capsys.readouterr().err


def test_no_spool_says_so(book, capsys):
    with Logbook.open(book[1]):
        pass
    assert told(capsys, "spool", "list", *book) == "No spool yet: add one with winder spool new.\n"


def test_a_recipe_names_its_spool(book, capsys, tmp_path):
    """Every command takes the wire from it; one that is not there, or a length beside it, is refused."""
    recipe = str(short_recipe_file(tmp_path, turns=60, more='\n[spool]\nname = "red"\n'))
    with Logbook.open(book[1]):
        pass
    assert main(["recipe", "check", recipe, *book]) == 2
    assert "no spool is called 'red'" in capsys.readouterr().err
    new(capsys, book, "--length", "40 m")
    for words in (["recipe", "check"], ["sheet"], ["plan"]):
        assert "spool, red: 2 m of wire needed" in told(capsys, *words, recipe, *book)
    assert winder("wind", recipe, "--port", "sim?pace=50", *AT_ONCE, *book).returncode == 0
    assert left(capsys, book)["coils"] == [1]
    both = '\n[spool]\nname = "red"\nlength = "9 m"\n'
    assert main(["recipe", "check", str(short_recipe_file(tmp_path, more=both)), *book]) == 2
    assert "not allowed beside a name" in capsys.readouterr().err


@pytest.mark.parametrize(("typed", "taken"), [("1", "red"), ("red", "red"), ("", None)])
def test_a_wind_asks_once_for_its_spool(book, capsys, tmp_path, monkeypatch, typed, taken):
    words = ["wind", str(short_recipe_file(tmp_path)), "--port", "sim", *book]
    asked = build_parser().parse_args(words)
    monkeypatch.setattr("builtins.input", lambda prompt: typed)
    assert wind._spool_asked(asked) is None  # no spool of its wire, no question
    new(capsys, book, "--length", "40 m")
    assert wind._spool_asked(asked) == taken
    assert "1  red" in capsys.readouterr().out
    asked.goes_on = "1"
    assert wind._spool_asked(asked) is None  # a coil that goes on has its own


def test_an_answer_that_is_no_spool_is_refused(book, capsys, tmp_path, monkeypatch):
    new(capsys, book, "--length", "40 m")
    words = ["wind", str(short_recipe_file(tmp_path)), "--port", "sim", *book]
    monkeypatch.setattr("builtins.input", lambda prompt: "7")
    with pytest.raises(UserMistake, match="not one of these spools"):
        wind._spool_asked(build_parser().parse_args(words))
