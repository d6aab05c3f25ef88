"""A wind in its own thread: pulled views, queued intents, and a lease that hangs on the screen."""

from __future__ import annotations

import threading

from workshop_recipes import RECIPE_TEXT

from winder.plan.facing import Top
from winder.service.opening import Declared
from winder.service.run import WindRun
from winder.service.workbench import LocalWorkbench, WindRequest, start_run
from winder.wind.model import Asked, Intent, Phase

WAIT_S = 10.0


def started(tmp_path, port: str, turns: int = 4000) -> WindRun:
    recipe = tmp_path / "coil.toml"
    recipe.write_text(RECIPE_TEXT.format(turns=turns))
    declared = Declared(Top.OPERATOR, 12.0, by="--start")
    run = start_run(
        WindRequest(str(recipe), port, logbook=str(tmp_path / "book"), declared=declared)
    )
    run.start_when_ready()
    return run


def wait_for(run: WindRun, wanted, *, alive: bool) -> bool:
    tick = threading.Event()
    for _ in range(round(WAIT_S / 0.02)):
        if alive:
            run.screen_is_alive()
        if wanted(run.view):
            return True
        tick.wait(0.02)
    return False


def test_a_screen_that_hangs_loses_the_motor(tmp_path):
    run = started(tmp_path, "sim")
    try:
        assert wait_for(run, lambda view: view.count.turns > 2, alive=True)
        assert run.view.phase is Phase.WINDING
        assert wait_for(run, lambda view: view.phase is Phase.PAUSED, alive=False)
        assert run.view.count.turns < 400
    finally:
        run.close(10)
    assert run.finished


def test_refusals_come_back_as_sentences_and_leaving_pauses(tmp_path):
    run = started(tmp_path, "sim?pace=5")
    try:
        assert wait_for(run, lambda view: view.count.turns > 2, alive=True)
        run.ask(Asked(Intent.CLEAR_TRIP))
        said: list[str] = []

        def heard(_view) -> bool:
            said.extend(run.refusals())
            return bool(said)

        assert wait_for(run, heard, alive=True)
    finally:
        run.close(20)
    assert run.finished and run.trouble is None
    (row,) = LocalWorkbench(str(tmp_path / "book")).shelf(9)
    assert row.name == "test coil"
    assert "turned while nobody counted" in row.truth, "left at rest: a turn either way"


def test_the_workbench_offers_recipes_ports_and_the_shelf(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.toml").write_text(RECIPE_TEXT.format(turns=40))
    (tmp_path / "broken.toml").write_text("[wire]\n")
    (tmp_path / "other.toml").write_text("[tool]\nx = 1\n")
    bench = LocalWorkbench(str(tmp_path / "book"))
    entries = {entry.name: entry.summary for entry in bench.recipes()}
    assert "40 turns" in entries["mine.toml"]
    assert "cannot be wound" in entries["broken.toml"]
    assert "other.toml" not in entries
    assert any(name.startswith("example") for name in entries)
    assert bench.ports()[0] == "sim"
    assert bench.shelf(9) == [] and bench.unfinished() == []
