"""The wind's screen, driven by keys: what is asked, when, and what lies over it."""

from __future__ import annotations

import pytest
from piloting import Stage, intents, on_stage
from textual.widgets import Input

from tests.pages.scenes import SCENES, WINDING, moment
from tests.pages.still import StillRun
from winder.screens.asking import AskCautions, AskTurns, AskYes
from winder.wind.model import Intent, Phase


@pytest.mark.parametrize("key", ["space", "escape", "f9"])
@pytest.mark.parametrize("asking", [None, "n"])
def test_every_stop_key_stops_a_wind_also_while_a_note_is_written(key, asking):
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        if asking:
            await stage.press(asking, "x")
            assert isinstance(stage.app.focused, Input)
        run.view = WINDING  # however that came about
        await stage.tick()
        await stage.press(key)
        if asking:
            assert stage.app.focused.value == "x"

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE]


def test_the_stop_key_stops_while_a_question_is_open():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("e")
        assert isinstance(stage.app.screen, AskYes)
        run.view = WINDING  # however that came about
        await stage.tick()
        await stage.press("space")

    on_stage(play, run)
    assert intents(run) == [Intent.PAUSE]


def test_the_stop_key_works_between_asking_for_the_start_and_seeing_it():
    run = StillRun(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.start("s")
        await stage.send("n")
        assert "Stop first to write a note" in stage.text or stage.app.screen is stage.app.wind
        await stage.send("space")

    on_stage(play, run)
    assert intents(run) == [Intent.START, Intent.PAUSE]


def test_a_note_is_not_opened_while_it_turns_for_its_blanks_would_stop_it():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.press("n")
        assert stage.app.screen is stage.app.wind
        assert "Stop first to write a note: press space to pause, then n." in stage.text

    on_stage(play, run)
    assert run.asked == []


def test_at_rest_space_is_a_blank_in_a_note():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("n", "a", "space", "b", "enter")

    on_stage(play, run)
    assert intents(run) == [Intent.NOTE]
    assert run.asked[0].value == "a b"


@pytest.mark.parametrize(
    ("scene", "key", "intent"),
    [
        ("paused", "plus", Intent.FASTER),
        ("winding", "minus", Intent.SLOWER),
        ("winding", "equals_sign", Intent.FASTER),
        ("trip", "t", Intent.CLEAR_TRIP),
    ],
)
def test_a_key_asks_for_its_intent(scene, key, intent):
    run = StillRun(SCENES[scene])

    async def play(stage: Stage) -> None:
        await stage.press(key)

    on_stage(play, run)
    assert intents(run) == [intent]


def test_keys_that_are_not_possible_ask_for_nothing():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.press("s", "c", "e", "t", "u", "v", "q", "a", "y", "enter")
        assert stage.app.screen is stage.app.wind

    on_stage(play, run)
    assert run.asked == []


def test_neither_space_nor_enter_starts():
    run = StillRun(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.press("space")
        await stage.press("enter")

    on_stage(play, run)
    assert Intent.START not in intents(run)


def test_a_held_continue_key_does_not_run_through_the_next_pause():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        for _ in range(5):
            await stage.send("c")
            await stage.tick(0.5)  # a key that repeats by itself
        assert intents(run) == []
        await stage.tick(1.0)
        await stage.start("c")
        await stage.send("c", "c")
        await stage.start("c")

    on_stage(play, run)
    assert intents(run) == [Intent.CONTINUE, Intent.CONTINUE]


def test_ending_here_needs_a_yes():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("e")
        assert "End this wind here? 3318 turns, exact, of 5000." in " ".join(stage.text.split())
        await stage.press("enter")
        await stage.press("n")
        assert run.asked == []
        await stage.press("e")
        await stage.press("y")

    on_stage(play, run)
    assert intents(run) == [Intent.END_HERE]


def test_settling_the_count_takes_a_number_and_complains_about_anything_else():
    run = StillRun(SCENES["doubt"])

    async def play(stage: Stage) -> None:
        await stage.press("u")
        assert isinstance(stage.app.screen, AskTurns)
        assert "between 3315 and 3321 turns" in stage.text
        await stage.press("3", ",", "5", "enter")
        assert "Not a number of turns" in stage.text
        assert run.asked == []
        await stage.press("backspace", "backspace", *"318.5", "enter")

    on_stage(play, run)
    assert intents(run) == [Intent.SETTLE_COUNT]
    assert run.asked[0].value == 3318.5


def test_the_cautions_come_once_before_anything_and_are_told_to_the_wind():
    run = StillRun(SCENES["unread"])

    async def play(stage: Stage) -> None:
        assert isinstance(stage.app.screen, AskCautions)
        assert "eye protection" in stage.text
        await stage.press("s")
        await stage.press("enter")
        await stage.press("y")
        assert run.asked == []
        await stage.press("a")
        assert intents(run) == [Intent.ACCEPT_CAUTIONS]
        run.view = SCENES["ready"]
        await stage.tick()
        assert stage.app.screen is stage.app.wind
        await stage.start("s")

    app = on_stage(play, run, cautions_accepted=False)
    assert intents(run) == [Intent.ACCEPT_CAUTIONS, Intent.START]
    assert app.cautions_accepted


def test_cautions_not_accepted_can_be_read_again_and_start_nothing():
    run = StillRun(SCENES["unread"])

    async def play(stage: Stage) -> None:
        await stage.press("escape")
        assert stage.app.screen is stage.app.wind
        assert "read the cautions" in stage.text
        await stage.press("s")
        assert run.asked == []
        await stage.press("a")
        assert isinstance(stage.app.screen, AskCautions)

    on_stage(play, run, cautions_accepted=False)
    assert Intent.ACCEPT_CAUTIONS not in intents(run)


def test_cautions_are_accepted_only_when_the_last_one_is_in_sight():
    run = StillRun(SCENES["unread"])

    async def play(stage: Stage) -> None:
        await stage.press("a")
        assert isinstance(stage.app.screen, AskCautions)
        for _ in range(10):
            await stage.press("a")

    on_stage(play, run, cautions_accepted=False, size=(60, 10))
    assert intents(run) == [Intent.ACCEPT_CAUTIONS]


def test_cautions_accepted_on_the_command_line_are_not_asked_for_again():
    run = StillRun(SCENES["unread"])

    async def play(stage: Stage) -> None:
        run.view = SCENES["ready"]
        await stage.tick()
        assert stage.app.screen is stage.app.wind

    on_stage(play, run, cautions_accepted=False)
    assert run.asked == []


def test_a_trip_lies_over_everything_and_keeps_a_note_begun():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("n", *"tight")
        run.view = SCENES["trip"]
        await stage.tick()
        assert stage.app.screen is stage.app.wind
        assert "The wire broke or ran out." in stage.text
        assert "kalimba" not in stage.text
        await stage.tick(12)
        assert "First seen 13 s ago" in stage.text or "First seen 12 s ago" in stage.text
        await stage.press("n")
        assert stage.app.focused.value == "tight"

    on_stage(play, run)


def test_a_refusal_is_said_and_goes_away():
    run = StillRun(WINDING)
    run.to_refuse = ["faster is not possible now: [/x] the pace is at its highest"]

    async def play(stage: Stage) -> None:
        await stage.tick()
        assert "[/x] the pace is at its highest" in stage.text
        await stage.tick(9)
        assert "highest" not in stage.text

    on_stage(play, run)


@pytest.mark.parametrize("name", ["[/x]", "[red]", "\x1b[2Jx", "a\x07b", "\u202egnp", "名" * 50])
def test_hostile_names_are_shown_and_break_nothing(name):
    view = moment(WINDING, recipe_name=name, lines=(name,), advice=name, direction=name)
    run = StillRun(view)

    async def play(stage: Stage) -> None:
        assert not any(sign in stage.text for sign in "\x1b\x07\u202e")
        if name == "[/x]":
            assert "[/x]" in stage.text

    on_stage(play, run)


def test_link_health_is_said_only_when_it_is_worth_it():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        assert "heard" not in stage.text
        run.view = moment(WINDING, link_age_s=1.3)
        await stage.tick()
        assert "The board was last heard 1.3 s ago." in stage.text

    on_stage(play, run)


@pytest.mark.parametrize("phase", [Phase.COMPLETE, Phase.ENDED, Phase.LOST])
def test_after_the_end_nobody_is_told_how_long_the_board_is_silent(phase):
    view = moment(SCENES["complete"], phase=phase, link_age_s=3600.0)

    async def play(stage: Stage) -> None:
        assert "last heard" not in stage.text

    on_stage(play, StillRun(view))


def test_a_silent_board_is_said_to_come_to_rest_by_itself():
    run = StillRun(moment(SCENES["unheard"], advice="check the cable"))

    async def play(stage: Stage) -> None:
        said = " ".join(stage.text.split())
        assert "the board stops the spindle by itself and keeps its count" in said

    on_stage(play, run)


def test_a_wind_whose_thread_is_gone_is_not_shown_as_winding():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        run.finished = True
        run.trouble = OSError("[disk] full")
        await stage.tick()
        text = " ".join(stage.text.split())
        assert "N O S I G N A L" in text
        assert "no longer drives the wind ([disk] full)" in text

    on_stage(play, run)


def test_the_sign_of_life_comes_with_each_tick_and_stops_with_the_tick():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        before = run.signs_of_life
        await stage.tick()
        assert run.signs_of_life > before

        def fail(*_: object) -> None:
            raise RuntimeError("cannot draw")

        stage.app.wind._show = fail  # type: ignore[method-assign]
        before = run.signs_of_life
        with pytest.raises(RuntimeError):
            stage.app.tick()
        assert run.signs_of_life == before
        del stage.app.wind._show

    on_stage(play, run)


def test_an_unchanged_view_repaints_nothing_and_a_new_count_only_its_rows():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        painted = stage.face.painted_rows
        await stage.tick()
        assert stage.face.painted_rows == painted
        run.view = moment(WINDING, speed_rpm=913.0)
        await stage.tick()
        assert stage.face.painted_rows == painted + 1

    on_stage(play, run)


@pytest.mark.parametrize("size", [(120, 40), (100, 30), (80, 24), (60, 18), (30, 8)])
def test_the_screen_follows_a_new_size(size):
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.pilot.resize_terminal(*size)
        await stage.tick()
        lines = stage.text.split("\n")
        assert len(lines) == size[1]
        assert "stop" in "\n".join(lines[-3:])

    on_stage(play, run, size=(90, 25))


def test_a_wind_that_is_over_asks_for_no_cautions():
    run = StillRun(moment(SCENES["complete"], phase=Phase.ENDED, headline="ended"))

    async def play(stage: Stage) -> None:
        assert stage.app.screen is stage.app.wind

    on_stage(play, run, cautions_accepted=False)
