"""The guide led home by keys before a wind, on the simulated machine, in a small terminal and in a big one."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from functools import partial

import pytest
from piloting import Stage, intents, on_stage
from test_guide_keys import OPEN
from test_shelf_by_keys import RECIPE, type_in, until, until_phase

from tests.pages.still import StillRun
from winder.commands.main import build_parser, main
from winder.commands.said import said
from winder.screens.asking import AskYes
from winder.service import sources
from winder.service.bodies import simulated_machine
from winder.service.run import WindRun
from winder.service.workbench import LocalWorkbench
from winder.shelf import Logbook
from winder.simulator.carriage import Switch
from winder.simulator.machine import SimulatedMachine
from winder.wind.model import Intent, Phase

SIZES = pytest.mark.parametrize("size", [(60, 18), (100, 30)], ids=["60x18", "100x30"])
CLEARS, CLEARS_EVERY_S = 100, 0.1  # tries to clear a trip; a person tries less often
FLANGE_MM = 12.5
HOME = f'[traverse]\nlimit_switch = true\nswitch_to_flange = "{FLANGE_MM} mm"'


class Bench(LocalWorkbench):
    """``machine``: the newest that was simulated."""

    port = "sim?pace=20&seed=5"
    machine: SimulatedMachine
    runs: list[WindRun]

    def open_wind(self, *given, **more):
        self.runs.append(super().open_wind(*given, **more))
        return self.runs[-1]

    def ports(self):
        return [self.port]


@pytest.fixture
def bench(tmp_path, monkeypatch) -> Iterator[Bench]:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tine.toml").write_text(RECIPE)
    assert main(["bench", "new", "bench.toml"]) == 0
    text = (tmp_path / "bench.toml").read_text(encoding="utf-8")
    (tmp_path / "bench.toml").write_text(text.replace("[traverse]", HOME), encoding="utf-8")
    bench = Bench(str(tmp_path / "book"), "bench.toml", partial(said, build_parser()))

    bench.runs = []

    def simulated(*given, **more):
        bench.machine = simulated_machine(*given, **more)
        return bench.machine

    monkeypatch.setattr(sources, "simulated_machine", simulated)
    yield bench
    for run in bench.runs:  # no thread is left behind
        run.close(5.0)


def words(stage: Stage) -> str:
    return " ".join(stage.text.split())


def guide_said(stage: Stage) -> str:
    return next(line.said for line in stage.app.wind.view.set_up if line.what.startswith("guide"))


async def to_the_guide(stage: Stage) -> None:
    """The list, as far as the guide."""
    await stage.press("w")
    await until_phase(stage, Phase.SETTING_UP)
    await stage.press("o", "l", "g")
    await type_in(stage, "12")
    await until(stage, lambda: "1 find its home" in words(stage))


async def send_home(stage: Stage) -> None:
    await stage.press("1")
    assert isinstance(stage.app.screen, AskYes)
    assert "Fingers, hair and wire out of its way" in " ".join(stage.question.split())
    await stage.send("y")


async def homing(stage: Stage) -> None:
    await until(stage, lambda: stage.app.wind.view.motion.guide_homes)


async def ended(stage: Stage) -> None:
    await until(stage, lambda: not stage.app.wind.view.motion.guide_moves)
    await stage.tick(4.0)


@SIZES
def test_home_is_found_and_the_coil_is_wound_from_there(bench, size):
    async def play(stage: Stage) -> None:
        await to_the_guide(stage)
        await stage.press("1", "n")
        assert not stage.app.wind.view.motion.guide_moves, "no is no"
        await send_home(stage)
        await homing(stage)
        await stage.tick()
        assert "SPACE stop" in words(stage) and "1 find its home" not in words(stage)
        await ended(stage)
        assert "look that it is at the left flange" in words(stage)
        assert (
            bench.machine.body.carriage.true_um == bench.machine.body.carriage.guide.place_um == 0.0
        )
        await stage.press("f")
        await until(stage, lambda: Intent.SET_UP_DONE in stage.app.wind.view.may)
        await stage.press("d")
        await until_phase(stage, Phase.READY)
        await stage.press("1")
        await stage.tick(0.1)
        await until(stage, lambda: "pull the wire aside" in words(stage))
        await stage.press("q")

    on_stage(play, workbench=bench, size=size)
    with Logbook.open("book") as book:
        (coil,) = book.newest_on(None, 1)
    told = [line.text for run in coil.runs for line in run.lines]
    assert any("the guide found its home" in text for text in told)


@SIZES
@pytest.mark.parametrize("name", ["never", "loose", "stuck"])
def test_a_bad_switch_trips_is_told_and_can_be_gone_on_with(bench, size, name):
    bench.port = f"sim?pace=20&seed=5&switch={name}"

    async def play(stage: Stage) -> None:
        await to_the_guide(stage)
        await send_home(stage)
        await until_phase(stage, Phase.TRIPPED)
        await stage.tick()
        text = words(stage)
        said = "was not met in" if name == "never" else "loose or stuck"
        assert said in text and "then find its home again" in text
        await until(stage, lambda: Intent.CLEAR_TRIP in stage.app.wind.view.may)
        for _ in range(CLEARS):  # a board that has just tripped does not see it stand yet
            if stage.app.wind.view.phase is Phase.SETTING_UP:
                break
            await stage.press("t")
            await asyncio.sleep(CLEARS_EVERY_S)
            await stage.tick()
        await until_phase(stage, Phase.SETTING_UP)
        assert "home not found" in guide_said(stage) and said in guide_said(stage)
        bench.machine.body.carriage.switch = Switch.SOUND
        await until(stage, lambda: Intent.HOME_GUIDE in stage.app.wind.view.may)
        await send_home(stage)
        await homing(stage)
        await ended(stage)
        assert "look that it is at the left flange" in words(stage)
        assert bench.machine.body.carriage.true_um == 0.0

    on_stage(play, workbench=bench, size=size)


@SIZES
@pytest.mark.parametrize("key", ["space", "escape", "f9"])
def test_every_stop_key_ends_it_at_once(bench, size, key):
    bench.port = "sim?pace=1&seed=5"

    async def play(stage: Stage) -> None:
        await to_the_guide(stage)
        await send_home(stage)
        await homing(stage)
        await stage.send(key)
        await ended(stage)
        stood = bench.machine.body.carriage.true_um
        assert stood > -FLANGE_MM * 1000, "on its way"
        assert "home not found, stopped" in words(stage)
        for _ in range(20):
            await stage.tick(0.1)
        assert bench.machine.body.carriage.true_um == stood

    on_stage(play, workbench=bench, size=size)


@SIZES
def test_a_reset_on_the_way_ends_the_run_in_words(bench, size):
    bench.port = "sim?pace=1&seed=5"

    async def play(stage: Stage) -> None:
        await to_the_guide(stage)
        await send_home(stage)
        await homing(stage)
        bench.machine.reset()
        await until_phase(stage, Phase.LOST)
        await stage.tick(9.0)
        assert "the guide's place is not known" in words(stage).lower()

    on_stage(play, workbench=bench, size=size)


def test_at_a_pause_the_wind_says_why_not():
    run = StillRun(OPEN)

    async def play(stage: Stage) -> None:
        await stage.press("1")

    on_stage(play, run)
    assert intents(run) == [Intent.HOME_GUIDE], "asked, for the wind to say why not"
