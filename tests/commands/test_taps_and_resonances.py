"""What a tap test and two resonances tell of a coil and of a joined pair. Coils are invented."""

from __future__ import annotations

import itertools
import json
import math

import pytest

from tests.commands.shelf_of_coils import shelf_with, told
from winder.coil.capacitance import of_two_resonances
from winder.commands.main import main
from winder.shelf.readings import henry_limits

BESIDE = ("--side-by-side", "22 mm")


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "240")
    return shelf_with(tmp_path / "book", ("drone", 1200, 240.0), ("tine", 1200, 240.0))


def typed(monkeypatch, *answers: str) -> None:
    left = iter(answers)

    def answer(prompt=""):
        try:
            return next(left)
        except StopIteration:
            raise EOFError from None

    monkeypatch.setattr("builtins.input", answer)


# Kick, pole and side, and the direction: by Faraday's law, docs/pairs.md, "Two signs" (eight rows, summed along
# every turn in tests/pair/test_truth_table.py). All coils of the shelf are declared clockwise.
ROWS = (
    ("up", "north", "top to the string", "counter-clockwise"),
    ("down", "south", "top to the string", "counter-clockwise"),
    ("down", "north", "top away", "counter-clockwise"),
    ("up", "south", "top away", "counter-clockwise"),
    ("down", "north", "top to the string", "clockwise"),
    ("up", "south", "top to the string", "clockwise"),
    ("up", "north", "top away", "clockwise"),
    ("down", "south", "top away", "clockwise"),
)


@pytest.mark.parametrize(("kick", "pole", "side", "direction"), ROWS)
def test_a_tap_tells_the_direction_and_counts_before_the_declared_one(
    shelf, capsys, kick, pole, side, direction
):
    out = told(capsys, "shelf", "measure", "1", f"tap, {kick}, {pole}, {side}", *shelf)
    assert f"wound {direction} from start to finish, seen from the top" in out
    assert ("as the shelf has it" in out) is (direction == "clockwise")
    shown = told(capsys, "shelf", "show", "1", *shelf)
    assert f"{direction}, seen from the top of the coil, by a tap test" in shown


def test_a_tap_changes_which_leads_a_pair_joins_until_it_is_struck(shelf, capsys):
    def joined() -> list[str]:
        words = (*BESIDE, "--poles", "north,south", "--json")
        return json.loads(told(capsys, "shelf", "pair", "1", "2", *words, *shelf))["ways"][0][
            "joined"
        ]

    assert {end[0] for end in joined()} == {"F"}  # wound alike: like leads
    told(capsys, "shelf", "measure", "1", "tap, up, north", *shelf)
    assert {end[0] for end in joined()} == {"F", "S"}
    told(capsys, "shelf", "measure", "1", "--strike", "3", "--because", "red was on S", *shelf)
    assert {end[0] for end in joined()} == {"F"}


def test_the_program_leads_through_a_tap(shelf, capsys, monkeypatch):
    typed(monkeypatch, "east", "NORTH", "top", "u")
    out = told(capsys, "shelf", "measure", "1", "tap", *shelf)
    for words in ("Red lead on the finish", "compass", "pull it off", "counter-clockwise"):
        assert words in out
    record = json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))
    assert record["readings"][-1]["text"] == "tap, up, north"
    assert record["readings"][-1]["direction"] == "counter-clockwise"


def test_without_answers_nothing_is_entered(shelf, capsys, monkeypatch):
    typed(monkeypatch, "north")
    assert main(["shelf", "measure", "1", "tap", *shelf]) == 2
    assert "no usable answer" in capsys.readouterr().err
    assert len(json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))["readings"]) == 1


@pytest.mark.parametrize(
    "text",
    ["tap, sideways, north", "tap, up", "tap, up, east", "tap, up, north, under", "tap,", "tap, up, north, top away, x"],
)  # fmt: skip
def test_a_tap_that_is_none_is_refused_with_an_example(shelf, capsys, text):
    assert main(["shelf", "measure", "1", text, *shelf]) == 2
    assert "tap, up, north" in capsys.readouterr().err


@pytest.mark.parametrize("kicks", list(itertools.product(("up", "down"), repeat=2)))
@pytest.mark.parametrize("poles", ["north", "north,south"])
def test_two_taps_and_a_compass_decide_a_joined_pair(shelf, capsys, kicks, poles):
    """The same jump twice: signals add; alike jumps from unlike poles, or the other way round: hum cancels
    (docs/pairs.md, "The tap test", checked against voltages along every turn)."""
    words = (*BESIDE, "--poles", poles, "--taps", ",".join(kicks), "--json")
    facts = json.loads(told(capsys, "shelf", "pair", "1", "2", *words, *shelf))
    same, alike = kicks[0] == kicks[1], poles == "north"
    assert facts["signals_add"] is same
    assert facts["hum_cancels"] is (same is not alike)
    heard = {(True, True): "quiet and full", (True, False): "quiet but thin",
             (False, True): "hums and is loud", (False, False): "hums and is thin"}  # fmt: skip
    assert facts["verdict"]["heard"] == heard[facts["hum_cancels"], facts["signals_add"]]


def test_the_program_leads_through_two_taps(shelf, capsys, monkeypatch):
    typed(monkeypatch, "north", "south", "up", "down")
    out = told(capsys, "shelf", "pair", "1", "2", *BESIDE, "--taps", *shelf)
    assert "hum adds up and signals cancel, so it is thin" in out
    assert "cure: swap the leads of one coil" in out


def test_a_stack_is_tapped_coil_by_coil(shelf, capsys, monkeypatch):
    typed(monkeypatch, "up", "down")
    out = told(capsys, "shelf", "pair", "1", "2", "--stacked", "2 mm", "--poles", "south", "--taps", *shelf)  # fmt: skip
    assert "opposite ways round" in out and "unlike leads: F with S" in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*BESIDE, "--taps", "up", "--poles", "north"), "are not two taps"),
        ((*BESIDE, "--taps", "up,down"), "which poles"),
        (("--taps", "up,down"), "how do the two coils sit"),
        ((*BESIDE, "--taps", "up,up", "--hears", "hum"), "leave --hears out"),
    ],
)
def test_taps_that_say_too_little_are_refused(shelf, capsys, words, says):
    assert main(["shelf", "pair", "1", "2", *words, *shelf]) == 2
    assert says in capsys.readouterr().err


# --- resonance ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("henry", "own_f"), [(2.5, 100e-12), (0.9e-3, 15e-12), (5.0, 250e-12)])
def test_two_resonances_give_back_the_inductance(henry, own_f):
    """Thomson's formula f = 1 / (2 pi sqrt(L C)), the textbook resonance, forwards."""
    known = (470e-12, 100e-12)
    first, second = (1 / (2 * math.pi * math.sqrt(henry * (own_f + each))) for each in known)
    found = of_two_resonances(first, known[0], second, known[1])
    assert found == pytest.approx((henry, own_f), rel=1e-9)


def test_a_resonance_with_two_capacitors_is_kept_as_an_inductance(shelf, capsys):
    """Worked by hand: 7.1 kHz with 470 pF and 10.8 kHz with 100 pF. 1/w^2 is 5.0249e-10 and 2.1717e-10 s^2, so
    L = 2.8532e-10 / 370e-12 = 0.7711 H and C = 5.0249e-10 / 0.7711 - 470e-12 = 181.6 pF."""
    text = "resonance, 7.1 kHz with 470 pF, 10.8 kHz with 100 pF"
    facts = json.loads(told(capsys, "shelf", "measure", "1", text, "--json", *shelf))
    assert facts["henry"] == pytest.approx(0.7711, rel=1e-3)
    assert facts["farad"] == pytest.approx(181.6e-12, rel=3e-3)
    out = told(capsys, "shelf", "measure", "1", text, *shelf)
    assert "771.1 mH, between" in out and "182 pF of its own" in out and "in air" in out
    record = json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))
    assert record["readings"][-1]["henry"] == pytest.approx(0.7711, rel=1e-3)
    low, high = henry_limits(text)
    assert low < 0.7711 < high


def test_capacitors_that_do_not_go_with_the_frequencies_are_refused(shelf, capsys):
    text = "resonance, 7.1 kHz with 100 pF, 9.8 kHz with 470 pF"
    assert main(["shelf", "measure", "1", text, *shelf]) == 2
    assert "larger capacitor" in capsys.readouterr().err
    near = "resonance, 7.1 kHz with 470 pF, 7.15 kHz with 465 pF"
    assert henry_limits(near) is None
    assert "no limits" in told(capsys, "shelf", "measure", "1", near, *shelf)


def test_words_of_one_resonance_are_kept_as_they_are(shelf, capsys):
    told(capsys, "shelf", "measure", "1", "resonance, 7.1 kHz on the bench", *shelf)
    record = json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))
    assert record["readings"][-1]["henry"] is None
