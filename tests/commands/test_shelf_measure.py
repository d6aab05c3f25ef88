"""``winder shelf measure`` and ``edit``: readings are kept, judged, struck out, never changed."""

from __future__ import annotations

import json

import pytest

from tests.commands.shelf_of_coils import HOSTILE, enter, shelf_with, told
from winder.commands.main import main
from winder.shelf import Logbook


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "240")
    return shelf_with(tmp_path / "book", ("drone", 1200, None))


def expected(capsys, shelf) -> float:
    return json.loads(told(capsys, "shelf", "list", "--json", *shelf))[0]["ohm_20c"][0]


def test_a_reading_is_brought_to_20_c_and_judged(shelf, capsys):
    """Copper by IEC 60028: alpha 0.00393 at 20 C, so a coil at 30 C shows 1.0393 times its ohms at 20 C."""
    right = expected(capsys, shelf)
    text = f"{right * 1.0393:.6g} ohm, 30 C"
    facts = json.loads(told(capsys, "shelf", "measure", "1", text, "--json", *shelf))
    assert facts["ohm_20c"]["nominal"] == pytest.approx(right, rel=1e-4)
    assert facts["as_expected"]
    out = told(capsys, "shelf", "measure", "1", text, "--meter", "the old one", *shelf)
    assert "as expected: " in out
    shown = told(capsys, "shelf", "show", "1", *shelf)
    assert shown.count(text) == 2 and "the old one" in shown


def test_a_reading_that_cannot_be_is_told_with_likely_causes_and_kept(shelf, capsys):
    out = told(
        capsys, "shelf", "measure", "1", f"{expected(capsys, shelf) / 1000:.4g} kohm", *shelf
    )
    assert "no temperature given" in out
    out = told(capsys, "shelf", "measure", "1", "1.2 ohm, 20 C", *shelf)
    assert "leads touch each other" in out
    record = json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))
    assert len(record["readings"]) == 2


def test_several_readings_stay_and_a_struck_one_no_longer_counts(shelf, capsys):
    told(capsys, "shelf", "measure", "1", "200 ohm, 20 C", *shelf)
    told(capsys, "shelf", "measure", "1", "300 ohm, 20 C", *shelf)
    told(capsys, "shelf", "measure", "1", "inductance, 12 mH", *shelf)
    told(capsys, "shelf", "measure", "1", "resonance, 7.1 kHz with 470 pF", *shelf)
    assert json.loads(told(capsys, "shelf", "list", "--json", *shelf))[0]["measured_ohm"] == 300
    told(capsys, "shelf", "measure", "1", "--strike", "2", "--because", "wrong coil", *shelf)
    assert json.loads(told(capsys, "shelf", "list", "--json", *shelf))[0]["measured_ohm"] == 200
    readings = json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))["readings"]
    assert [each["ohm"] for each in readings] == [200, 300, None, None]
    assert readings[1]["struck"] == "wrong coil"
    assert readings[2]["henry"] == pytest.approx(0.012)
    assert "struck out: wrong coil" in told(capsys, "shelf", "show", "1", *shelf)


def test_what_is_said_of_a_coil_is_shown_and_taken_back(shelf, capsys):
    words = ["--note", HOSTILE, "--place", "box 3", "--start-colour", "white"]
    told(capsys, "shelf", "edit", "1", *words, "--direction", "counter-clockwise", *shelf)
    out = told(capsys, "shelf", "show", "1", *shelf)
    assert "\x1b" not in out and "box 3" in out and "S, the start: white" in out
    assert "counter-clockwise, seen from the top of the coil, as declared" in out
    told(capsys, "shelf", "edit", "1", "--place", "", "--hide", "--spoiled", "shorted", *shelf)
    assert "box 3" not in told(capsys, "shelf", "show", "1", *shelf)
    assert "drone" not in told(capsys, "shelf", "list", *shelf)
    out = told(capsys, "shelf", "list", "--hidden", "--state", "spoiled", *shelf)
    assert "drone" in out and "spoiled" in out
    told(capsys, "shelf", "edit", "1", "--unhide", *shelf)
    assert "drone" in told(capsys, "shelf", "list", *shelf)


@pytest.mark.parametrize(
    ("words", "told_to"),
    [
        (["measure", "1"], "either a reading or --strike N"),
        (["measure", "1", "812"], "as in 3.9 ohm"),
        (["measure", "1", "812 ohm, 900 C"], "not a temperature"),
        (["measure", "1", "8 ohm, 9 ohm"], "gives a resistance twice"),
        (["measure", "1", "resonance"], "has no measured value"),
        (["measure", "1", "inductance, 12 ohm"], "mH"),
        (["measure", "1", "0 ohm"], "must be above zero"),
        (["measure", "1", "--strike", "9", "--because", "x"], "has no reading 9"),
        (["measure", "1", "--strike", "1"], "without a reason"),
        (["measure", "9", "812 ohm"], "there is no coil '9'"),
        (["edit", "1"], "no change was given"),
        (["edit", "1", "--spool", "red"], "no spool is called 'red'"),
        (["edit", "1", "--note", "x" * 3000], "letters is too long"),
    ],
)
def test_a_mistake_ends_with_one_clear_line(shelf, capsys, words, told_to):
    assert main(["shelf", *words, *shelf]) == 2
    said = capsys.readouterr().err
    assert told_to in said
    assert said.count("\n") == 1


def test_a_coil_of_which_nothing_can_be_expected_takes_its_reading_all_the_same(tmp_path, capsys):
    file = tmp_path / "book"
    with Logbook.open(file) as logbook:
        enter(logbook, "begun", turns=None)
    out = told(capsys, "shelf", "measure", "1", "812 ohm, 23 C", "--logbook", str(file))
    assert "reading 1 of coil 1 is in the logbook" in out and "no verdict" in out
