"""The spindle is started by two deliberate acts and a countdown; by no single key, in whatever state."""

from __future__ import annotations

import string

import pytest
from piloting import Stage, intents, on_stage
from textual import events
from textual.keys import _character_to_key

from tests.pages.scenes import SCENES, moment
from tests.pages.still import StillRun
from winder.screens.keys import MOVING_INTENTS
from winder.screens.starting import COUNTDOWN_S, SECOND_KEY
from winder.wind.model import Intent

NAMED = [
    "enter",
    "escape",
    "space",
    "tab",
    "shift+tab",
    "backspace",
    "delete",
    "insert",
    "home",
    "end",
    "pageup",
    "pagedown",
    "up",
    "down",
    "left",
    "right",
    "f1",
    "f2",
    "f3",
    "f4",
    "f5",
    "f6",
    "f7",
    "f8",
    "f9",
    "f10",
    "f11",
    "f12",
    "ctrl+c",
    "ctrl+q",
    "ctrl+m",
    "ctrl+j",
    "ctrl+a",
    "ctrl+d",
    "ctrl+z",
    "ctrl+s",
]
CHARACTERS = string.ascii_letters + string.digits + string.punctuation
KEYS = [(name, None) for name in NAMED] + [(_character_to_key(c), c) for c in CHARACTERS]
# One scene for each phase and what may be asked in it.
DISTINCT = {(v.phase, v.may): (v.phase, name, v) for name, v in SCENES.items()}.values()
ALL_MAY = SCENES["paused"].may | MOVING_INTENTS | {Intent.VOUCH_UNMOVED, Intent.ADOPT_TURNS}
STATES = {
    **{name: (view, ()) for (_, name, view) in DISTINCT},
    "anything may be": (moment(SCENES["paused"], may=ALL_MAY), ()),
    "turning back, number written": (moment(SCENES["paused"], may=ALL_MAY), ("b", "1", "2")),
    "a note, begun": (SCENES["ready"], ("n", "c")),
    "a reading, begun": (SCENES["paused"], ("m", "8")),
    "the count, begun": (SCENES["paused"], ("u", "9")),
    "turns off, begun": (SCENES["paused"], ("x", "9")),
    "end here?": (SCENES["paused"], ("e",)),
    "leave?": (SCENES["paused"], ("q",)),
}


def moved(run: StillRun) -> list[Intent]:
    return [intent for intent in intents(run) if intent in MOVING_INTENTS]


async def strike(stage: Stage, name: str, character: str | None) -> None:
    """One key as the app gets it, without the pilot's waits where no screen lies over the wind."""
    app, event = stage.app, events.Key(name, character)
    if app.screen is not app.wind:
        await app.on_event(event)
    elif not app._taken(name):
        app.wind.on_key(event)
        if app.screen is not app.wind:
            await stage.settle()  # it comes up


async def back_to(stage: Stage, keys: tuple[str, ...]) -> None:
    """The state anew, whatever the last key has opened or asked for."""
    app = stage.app
    under_question = app.screen is not app.wind and keys
    if not under_question:
        while app.screen is not app.wind:
            app.pop_screen()
            await stage.settle()
    app.wind.leaving = app.wind._given_up = False
    app._goings = 0
    pass_by(stage, 30.0)
    if not under_question:
        for key in keys:
            await strike(stage, _character_to_key(key), key)
            await stage.settle()


def pass_by(stage: Stage, seconds: float) -> None:
    """Time goes by, and the screen looks after what was armed, as on its every tick."""
    stage.clock.sleep_s(seconds)
    stage.app.wind._follow_starting()


@pytest.mark.parametrize("state", STATES)
def test_no_single_key_starts_or_resumes_the_spindle_alone_twice_or_held(state):
    view, keys = STATES[state]
    run = StillRun(view)

    async def play(stage: Stage) -> None:
        stage.app.exit = lambda *_, **__: None  # it stays, to try every key
        for name, character in KEYS:
            await back_to(stage, keys)
            for pause_s in (1.0, 0.2, 0.03):  # alone, again, and held
                await strike(stage, name, character)
                pass_by(stage, pause_s)
            if keys:
                await stage.settle()  # the question hears it
            for _ in range(4):
                pass_by(stage, 2.0)
            assert moved(run) == [], name

    on_stage(play, run)


@pytest.mark.parametrize(
    ("scene", "first", "intent"),
    [("ready", "s", Intent.START), ("paused", "c", Intent.CONTINUE)],
)
def test_two_keys_and_a_countdown_start_it(scene, first, intent):
    run = StillRun(SCENES[scene])

    async def play(stage: Stage) -> None:
        await stage.press(first)
        assert f"Press {SECOND_KEY} to {intent.value}" in stage.text
        await stage.press(SECOND_KEY)
        assert "Any key cancels" in stage.text
        assert "rpm" in stage.text
        assert run.asked == []
        await stage.tick(COUNTDOWN_S)

    on_stage(play, run)
    assert intents(run) == [intent]


def test_turning_back_takes_a_number_and_two_keys_too():
    run = StillRun(moment(SCENES["paused"], may=ALL_MAY))

    async def play(stage: Stage) -> None:
        await stage.press("b", "1", "2", "enter")
        await stage.tick(0.3)
        assert "to turn back" in stage.text
        await stage.press(SECOND_KEY)
        assert "12 turns, slowly" in stage.text
        await stage.tick(COUNTDOWN_S)

    on_stage(play, run)
    assert intents(run) == [Intent.TAKE_OFF]
    assert run.asked[0].value == 12


@pytest.mark.parametrize("apart_s", [0.0, 0.1, 3.1])
def test_keys_pressed_together_or_too_late_start_nothing(apart_s):
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.send("c")
        await stage.tick(apart_s)
        await stage.send(SECOND_KEY)
        await stage.tick(1.0)
        await stage.tick(10.0)

    on_stage(play, run)
    assert moved(run) == []


@pytest.mark.parametrize("key", ["space", "escape", "f9", "n", "c", "0", "x", "ctrl+c"])
def test_any_key_ends_the_countdown(key):
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press(
            "c",
        )
        await stage.press(SECOND_KEY)
        await stage.send(key)
        await stage.tick(10.0)
        await stage.tick(10.0)

    on_stage(play, run)
    assert moved(run) == []
    if key in ("space", "escape", "f9"):
        assert intents(run) == [Intent.PAUSE]


def test_a_wind_that_cannot_start_any_more_calls_the_countdown_off():
    run = StillRun(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.press("s")
        await stage.press(SECOND_KEY)
        run.view = moment(SCENES["ready"], may=SCENES["ready"].may - {Intent.START})
        await stage.tick(1.0)
        run.view = SCENES["ready"]
        await stage.tick(10.0)

    on_stage(play, run)
    assert moved(run) == []


def test_a_hand_drill_is_begun_by_one_key_for_nothing_turns_by_itself():
    run = StillRun(moment(SCENES["ready"], board_stops=False))

    async def play(stage: Stage) -> None:
        await stage.press("s")

    on_stage(play, run)
    assert intents(run) == [Intent.START]
