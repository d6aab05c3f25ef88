"""The tour by keys: from a recipe to a matched, wired pair with its cards, on the screen alone, on the real logbook.

The wind is the service's own on the simulated machine; coils, readings and the maker of kalimbas are invented.
"""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Callable
from functools import partial

import pytest
from piloting import Stage, on_stage
from textual.widgets import Input, Static

from winder.commands.main import build_parser
from winder.commands.said import said
from winder.screens.asking import ShowFinding
from winder.screens.forms import AskChoice, AskLine, ShowText
from winder.screens.pair_screen import PairScreen
from winder.screens.starting import SECOND_KEY
from winder.service.workbench import LocalWorkbench
from winder.shelf import Logbook
from winder.wind.model import Intent, Phase

RECIPE = """\
name = "tine coil"
[wire]
gauge = "42 AWG"
film = "single"
[bobbin]
shape = "round"
diameter = "7 mm"
width = "4 mm"
flange_height = "4.5 mm"
[target]
turns = 450
[winding]
direction = "clockwise"
pauses = [225]
"""
ANSWERED_LOOKS = 10
LOOK_S, PATIENCE = 0.05, 600  # so that what never comes ends the test


class Bench(LocalWorkbench):
    def ports(self):
        return ["sim?pace=30&seed=5"]


@pytest.fixture
def bench(tmp_path, monkeypatch) -> Bench:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    (tmp_path / "tine.toml").write_text(RECIPE)
    return Bench(str(tmp_path / "book"), None, partial(said, build_parser()))


async def type_in(stage: Stage, text: str) -> None:
    """A line and Enter; sign by sign is for the tests of single keys."""
    await until(stage, lambda: bool(stage.app.screen.query(Input)))
    stage.app.screen.query_one(Input).value = text
    await stage.press("enter")


async def until(stage: Stage, holds: Callable[[], bool]) -> None:
    for _ in range(PATIENCE):
        if holds():
            return
        await asyncio.sleep(LOOK_S)
        stage.clock.sleep_s(LOOK_S)
        stage.app.tick()
    wind = stage.app.wind
    state = None if wind is None else (wind.leaving, wind.may_move, wind.run_of_wind.finished)
    raise AssertionError(f"{stage.app.screen} {state}\n{stage.text}")


async def until_phase(stage: Stage, phase: Phase) -> None:
    """As the screen shows it: a key is judged by what its screen has seen."""
    await until(stage, lambda: stage.app.wind is not None and stage.app.wind.view.phase is phase)


async def set_up(stage: Stage, *, goes_on: bool = False) -> None:
    """The list before the wind: top, lead, tension, guide; then the plan is loaded."""
    await until_phase(stage, Phase.SETTING_UP)
    await stage.press("o", "l", "g")
    await type_in(stage, "12")
    wind = stage.app.wind
    assert wind is not None
    if not goes_on:
        await stage.press("f")
    else:  # the guide is stepped to the wire
        await stage.press("left_square_bracket")
        for _ in range(ANSWERED_LOOKS):  # what was possible before is shown until then
            await asyncio.sleep(LOOK_S)
            stage.clock.sleep_s(LOOK_S)
            stage.app.tick()
        await until(stage, lambda: Intent.STEP_GUIDE in wind.view.may)
        await stage.press("p")
        await stage.press("right")
        await until(
            stage, lambda: wind.view.lay.guide_mm == 1.0 and Intent.WIRE_HERE in wind.view.may
        )
        await stage.press("z")
    await until(stage, lambda: Intent.SET_UP_DONE in wind.view.may)
    await stage.press("d")


async def wind_it(stage: Stage, half_way: str) -> None:
    """Until it is complete, with a reading at the pause; back to the start screen."""
    await set_up(stage)
    await until_phase(stage, Phase.READY)
    await stage.start("s")
    await until_phase(stage, Phase.PAUSED)
    await stage.press("m")
    await type_in(stage, half_way)
    await until(stage, lambda: isinstance(stage.app.screen, ShowFinding))
    await stage.press("enter")  # so soon after a start Escape is a stop key
    await stage.start("c")
    await until_phase(stage, Phase.COMPLETE)
    await stage.press("q")
    await until(stage, lambda: stage.app.wind is None)


async def first_coil(stage: Stage) -> None:
    """A spool with a tail, and a coil from it."""
    await stage.press("s", "n", "n")
    await type_in(stage, "red")
    await type_in(stage, "42 AWG single")
    await stage.press("enter")
    await type_in(stage, "900 m")
    assert "spool 'red', 42 AWG single: 900 m left" in stage.text
    await stage.press("t")
    await type_in(stage, "20 m, 108.4 ohm, 22 C")
    assert "880 m" in stage.text
    await stage.press("escape", "escape", "w")
    assert isinstance(stage.app.screen, AskChoice) and "From which spool?" in stage.text
    await stage.press("enter")
    await wind_it(stage, "29.21 22")


async def measure(stage: Stage, coil: int, reading: str, colours: tuple[str, str]) -> None:
    """A reading and both lead colours of the coil that is looked at, on the shelf."""
    await stage.press("m")
    assert f"What was measured of coil {coil}?" in stage.text
    await type_in(stage, reading)
    assert isinstance(stage.app.screen, ShowText) and "as expected" in stage.text
    await stage.press("escape")
    for downs, colour in zip((2, 3), colours, strict=True):
        await stage.press("e", *["down"] * downs, "enter")
        assert isinstance(stage.app.screen, AskLine)
        await type_in(stage, colour)


async def tap(stage: Stage, pole: str, kick: str) -> None:
    await stage.press("m")
    await type_in(stage, "tap")
    assert "Red lead on the finish" in stage.text
    await stage.press(*(["down"] if pole == "south" else []), "enter")
    await stage.press("enter")
    await stage.press(*(["down"] if kick == "down" else []), "enter")
    assert "wound clockwise from start to finish" in stage.text
    if isinstance(stage.app.screen, ShowText):
        await stage.press("escape")


async def pair_screen(stage: Stage) -> None:
    """From the second coil to the first one; the newest stands at the top."""
    await stage.press("home", "p", "down", "p")
    assert isinstance(stage.app.screen, PairScreen)


async def second_coil(stage: Stage) -> None:
    """A mate by turns, the same way round."""
    await stage.press("s", "v", "t", "down", "enter", "enter")
    await wind_it(stage, "29.40 22")
    for _ in range(50):  # the page is drawn anew
        if "has as many turns" in stage.text:
            break
        await stage.tick(0.1)
    assert "tine coil (no. 2) has as many turns as tine coil (no. 1)" in stage.text


async def take_off(stage: Stage) -> None:
    """What the pair advises, by a wind whose motor turns back."""
    await pair_screen(stage)
    await stage.press("right")  # both read in one sitting
    advised = re.search(r"take (\d+) turns? off tine coil \(no. 2\)", stage.text)
    assert advised is not None, stage.text
    await stage.press("o", "enter")
    await set_up(stage, goes_on=True)
    await until_phase(stage, Phase.TAKING_OFF)
    await stage.press("b")
    await type_in(stage, advised[1])
    await stage.press(SECOND_KEY)
    await until_phase(stage, Phase.COMPLETE)
    await stage.press("q")
    await until(stage, lambda: stage.app.wind is None)


async def wire_it(stage: Stage) -> None:
    """How they sit, the four ways and the wiring, a picture, two taps on the joined pair."""
    await pair_screen(stage)
    await stage.press("down", "right")  # side by side
    await stage.press("down", "down", "down", "right", "down", "right", "right")  # north, south
    await stage.press("s")
    text = "\n".join(str(each.content) for each in stage.app.screen.query(Static))
    assert isinstance(stage.app.screen, ShowText)
    assert "series, quiet" in text and "hot: start of tine coil (no. 2) (red)" in text
    await stage.press("escape", "v", "enter")
    assert "The wiring is drawn in pair.svg" in stage.text
    await stage.press("t", "enter", "enter")
    assert "hum cancels and signals add" in stage.text
    await stage.press("escape")


async def keep_it(stage: Stage) -> None:
    """Cards, an export, a copy; the card's name stands there already."""
    await stage.press("home", "c", "enter", "down", "c", "enter", "x", "enter")
    await type_in(stage, "all.json")
    await stage.press("x", "down", "enter")
    await type_in(stage, "copy.sqlite")
    await stage.press("n")
    assert "red" in stage.text and "1, 2" in stage.text
    await stage.press("escape", "escape")


def test_from_recipe_to_a_wired_pair_by_keys(bench, tmp_path):
    async def play(stage: Stage) -> None:
        await first_coil(stage)
        await stage.press("s", "v")
        await measure(stage, 1, "59.13 ohm, 22.5 C", ("white", "black"))
        await stage.press("escape")
        await second_coil(stage)
        await stage.press("s", "v")
        await measure(stage, 2, "60.06 ohm, 22.5 C", ("red", "blue"))
        await take_off(stage)
        await stage.press("s", "v", "home")
        await tap(stage, "north", "down")
        await wire_it(stage)
        await keep_it(stage)

    on_stage(play, workbench=bench, cautions_accepted=True)
    assert "white" in (tmp_path / "coil1.html").read_text()
    assert "red" in (tmp_path / "coil2.html").read_text()
    assert "<svg" in (tmp_path / "pair.svg").read_text()
    shelf = json.loads((tmp_path / "all.json").read_text())
    assert len(shelf["coils"]) == 2 and len(shelf["readings"]) == 3
    with Logbook.open(tmp_path / "copy.sqlite", read_only=True) as logbook:
        first, second = logbook.coils()
    assert first.turns == (450.0, 450.0)
    assert second.turns is not None and 440 < second.turns[0] == second.turns[1] < 450
    assert second.tapped == "clockwise" and second.said.spool == "red"
