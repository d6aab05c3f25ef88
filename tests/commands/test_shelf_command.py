"""``winder shelf``: what a person, or another program, is told of the coils made. Coils are invented."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from winder.coil.bands import Band
from winder.coil.model import Coil
from winder.coil.wire import WireFacts
from winder.commands.main import main
from winder.machine.model import SIMULATED_BENCH
from winder.plan.model import AtEnd, Leg, Plan
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget
from winder.shelf import Logbook
from winder.wind.deeds import Brought, Opens, Says, Word
from winder.wind.model import How, SessionEvent

HOSTILE = "[bold]tine[/nothing] \x1b[31m:warning:"
DOUBTFUL = Brought(9001, 9020, 9040, 20, "", "the board was reset while winding")
WHOLE = (Opens(77, 1, 20, False, True), Says(77, Word(24000, uptime_ms=9), final=True))


def enter(logbook: Logbook, name: str) -> int:
    """A coil of that name with one run; the run's number."""
    recipe = Recipe(
        name=name,
        note="invented",
        wire=AwgWire(42, "single"),
        core=RoundCore(0.006),
        width_m=0.008,
        height_m=0.004,
        target=TurnsTarget(1200),
        direction=Direction.CLOCKWISE,
        text="# invented\nturns = [1200]\n",
    )
    wire = WireFacts("42 AWG single", 63e-6, 72e-6, Band(5.45, 5.2, 5.7), "invented")
    band = Band(205.0, 195.0, 216.0)
    coil = Coil(
        recipe, wire, 1200, 0.019, 2.8e-5, 0.008, band, 111.0, 10.8, 0.001, True, 38.0, 0.03, band
    )
    leg = Leg("body", 24000, AtEnd.COMPLETE, 900.0, 600.0, 30.0, 0, 8e-5, 0.001, 0.008, 4, 0)
    plan = Plan((leg,), 20, 1, 0, 1200, 85.0)
    coil_id = logbook.begin_coil(recipe, coil, plan)
    return logbook.begin_run(
        coil_id, wind=77, plan=plan, machine=SIMULATED_BENCH, port="sim", simulated_seed=7
    )


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Words that select a logbook with two coils: one exact, one in doubt with a hostile name."""
    monkeypatch.setenv("COLUMNS", "240")
    file = tmp_path / "logbook.sqlite"
    with Logbook.open(file) as logbook:
        first, second = enter(logbook, "drone sensor"), enter(logbook, HOSTILE)
        logbook.write(
            first,
            [
                SessionEvent("started", 2_000_000_000, "winding", 0),
                SessionEvent("note", 3_500_000_000, HOSTILE, 50, {}, WHOLE),
            ],
        )
        logbook.end_run(first, How.COMPLETE, measured_ohm=203.4, measured_at_c=21.5)
        logbook.write(second, [SessionEvent("doubt", 1, "doubt", None, {}, (DOUBTFUL,))])
        logbook.end_run(second, How.LOST)
    return ["--logbook", str(file)]


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == 0
    return capsys.readouterr().out


def test_the_list_tells_each_coil_and_how_sure_its_turns_are(shelf, capsys):
    lines = told(capsys, "shelf", "list", *shelf).splitlines()
    (drone,) = [line for line in lines if "drone sensor" in line]
    assert re.search(r"1\s+drone sensor\s+complete\s+1200\s+1200\s+42 AWG single", drone)
    assert "195 to 216" in drone
    (tine,) = [line for line in lines if "tine" in line]
    assert re.search(r"unfinished\s+450.05 to 452\s+1200", tine)


def test_names_and_notes_are_plain_text(shelf, capsys):
    for words in (["list"], ["show", "1"], ["show", "2"]):
        out = told(capsys, "shelf", *words, *shelf)
        assert "\x1b" not in out
        assert "[bold]tine[/nothing]  [31m:warning:" in out


def test_a_narrow_terminal_cuts_no_number(shelf, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    out = told(capsys, "shelf", "list", *shelf)
    assert "\u2026" not in out
    assert max(map(len, out.splitlines())) <= 80
    words = out.split()
    for whole in ("complete", "unfinished", "450.05", "452", "1200"):
        assert whole in words


def test_one_coil_is_shown_with_run_journal_and_recipe(shelf, capsys):
    out = told(capsys, "shelf", "show", "drone sensor", *shelf)
    assert "205 (195 to 216), measured 203.4 at 21.5 C" in out
    assert "clockwise, seen from the top of the coil" in out
    assert "run 1 on simulated bench at sim, simulated with seed 7, wind 77" in out
    assert re.search(r"1\s+0.00 s\s+started\s+0.00\s+winding", out)
    assert re.search(r"2\s+1.50 s\s+note\s+2.50", out)
    assert "# invented\nturns = [1200]\n" in out


def test_a_doubt_is_shown_with_its_reason(shelf, capsys):
    out = told(capsys, "shelf", "show", "2", *shelf)
    assert "between: the board was reset while winding" in out


def test_the_logbook_may_be_named_before_the_verb(shelf, capsys):
    assert told(capsys, *shelf, "shelf", "list") == told(capsys, "shelf", "list", *shelf)


def test_json_tells_the_same_to_programs(shelf, capsys):
    first, second = json.loads(told(capsys, "shelf", "list", "--json", *shelf))
    assert (first["name"], second["name"]) == ("drone sensor", HOSTILE)
    assert first["count"] == {
        "certainty": "exact",
        "low": 24000,
        "best": 24000,
        "high": 24000,
        "by": "",
        "why": "",
        "counts_per_turn": 20,
    }
    assert second["turns"] == [450.05, 452.0]
    record = json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))
    (run,) = record["runs"]
    assert run["plan"]["legs"][0]["at_end"] == "complete"
    assert [line["text"] for line in run["lines"]] == ["winding", HOSTILE]
    assert record["recipe"]["wire"]["gauge"] == 42


def test_an_empty_shelf_says_so(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert told(capsys, "shelf", "list") == "The shelf is empty: no coil was wound yet.\n"
    assert told(capsys, "shelf", "list", "--json") == "[]\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "told_to"),
    [
        (["show", "drone sensr"], "did you mean 'drone sensor'?"),
        (["list", "--logbook", "missing.sqlite"], "missing.sqlite: there is no such logbook"),
        (["list", "--logbook", "/"], "is a folder, not a logbook"),
    ],
)
def test_a_mistake_ends_with_one_clear_line(shelf, capsys, words, told_to):
    assert main([*shelf, "shelf", *words]) == 2
    said = capsys.readouterr().err
    assert told_to in said
    assert said.count("\n") == 1


def test_reading_the_shelf_while_a_wind_is_written(shelf, capsys):
    with Logbook.open(shelf[1]):
        assert "drone sensor" in told(capsys, "shelf", "list", *shelf)
