"""``winder shelf pair``: coils of a shelf against each other and joined. Coils are invented."""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ElementTree

import pytest

from tests.commands.shelf_of_coils import enter, shelf_with, told
from winder.commands import typed_answers
from winder.commands.main import main
from winder.shelf import Logbook

BESIDE = ("--side-by-side", "30 mm")
QUIET = (*BESIDE, "--poles", "north,south", "--iron", "none")


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "240")
    words = shelf_with(tmp_path / "book", ("drone", 1200, 240.0), ("tine", 1190, 236.0))
    told_to = ["--start-colour", "white", "--finish-colour", "black"]
    assert main(["shelf", "edit", "1", *told_to, *words]) == 0
    return words


def pair(capsys, shelf, *words):
    return json.loads(told(capsys, "shelf", "pair", "1", "2", *words, "--json", *shelf))


def test_how_alike_they_are(shelf, capsys):
    """By hand: 240 over 236 ohm, each with 0.2 ohm of test leads, is 1.70 % more, 4.3 K of copper (0.00393 a kelvin, IEC 60028)."""
    more = 239.8 / 235.8 - 1
    facts = pair(capsys, shelf)
    assert facts["turns_more"]["nominal"] == 10
    assert facts["ohm_share"]["nominal"] == pytest.approx(more, rel=1e-6)
    assert facts["kelvin"]["nominal"] == pytest.approx(more / 0.00393, rel=1e-6)
    assert facts["ways"] is None and facts["verdict"] is None
    out = told(capsys, "shelf", "pair", "1", "2", *shelf)
    assert "drone (no. 1) has 10 turns more than tine (no. 2)" in out
    assert "take" in out and "say how they sit" in out


def test_coils_that_differ_less_than_a_meter_tells(tmp_path, capsys):
    words = shelf_with(tmp_path / "book", ("a", 1200, 240.0), ("b", 1200, 240.6))
    out = told(capsys, "shelf", "pair", "a", "b", *words)
    assert "no more than the meter and the thermometer can tell" in out
    assert "leave both as they are" in out


def test_four_ways_by_ohms_law_and_by_signs(shelf, capsys):
    """Series adds ohms, parallel divides them. Wound alike and poles opposite, the join of like leads in series
    cancels hum and adds signals: common practice of two-coil pickups, and docs/pairs.md by Faraday's law."""
    ways = pair(capsys, shelf, *QUIET)["ways"]
    kinds = [(each["circuit"], each["hum_cancels"], each["signals_add"]) for each in ways]
    assert kinds == [
        ("series", True, True), ("series", False, False),
        ("parallel", True, True), ("parallel", False, False),
    ]  # fmt: skip
    assert ways[0]["ohm_20c"]["nominal"] == pytest.approx(476.0, rel=1e-3)
    assert ways[2]["ohm_20c"]["nominal"] == pytest.approx(240 * 236 / 476, rel=1e-3)
    assert {each[0] for each in ways[0]["joined"]} in ({"F"}, {"S"})
    assert ways[0]["hum_db"]["nominal"] < -25 < ways[1]["hum_db"]["nominal"]
    assert ways[1]["hum_db"]["nominal"] == pytest.approx(20 * math.log10(2), abs=0.2)


def test_one_wound_the_other_way_is_joined_the_other_way(shelf, capsys):
    before = pair(capsys, shelf, *QUIET)["ways"][0]
    told(capsys, "shelf", "edit", "2", "--direction", "counter-clockwise", *shelf)
    after = pair(capsys, shelf, *QUIET)["ways"][0]
    assert after["hum_cancels"]
    assert len({each[0] for each in before["joined"]}) == 1  # like leads
    assert len({each[0] for each in after["joined"]}) == 2  # start to finish


def test_the_wiring_in_words_and_pictures(shelf, capsys, tmp_path):
    file = tmp_path / "pair.svg"
    out = told(capsys, "shelf", "pair", "1", "2", *QUIET, "--svg", str(file), *shelf)
    assert "solder together: " in out and "hot: start of drone (no. 1) (white)" in out
    assert "white" in out and "black" in out
    assert max(map(len, out.splitlines())) <= 88
    svg = file.read_text()
    assert "white" in svg and ElementTree.fromstring(svg).tag.endswith("svg")
    again = told(capsys, "shelf", "pair", "1", "2", *QUIET, *shelf)
    assert again == out
    assert main(["shelf", "pair", "1", "2", *QUIET, "--svg", str(file), *shelf]) == 2
    assert "this name is taken already" in capsys.readouterr().err


def test_a_near_transformer_and_unequal_iron_spoil_more_than_a_few_turns(shelf, capsys):
    def hum(*words):
        stacked = ("--stacked", "2 mm", "--poles", "north", *words)
        return pair(capsys, shelf, *stacked)["ways"][0]["hum_db"]["high"]

    plain = hum("--iron", "none")
    assert hum("--iron", "none", "--source", "transformer", "--away", "0.2 m") > plain + 3
    assert hum("--iron", "steel-in-one") > plain + 6
    assert hum("--iron", "steel-in-one", "--ratio", "1.0") < hum("--iron", "steel-in-one")


@pytest.mark.parametrize(
    ("heard", "cure"),
    [
        ("hum", "turn one magnet round and swap the leads of that coil"),
        ("thin", "turn one magnet round"),
        ("hum-thin", "swap the leads of one coil"),
        ("one", "measure each coil's ohms: one is open or shorted"),
    ],
)
def test_asked_backwards_side_by_side(shelf, capsys, heard, cure):
    """By the two signs (docs/pairs.md): hum alone wrong, signal alone wrong, both wrong."""
    verdict = pair(capsys, shelf, *BESIDE, "--hears", heard)["verdict"]
    assert verdict["cure"] == cure
    out = told(capsys, "shelf", "pair", "1", "2", *BESIDE, "--hears", heard, *shelf)
    assert cure in out and "test: " in out


@pytest.mark.parametrize(
    ("words", "told_to"),
    [
        (["1", "1"], "cannot be a pair with itself"),
        (["1", "9"], "there is no coil '9'"),
        (["1", "3"], "nothing is wound on coil 3"),
        (["1", "2", "--svg", "x.svg"], "how do the two coils sit?"),
        (["1", "2", *BESIDE], "which poles face the string"),
        (["1", "2", *BESIDE, "--poles", "up"], "are not poles"),
        (["1", "2", "--stacked", "2 mm", "--poles", "north,south"], "one pole at the string"),
        (["1", "2", "--side-by-side", "1 mm", "--poles", "north"], "do not go side by side"),
        (["1", "2", "--stacked", "-2 mm", "--poles", "north"], "cannot be -2 mm apart"),
        (["1", "2", *QUIET, "--source", "wire"], "needs its distance"),
        (["1", "2", *QUIET, "--svg", "x.png"], "is an SVG drawing"),
        (["1", "2", *QUIET, "--ratio", "nan"], "ratio"),
    ],
)
def test_a_mistake_ends_with_one_clear_line(shelf, capsys, words, told_to):
    with Logbook.open(shelf[1]) as logbook:
        enter(logbook, "begun", turns=None)
    try:
        code = main(["shelf", "pair", *words, *shelf])
    except SystemExit as stopped:  # argparse's own
        code = stopped.code
    assert code == 2
    assert told_to in capsys.readouterr().err


def test_at_a_terminal_it_asks_how_they_sit(shelf, capsys, monkeypatch):
    answers = iter(["si", BESIDE[1], "n", "s", "steel"])
    monkeypatch.setattr(typed_answers, "somebody_there", lambda: True)
    monkeypatch.setattr("builtins.input", lambda prompt: next(answers))
    asked = told(capsys, "shelf", "pair", "1", "2", *shelf)
    given = told(capsys, "shelf", "pair", "1", "2", *QUIET, "--iron", "steel", *shelf)
    assert asked.index("How do the two sit") > asked.index("ohms at 20 C")
    assert asked.endswith(given[given.index("against one coil alone") :])
    monkeypatch.setattr("builtins.input", lambda prompt: "not yet")
    assert "--side-by-side APART" in told(capsys, "shelf", "pair", "1", "2", *shelf)
