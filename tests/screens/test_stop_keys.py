"""The stop keys: once slows, again or held cuts the power to the motor; an alarm fills the page."""

from __future__ import annotations

import pytest
from piloting import Stage, intents, on_stage

from tests.pages.scenes import SCENES, WINDING, moment
from tests.pages.still import StillRun
from winder.wind.model import Intent


@pytest.mark.parametrize("key", ["space", "escape", "f9"])
@pytest.mark.parametrize("apart_s", [1.0, 0.1])
def test_a_second_stop_and_a_held_stop_key_cut_the_power_to_the_motor(key, apart_s):
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.send(key)
        run.view = SCENES["slowing"]
        await stage.tick(apart_s)
        assert "Stop again to cut the motor's power." in stage.text
        await stage.send(key)
        await stage.tick(apart_s)

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE, Intent.CUT]


def test_after_rest_the_first_stop_slows_again():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.press("space")
        run.view = SCENES["paused"]
        await stage.tick()
        assert "cuts the power" not in stage.text
        run.view = WINDING
        await stage.tick()
        assert "cuts the power" not in stage.text
        await stage.press("space")

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE, Intent.PAUSE]


def test_a_wind_that_slows_for_a_planned_pause_is_not_cut_by_the_first_stop():
    run = StillRun(SCENES["slowing"])

    async def play(stage: Stage) -> None:
        assert "cuts the power" not in stage.text
        await stage.press("space", "space")

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE, Intent.CUT]


def test_where_nothing_can_be_cut_a_second_stop_stops_again():
    run = StillRun(moment(WINDING, may=WINDING.may - {Intent.CUT}, board_stops=False))

    async def play(stage: Stage) -> None:
        await stage.press("space", "space")
        assert "cuts the power" not in stage.text

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE, Intent.PAUSE]


def test_a_start_that_is_not_seen_yet_is_stopped_and_cut_under_an_open_note():
    run = StillRun(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.start("s")
        await stage.send("n", "space", "space")

    on_stage(play, run)
    assert intents(run) == [Intent.START, Intent.PAUSE, Intent.CUT]


@pytest.mark.parametrize("size", [(120, 40), (80, 24), (60, 18)])
def test_an_alarm_fills_the_page_cuts_by_the_stop_key_and_is_acknowledged_at_rest(size):
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.press("n", *"ab")
        run.view = SCENES["alarm"]
        await stage.tick()
        assert stage.app.screen is stage.app.wind
        text = " ".join(stage.text.split())
        assert "The board does not stop the spindle." in text
        assert "Switch the motor's power off" in text
        assert "You can acknowledge it once the spindle has stopped." in text
        await stage.press("t")
        assert run.asked == []
        await stage.press("space")
        run.view = moment(SCENES["alarm"], may=SCENES["alarm"].may | {Intent.ACKNOWLEDGE})
        await stage.tick()
        assert "t acknowledges it; this moves nothing." in " ".join(stage.text.split())
        await stage.press("t")

    on_stage(play, run, size=size)
    assert intents(run) == [Intent.CUT, Intent.ACKNOWLEDGE]
