"""Help for the moment and the list of commands: on every screen, in every state, and never in the way of a stop."""

from __future__ import annotations

import pytest
from pages import SIZES_ASKED
from piloting import Stage, intents, on_stage

from tests.pages.list_scenes import LIST_SCENES
from tests.pages.scenes import SCENES
from tests.pages.still import StillBench, StillRun
from winder.screens.asking import AskNote
from winder.screens.command_list import CommandList, commands_of
from winder.screens.keys import shown_keys
from winder.screens.moment_help import (
    COUNTED,
    MEANS,
    MomentHelp,
    flowing,
    help_for,
    key_lines,
    wind_help,
)
from winder.screens.pair_screen import PairScreen
from winder.screens.recipe_form import RecipeForm
from winder.screens.shelf_screen import ShelfScreen
from winder.screens.spool_screen import SpoolScreen
from winder.screens.topics import TOPICS, topic_named
from winder.wind.model import Intent, Phase

EVERY = SCENES | LIST_SCENES
ACCEPTED = frozenset({Intent.ACCEPT_CAUTIONS})


def test_every_state_has_its_meaning():
    assert set(MEANS) == set(Phase)


@pytest.mark.parametrize("scene", sorted(EVERY))
def test_the_help_of_a_moment_names_its_state_and_every_key_of_now(scene):
    view = EVERY[scene]
    text = wind_help(view)
    means = MEANS[view.phase] if view.board_stops else COUNTED.get(view.phase, MEANS[view.phase])
    assert text.startswith(means)
    for key in shown_keys(view):
        assert any(line.split()[0] == key.cap for line in key_lines(view))
    assert ("space" in text.split()) == any("space" in line for line in key_lines(view))
    if scene == "doubt":
        assert "Why is the count not exact?" in text
    if scene == "wire broke":
        assert "The wire broke. What now?" in text


def test_paragraphs_flow_and_lists_stay():
    text = "one two\nthree four\n\nkey  does\nother  thing\n    an example\nlast"
    assert flowing(text) == "one two three four\n\nkey  does\nother  thing\n    an example\nlast"


@pytest.mark.parametrize("key", ["question_mark", "f1"])
@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
def test_help_opens_over_the_wind_and_goes_back(key, size):
    async def play(stage: Stage) -> None:
        await stage.press(key)
        assert isinstance(stage.app.screen, MomentHelp)
        assert "The spindle has stopped" in stage.text and "Esc goes back" in stage.text
        await stage.press("escape")
        assert stage.app.screen is stage.app.wind

    on_stage(play, StillRun(SCENES["paused"]), size=size)


def test_space_stops_the_machine_whatever_help_lies_over_it():
    for opened in (["question_mark"], ["ctrl+p"], ["ctrl+p", "n", "o"]):
        run = StillRun(SCENES["winding"])

        async def play(stage: Stage, keys: list[str] = opened) -> None:
            await stage.press(*keys)
            assert isinstance(stage.app.screen, (MomentHelp, CommandList))
            await stage.press("space")

        on_stage(play, run)
        assert intents(run)[-1] is Intent.PAUSE


def test_a_trip_closes_the_help():
    run = StillRun(SCENES["winding"])

    async def play(stage: Stage) -> None:
        await stage.press("question_mark")
        run.view = SCENES["trip"]
        await stage.tick()
        assert stage.app.screen is stage.app.wind

    on_stage(play, run)


def test_a_question_mark_that_is_typed_stays_a_sign():
    async def play(stage: Stage) -> None:
        await stage.press("n", "question_mark")
        assert isinstance(stage.app.screen, AskNote)
        assert stage.app.screen.draft == "?"

    on_stage(play, StillRun(SCENES["paused"]))


def test_the_list_of_commands_does_what_the_key_does():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("ctrl+p")
        await stage.press(*"note")
        await stage.press("enter")
        assert isinstance(stage.app.screen, AskNote)

    on_stage(play, run)


def test_a_command_that_ends_something_asks_first():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("ctrl+p")
        await stage.press(*"end", "enter")
        assert "End this wind here?" in stage.text
        assert Intent.END_HERE not in intents(run)

    on_stage(play, run)


@pytest.mark.parametrize("scene", sorted(EVERY))
def test_the_list_holds_the_keys_of_now_and_the_topics(scene):
    run = StillRun(EVERY[scene])

    async def play(stage: Stage) -> None:
        assert stage.app.wind is not None
        commands = commands_of(stage.app.wind)
        keys = {each.key for each in commands if each.key}
        assert keys == {key.names[0] for key in shown_keys(stage.app.wind.view)}
        assert [each.topic for each in commands if each.topic] == [topic.name for topic in TOPICS]

    on_stage(play, run)


def test_what_is_not_there_is_said_and_does_nothing():
    async def play(stage: Stage) -> None:
        await stage.press("ctrl+p")
        await stage.press(*"zzz", "enter")
        assert "nothing like that" in stage.text
        await stage.press("escape")
        assert stage.app.wind is None

    on_stage(play, workbench=StillBench())


def test_topics_are_read_from_the_list(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    async def play(stage: Stage) -> None:
        await stage.press("ctrl+p")
        await stage.press(*"board", "enter")
        assert "Which board do I need?" in stage.text
        await stage.press("escape", "f", "f1")
        assert "What do I measure on the bobbin?" in stage.text
        await stage.press("escape")
        assert isinstance(stage.app.screen, RecipeForm)

    on_stage(play, workbench=StillBench(), size=(100, 30))


@pytest.mark.parametrize("screen", [ShelfScreen, SpoolScreen, PairScreen])
def test_shelf_spools_and_pair_have_help_and_commands_of_their_own(screen):
    """Every key of the bottom line is in the list, by the name the toolkit has for it, and in the help."""
    shown = screen(StillBench()) if screen is not PairScreen else screen(StillBench(), 1, 2)
    listed = {each.key for each in commands_of(shown) if each.key}
    assert listed == set(screen.KEYS)
    title, text = help_for(shown)
    assert title == topic_named(screen.TOPIC).title
    assert all(means in text for means in screen.KEYS.values())
