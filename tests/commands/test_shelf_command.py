"""``winder shelf``: what a person, or another program, is told of the coils made. Coils are invented."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest

from tests.commands.shelf_of_coils import HOSTILE, enter, told
from winder.commands.main import main
from winder.shelf import Logbook
from winder.wind.deeds import Brought
from winder.wind.model import How, SessionEvent


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Words that select a logbook: an exact coil, one in doubt with a hostile name, and a simulated one."""
    monkeypatch.setenv("COLUMNS", "240")
    file = tmp_path / "logbook.sqlite"
    with Logbook.open(file) as logbook:
        first = enter(logbook, "drone sensor", turns=1200)
        second, _ = enter(logbook, HOSTILE, turns=None), enter(logbook, "trial", turns=40, seed=7)
        doubt = Brought(9001, 9020, 9040, 20, "", "the board was reset while winding")
        logbook.write(second, [SessionEvent("moved", 1, "", None, {}, (doubt,))])
        logbook.end_run(second, How.LOST)
        logbook.write(
            first,
            [
                SessionEvent("started", 2_000_000_000, "winding", 0),
                SessionEvent("note", 3_500_000_000, HOSTILE, 50),
            ],
        )
        logbook.end_run(first, How.COMPLETE, measured_ohm=203.4, measured_at_c=21.5)
    return ["--logbook", str(file)]


def test_the_list_tells_each_coil_and_how_sure_its_turns_are(shelf, capsys):
    lines = told(capsys, "shelf", "list", *shelf).splitlines()
    (drone,) = [line for line in lines if "drone sensor" in line]
    # 203.4 ohm at 21.5 C at 20 C by IEC 60028: 203.4 / (1 + 0.00393 * 1.5) = 202.2
    assert re.search(r"1\s+drone sensor\s+complete\s+1200\s+202.2\s+\d+\.?\d* to \d+", drone)
    assert re.search(r"20\d\d-\d\d-\d\d$", drone.strip())
    (tine,) = [line for line in lines if "tine" in line]
    assert re.search(r"unfinished\s+450.05 to 452", tine)


def test_simulated_coils_are_never_mixed_with_real_ones(shelf, capsys):
    real = told(capsys, "shelf", "list", *shelf)
    assert "trial" not in real and "1 of the simulated machine: --simulated lists them" in real
    simulated = told(capsys, "shelf", "list", "--simulated", *shelf)
    assert "trial" in simulated and "drone" not in simulated
    rows = json.loads(told(capsys, "shelf", "list", "--json", *shelf))
    assert [row["simulated"] for row in rows] == [False, False, True]
    rows = json.loads(told(capsys, "shelf", "list", "--json", "--simulated", *shelf))
    assert [row["name"] for row in rows] == ["trial"]


def test_names_and_notes_are_plain_text(shelf, capsys):
    for words in (["list"], ["show", "1"], ["show", "2"]):
        out = told(capsys, "shelf", *words, *shelf)
        assert "\x1b" not in out
        assert "[bold]tine[/nothing]  [31m:warning:" in out


def test_eighty_columns_hold_the_list_and_cut_no_number(shelf, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    out = told(capsys, "shelf", "list", *shelf)
    assert "\u2026" not in out
    assert max(map(len, out.splitlines())) <= 80
    words = out.split()
    for whole in ("complete", "unfinished", "450.05", "452", "202.2"):
        assert whole in words
    assert len(re.findall(r"20\d\d-\d\d-\d\d", out)) == 2


@pytest.mark.parametrize(
    ("words", "numbers"),
    [
        (["--name", "DRONE"], [1]),
        (["--wire", "42 awg"], [1, 2]),
        (["--wire", "43"], []),
        (["--state", "unfinished"], [2]),
        (["--since", "2999-01-01"], []),
        (["--ohms", "200..203"], [1]),
        (["--ohms", "203.."], [2]),
        (["--turns", "1000.."], [1]),
        (["--turns", "451..451"], [2]),
        (["--spool", "red"], []),
        (["--find", "DRONE 42 complete"], [1]),
        (["--find", "drone unfinished"], []),
        (["--real", "--newest", "1"], [2]),
        (["--newest", "0"], []),
    ],
)
def test_filters_choose(shelf, capsys, words, numbers):
    rows = json.loads(told(capsys, "shelf", "list", "--json", *words, *shelf))
    assert [row["coil_id"] for row in rows if not row["simulated"]] == numbers


def test_one_coil_is_shown_with_run_journal_and_recipe(shelf, capsys):
    out = told(capsys, "shelf", "show", "drone sensor", *shelf)
    assert "measured 203.4 at 21.5 C" in out
    assert "clockwise, seen from the top of the coil" in out
    assert "run 1 on simulated bench at /dev/ttyX, wind 77" in out
    assert re.search(r"started\s+0.00\s+winding", out)
    assert re.search(r"note\s+2.50", out)
    assert 'film = "single"' in out


def test_a_doubt_is_shown_with_its_reason(shelf, capsys):
    out = told(capsys, "shelf", "show", "2", *shelf)
    assert "between: the board was reset while winding" in out


def test_the_logbook_may_be_named_before_the_verb(shelf, capsys):
    assert told(capsys, *shelf, "shelf", "list") == told(capsys, "shelf", "list", *shelf)


def test_json_tells_the_same_to_programs(shelf, capsys):
    first, second, _ = json.loads(told(capsys, "shelf", "list", "--json", *shelf))
    assert (first["name"], second["name"]) == ("drone sensor", HOSTILE)
    assert first["count"]["certainty"] == "exact"
    assert (first["count"]["low"], first["count"]["high"]) == (24000, 24000)
    assert second["turns"] == [450.05, 452.0]
    record = json.loads(told(capsys, "shelf", "show", "1", "--json", *shelf))
    (run,) = record["runs"]
    assert run["plan"]["legs"][-1]["at_end"] == "complete"
    assert HOSTILE in [line["text"] for line in run["lines"]]
    assert record["recipe"]["wire"]["gauge"] == 42
    (reading,) = record["readings"]
    assert (reading["ohm"], reading["temperature_c"]) == (203.4, 21.5)


def test_an_empty_shelf_says_so(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert told(capsys, "shelf", "list") == "The shelf is empty: no coil has been wound yet.\n"
    assert told(capsys, "shelf", "list", "--json") == "[]\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "told_to"),
    [
        (["show", "drone sensr"], "did you mean 'drone sensor'?"),
        (["list", "--logbook", "missing.sqlite"], "missing.sqlite: there is no such logbook"),
        (["list", "--logbook", "/"], "is a folder, not a logbook"),
        (["list", "--ohms", "12"], "is not a range"),
        (["list", "--turns", "9..nan"], "is not a range"),
        (["list", "--since", "yesterday"], "is not a date"),
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


def test_the_summary_is_the_mean_of_what_was_measured(tmp_path, capsys):
    """Against figures computed here: coils read 2 % and 4 % above what the shelf expects of them."""
    file = tmp_path / "logbook.sqlite"
    with Logbook.open(file) as logbook:
        for share in (1.02, 1.04):
            run = enter(logbook, "drone sensor", turns=1200)
            expected = logbook.coils()[0].ohm_20c[0]
            logbook.end_run(run, How.COMPLETE, measured_ohm=expected * share, measured_at_c=20.0)
    out = told(capsys, "shelf", "list", "--summary", "--logbook", str(file))
    assert "2 coils with a reading" in out
    mean, apart = re.search(
        r"tables alone: ([+-][\d.]+) % on average, ([\d.]+) % apart", out
    ).groups()
    assert float(mean) == pytest.approx(3.0, abs=0.01)
    assert float(apart) == pytest.approx(2.0 / math.sqrt(2), abs=0.01)
    assert "packing, 42 AWG single" in out
