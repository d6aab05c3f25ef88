"""``winder wind --continue COIL``: by the recipe on record, and with turns to take off it. Coils are invented."""

from __future__ import annotations

import json

import pytest

from tests.commands.running import AT_ONCE
from tests.commands.shelf_of_coils import shelf_with, told
from winder.commands.main import build_parser, main
from winder.commands.wind import request_of
from winder.plan.facing import Top
from winder.service.going_on import GoesOn, coil_to_go_on
from winder.service.opening import Declared
from winder.service.workbench import WindRequest, close_run, open_run
from winder.shelf import Logbook
from winder.wind.model import Asked, Intent, Phase

WIND = ("wind", "--port", "sim", *AT_ONCE)


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "240")
    return shelf_with(tmp_path / "book", ("drone", 60, None), ("tine", 64, None))


def test_turns_that_the_pair_advises_come_off_under_count(shelf, capsys):
    """Wound alike on one bobbin, 64 against 60 turns: four turns too many, by counting."""
    out = told(capsys, "shelf", "pair", "1", "2", *shelf)
    command = "winder wind --continue 2 --take-off 4 --port"
    assert f"under count: {command}" in out

    request = WindRequest(
        None, "sim?pace=60", logbook=shelf[1],
        goes_on=GoesOn("2", take_off=4), declared=Declared(Top.OPERATOR, 12.0, "test"),
    )  # fmt: skip
    opened, logbook = open_run(request)
    wind = opened.wind
    asked = False
    for _ in range(20_000):
        wind.step()
        view = wind.view()
        phase = view.phase
        if phase is Phase.TAKING_OFF and not asked:
            if Intent.ACCEPT_CAUTIONS in view.may:
                wind.ask(Asked(Intent.ACCEPT_CAUTIONS))
            wind.ask(Asked(Intent.TAKE_OFF, 4.0))
            asked = True
        if phase is Phase.COMPLETE and Intent.LEAVE in view.may:
            wind.ask(Asked(Intent.LEAVE))
        if wind.finished:
            break
    close_run(opened, logbook)
    with Logbook.open(shelf[1]) as logbook:
        row = logbook.coil("2").row
    assert row.turns == (60.0, 60.0)
    assert "as many turns as" in told(capsys, "shelf", "pair", "1", "2", *shelf)


def test_a_coil_goes_on_by_the_recipe_on_record(shelf, tmp_path):
    with Logbook.open(shelf[1]) as logbook:
        assert coil_to_go_on(logbook, GoesOn("tine")).turns == 64
        assert coil_to_go_on(logbook, GoesOn("tine", take_off=4)).turns == 60
        assert coil_to_go_on(logbook, GoesOn("tine", turns=62.0, take_off=4)).turns == 58


def test_a_mate_aims_at_the_first_coil_and_the_same_again_at_that(shelf, capsys):
    """The text of a mate's recipe has the target of another coil: its own is kept beside it."""
    from tests.commands.running import winder

    with Logbook.open(shelf[1]) as logbook:
        logbook.book.connection.execute("UPDATE coils SET low = low - 40, best = best - 40, high = high - 40 WHERE id = 2")  # fmt: skip
        before = logbook.coil("2").row.turns
    assert before is not None and before[0] < 64
    done = winder("wind", "--mate", "2", "--by", "turns", "--port", "sim?pace=60", *AT_ONCE, *shelf)
    assert done.returncode == 0, done.stderr
    mate = json.loads(told(capsys, "shelf", "show", "3", "--json", *shelf))
    plan = json.loads(told(capsys, "plan", "--like", "3", "--json", *shelf))
    assert plan["target_turns"] == mate["target_turns"] == round(before[0]) != 64


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--take-off", "3"), "add --continue COIL"),
        (("x.toml", "--continue", "1", "--take-off", "3"), "leave RECIPE out"),
        (("--continue", "1", "--take-off", "60"), "cannot come off"),
        (("--continue", "1", "--take-off", "0"), "cannot come off"),
        (("--continue", "1", "--take-off", "-4"), "cannot come off"),
        (("--continue", "9", "--take-off", "3"), "there is no coil '9'"),
    ],
)
def test_turns_that_cannot_come_off_are_refused(shelf, capsys, words, says):
    assert main([*WIND, *words, *shelf]) == 2
    assert says in capsys.readouterr().err


def test_a_count_in_doubt_is_settled_first(shelf, capsys):
    with Logbook.open(shelf[1]) as logbook:
        logbook.book.connection.execute("UPDATE coils SET high = high + 400 WHERE id = 1")
    words = (*WIND, "--continue", "1", "--take-off", "3", *shelf)
    assert main([*words]) == 2
    assert "add --turns N" in capsys.readouterr().err
    request = request_of(build_parser().parse_args([*words, "--turns", "60"]))
    assert request.goes_on == GoesOn("1", 60.0, 3)
