"""The guide at a pause: taken up by a key of its own, stepped to the wire, and the wire said to be there."""

from __future__ import annotations

import dataclasses

from piloting import Stage, intents, on_stage

from tests.pages.scenes import SCENES
from tests.pages.still import StillRun
from winder.wind.model import Intent

PAUSED = SCENES["paused"]
OPEN = dataclasses.replace(
    PAUSED,
    lay=dataclasses.replace(
        PAUSED.lay, guide_mm=7.2, wire_mm=7.8, wire_rightward=False, wire_open=True
    ),
    may=PAUSED.may | {Intent.STEP_GUIDE, Intent.WIRE_HERE},
)


def test_where_the_wire_is_is_said_and_no_wind_goes_on_before_the_guide_is_there():
    run = StillRun(OPEN)

    async def play(stage: Stage) -> None:
        said = " ".join(stage.text.split())
        assert "The wire is at 7.80 mm in layer 25, going left: p takes up the guide" in said
        await stage.start("c")
        assert "First show where the wire is" in " ".join(stage.text.split())

    on_stage(play, run, size=(120, 40))
    assert run.asked == []


def test_the_guide_steps_at_most_a_millimetre_and_only_when_it_was_taken_up():
    run = StillRun(OPEN)

    async def play(stage: Stage) -> None:
        await stage.press("right")
        assert run.asked == []
        assert "Press p first" in stage.text
        await stage.press("p", "full_stop", "full_stop", "right", "comma", "left", "z")

    on_stage(play, run)
    assert intents(run) == [Intent.STEP_GUIDE, Intent.STEP_GUIDE, Intent.WIRE_HERE]
    assert [asked.value for asked in run.asked[:2]] == [1.0, -0.5]


def test_the_guide_is_let_go_when_the_spindle_turns():
    run = StillRun(OPEN)

    async def play(stage: Stage) -> None:
        await stage.press("p")
        run.view = SCENES["winding"]
        await stage.tick()
        run.view = OPEN
        await stage.tick()
        await stage.press("right")

    on_stage(play, run)
    assert run.asked == []


def test_where_the_record_and_the_guide_agree_nothing_is_asked():
    lay = dataclasses.replace(OPEN.lay, wire_open=False)
    run = StillRun(dataclasses.replace(OPEN, lay=lay))

    async def play(stage: Stage) -> None:
        assert "The wire is at 7.80 mm in layer 25, going left." in " ".join(stage.text.split())
        await stage.start("c")

    on_stage(play, run, size=(120, 40))
    assert intents(run) == [Intent.CONTINUE]
