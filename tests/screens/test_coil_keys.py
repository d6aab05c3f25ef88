"""Keys about wire and coil: what they ask, what they send, and that nothing moves by a slip."""

from __future__ import annotations

import pytest
from piloting import Stage, intents, on_stage
from textual.widgets import Input

from tests.pages.scenes import SCENES, WINDING, moment
from tests.pages.still import StillRun
from winder.recipe.observations import BuildCaliper, OhmReading
from winder.screens.asking import AskNumber, AskReading, AskYes, ShowFinding
from winder.wind.model import Asked, Intent, Phase, Reading, TurnsOff


@pytest.mark.parametrize(
    ("scene", "key", "intent"),
    [
        ("winding", "w", Intent.WIRE_BROKE),
        ("paused", "w", Intent.WIRE_BROKE),
        ("wire broke", "j", Intent.WIRE_JOINED),
        ("wire broke", "i", Intent.WIRE_WHOLE),
    ],
)
def test_a_key_of_the_wire_asks_at_once(scene, key, intent):
    run = StillRun(SCENES[scene])

    async def play(stage: Stage) -> None:
        await stage.press(key)

    on_stage(play, run)
    assert intents(run) == [intent]


def test_a_broken_wire_offers_neither_going_on_nor_speed():
    run = StillRun(SCENES["wire broke"])

    async def play(stage: Stage) -> None:
        await stage.press("c", "w", "minus", "plus")

    on_stage(play, run)
    assert run.asked == []


@pytest.mark.parametrize(
    ("typed", "observation"),
    [
        ("846.2", OhmReading(1.0, 846.2, noted_c=False)),
        ("846.2 21.5", OhmReading(1.0, 846.2, 21.5)),
        ("build, 1.41 mm", BuildCaliper(1.0, 0.00141)),
        ("ohm, 832 ohm, 23 C", OhmReading(1.0, 832.0, 23.0)),
    ],
)
def test_a_reading_is_read_once_and_travels_as_what_it_says(typed, observation):
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("m")
        assert isinstance(stage.app.screen, AskReading)
        assert "tail, 20 m, 107.8 ohm, 22 C" in stage.text
        stage.app.screen.query_one(Input).value = typed
        await stage.press("enter")

    on_stage(play, run)
    (asked,) = run.asked
    assert asked.intent is Intent.MEASURED
    assert isinstance(asked.value, Reading)
    assert asked.value.text and asked.value.observation == observation


@pytest.mark.parametrize(
    ("typed", "remedy"),
    [
        ("846,2", "decimals with a point"),
        ("x y", "begin with one of"),
        ("1_000", "write 1000"),
        ("1e3", "write the number out"),
    ],
)
def test_what_is_no_reading_is_said_with_a_remedy_and_not_sent(typed, remedy):
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("m")
        stage.app.screen.query_one(Input).value = typed
        await stage.press("enter")
        assert typed.split(",")[0] in stage.text
        assert remedy in " ".join(stage.text.split())

    on_stage(play, run)
    assert run.asked == []


def test_an_empty_reading_is_none_and_a_refused_one_is_said():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("m", "enter")
        assert run.asked == []
        run.to_refuse = ["known: 'x y' is not something to measure; begin with one of tail, build"]
        await stage.tick()
        assert "is not something to measure" in stage.text

    on_stage(play, run)


LONG = (
    "The meter shows 112 ohm where 81 ohm to 95 ohm were expected; likely causes in order: a bad joint"
    " adds about 24 ohm: strip and tin the ends again; the wire is 43 AWG, not 42 AWG"
)


@pytest.mark.parametrize("size", [(100, 30), (60, 18)])
def test_a_finding_too_long_for_the_page_is_told_in_full_once(size):
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        run.view = moment(SCENES["paused"], finding=LONG)
        await stage.tick()
        assert isinstance(stage.app.screen, ShowFinding)
        assert "the wire is 43 AWG, not 42 AWG." in " ".join(stage.text.replace("┃", "").split())
        await stage.press("enter")
        await stage.tick()
        assert stage.app.screen is stage.app.wind
        assert "The meter shows 112 ohm" in stage.text

    on_stage(play, run, size=size)
    assert run.asked == []


def test_a_short_finding_or_one_in_motion_lies_over_nothing():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        run.view = moment(SCENES["paused"], finding="as figured")
        await stage.tick()
        assert stage.app.screen is stage.app.wind
        run.view = moment(WINDING, finding=LONG)
        await stage.tick()
        assert stage.app.screen is stage.app.wind

    on_stage(play, run)


@pytest.mark.parametrize("size", [(120, 40), (60, 18)])
def test_the_examples_of_readings_are_in_sight_at_any_size(size):
    async def play(stage: Stage) -> None:
        await stage.press("m")
        assert "outside, 8 mm, 10.9 mm" in stage.text and "Enter takes it" in stage.text

    on_stage(play, StillRun(SCENES["taking off"]), size=size)


def test_turns_taken_off_by_hand_are_asked_for_and_vouched_for():
    run = StillRun(SCENES["taking off"])

    async def play(stage: Stage) -> None:
        await stage.press("x")
        assert "How many turns were taken off?" in stage.text
        await stage.press("1", ",", "5", "enter")
        assert "Not a number of turns" in stage.text
        await stage.press("backspace", "backspace", *"2.5", "enter")

    on_stage(play, run)
    assert run.asked == [Asked(Intent.TURNS_OFF, TurnsOff(12.5))]


def test_turning_back_by_motor_is_told_prefilled_and_deliberate():
    run = StillRun(SCENES["taking off"])

    async def play(stage: Stage) -> None:
        for _ in range(3):  # a key that is held opens it once and writes nothing into it
            await stage.send("b")
            await stage.tick(0.3)
        assert isinstance(stage.app.screen, AskNumber)
        assert stage.app.screen.query_one(Input).value == "38"
        assert "The spindle turns back slowly. Keep hands clear" in stage.text
        assert run.asked == []
        await stage.press("enter")
        await stage.press("0")
        assert run.asked == []
        await stage.tick(3.0)
        await stage.send("n", "space")  # the stop works before any motion is seen

    on_stage(play, run)
    assert run.asked == [Asked(Intent.TAKE_OFF, 38.0), Asked(Intent.PAUSE)]


def test_turning_back_can_be_left_unasked_and_has_no_draft_where_nothing_is_known():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("b")
        assert stage.app.screen.query_one(Input).value == ""
        await stage.press("enter")
        assert "Not a number of turns" in stage.text
        await stage.press("escape")

    on_stage(play, run)
    assert run.asked == []


@pytest.mark.parametrize("key", ["space", "escape", "f9"])
@pytest.mark.parametrize("asking", [None, "n"])
def test_every_stop_key_stops_a_spindle_that_turns_back(key, asking):
    run = StillRun(SCENES["turning back"])

    async def play(stage: Stage) -> None:
        if asking:
            await stage.press(asking)
        await stage.press(key)

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE]


def test_a_guide_on_its_way_is_stopped_while_something_is_asked():
    moving = moment(
        SCENES["paused"], phase=Phase.SETTING_UP, guide_moves=True, may=frozenset({Intent.NOTE})
    )
    run = StillRun(moving)

    async def play(stage: Stage) -> None:
        await stage.press("n", "space")

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE]


def test_a_new_target_is_adopted_only_by_a_yes_that_says_both():
    run = StillRun(SCENES["offered"])

    async def play(stage: Stage) -> None:
        await stage.press("y")
        assert isinstance(stage.app.screen, AskYes)
        assert stage.question == "Wind to 4951 turns instead of 5000?"
        await stage.press("n")
        assert run.asked == []
        await stage.press("y", "enter")
        assert run.asked == []
        await stage.press("y")

    on_stage(play, run)
    assert intents(run) == [Intent.ADOPT_TURNS]


def test_leaving_with_turns_still_to_come_off_asks_first():
    run = StillRun(SCENES["taking off"])

    async def play(stage: Stage) -> None:
        await stage.press("q")
        assert "Leave this wind? 5000 turns, exact" in " ".join(stage.text.split())
        await stage.press("y")

    assert on_stage(play, run).return_code == 1, "the coil is not complete"
    assert intents(run) == [Intent.LEAVE]


def test_a_thread_that_is_gone_turns_nothing_back():
    run = StillRun(SCENES["turning back"])

    async def play(stage: Stage) -> None:
        run.finished = True
        await stage.tick()
        assert "N O S I G N A L" in " ".join(stage.text.split())

    on_stage(play, run)


def test_the_wire_cannot_break_twice_by_a_held_key():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        for _ in range(4):
            await stage.send("w")
            await stage.tick(0.3)

    on_stage(play, run)
    assert intents(run) == [Intent.WIRE_BROKE]
