"""The workbench's shelf knows which coil may go on, and opens a new wind of it."""

from __future__ import annotations

import threading

from workshop_recipes import RECIPE_TEXT

from winder.plan.facing import Top
from winder.service.workbench import LocalWorkbench
from winder.wind.model import Asked, Intent, Phase


def test_a_coil_that_was_left_half_way_goes_on_in_a_new_wind(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    recipe = tmp_path / "mine.toml"
    recipe.write_text(RECIPE_TEXT.format(turns=40))
    bench = LocalWorkbench(str(tmp_path / "book"))
    first = bench.open_wind(str(recipe), "sim?pace=50")
    first.close(10)
    (left,) = bench.shelf(9)
    assert left.goes_on and left.name == "test coil"
    entry = next(entry for entry in bench.recipes() if entry.name == "mine.toml")
    assert entry.coil_name == left.name

    again = bench.open_wind(entry.path, "sim?pace=50", left.coil_id)
    tick = threading.Event()
    for _ in range(500):
        again.screen_is_alive()
        if again.view.phase is Phase.SETTING_UP and Intent.DECLARE_SET_UP not in again.view.may:
            again.ask(Asked(Intent.DECLARE_TOP, Top.OPERATOR))
            again.start_when_ready()
        if again.view.phase is Phase.COMPLETE:
            break
        tick.wait(0.02)
    again.ask(Asked(Intent.LEAVE))
    again.close(10)
    (done,) = bench.shelf(9)
    assert done.coil_id == left.coil_id
    assert done.state == "complete" and not done.goes_on


def test_a_recipe_that_cannot_be_read_winds_no_coil_by_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "broken.toml").write_text("[wire]\n")
    broken = next(e for e in LocalWorkbench(str(tmp_path / "b")).recipes() if "broken" in e.name)
    assert broken.coil_name == ""
