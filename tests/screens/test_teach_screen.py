"""A lesson on the screen: what it asks and finds is shown whole, keys answer it, and leaving writes nothing."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from piloting import Stage, on_stage
from test_other_screens_fit import lost, squeezed

from firmware_protocol.messages import State, Status
from tests.pages.still import StillBench
from winder.clock import NS_PER_S, HandClock
from winder.errors import WinderError
from winder.machine.reader import read_machine
from winder.screens import running
from winder.screens.app import WinderApp
from winder.screens.start_screen import StartScreen
from winder.screens.teach_screen import TeachScreen, words_of
from winder.service.teaching.at_port import Wish, teach_at
from winder.service.teaching.by_screen import LessonRun
from winder.service.teaching.dialogue import Kind, Person, Question, Step

SIZES = ((60, 18), (80, 24), (100, 30), (120, 40))
WAIT_S = 60.0


async def until(stage: Stage, words: str | Callable[[], bool]) -> None:
    """The lesson lives in a thread of its own; the screen looks at it 15 times a second."""
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end:
        await stage.settle()
        if words() if callable(words) else words in squeezed(framed_off(stage.text)):
            return
        await asyncio.sleep(0.02)
    raise AssertionError(f"{words!r} was not shown:\n{stage.text}")


def framed_off(text: str) -> str:
    return "".join(" " if sign in "┃┏┓┗┛━" else sign for sign in text)


async def until_asked(stage: Stage, words: str) -> Question:
    """Until a question stands after these words were said or asked."""
    run = stage.app.lesson.lesson

    def stands() -> bool:
        question = run.view.question
        said = " ".join([*run.view.told, question.text if question else ""])
        return question is not None and stage.app.lesson._asked is question and words in said

    await until(stage, stands)
    await stage.settle()
    assert run.view.question is not None
    return run.view.question


async def begin(stage: Stage, file: str = "bench.toml") -> None:
    await stage.press("m")
    assert file in stage.text
    await stage.press("enter")
    await read_cautions(stage)


async def read_cautions(stage: Stage) -> None:
    await until(stage, "Before the first start")
    for _ in range(3):  # the first only shows the last caution, where the screen is small
        if not isinstance(stage.app.screen, TeachScreen):
            await stage.press("a")


# Every question of a whole lesson at the simulated bench, and the keys that answer it.
WHOLE = (
    ("What do you call", ("b", "enter")),
    ("Counts a turn, if", ("2", "0", "enter")),
    ("10 whole turns", ("enter",)),
    ("Now check it:", ("enter",)),
    ("Open the guard", ("enter",)),
    ("Close the guard", ("enter",)),
    ("Take the wire out", ("enter",)),
    ("leave it there", ("enter",)),
    ("about two turns", ("y",)),
    ("did it turn clockwise?", ("y",)),
    ("each time harder", ("y",)),
    ("It slows down by", ("enter",)),
    ("slower and slower", ("y",)),
    ("steady. Keep", ("enter",)),
    ("three speeds: ", ("y",)),
    ("1500 rpm asked", ("enter",)),
    ("at its left end", ("enter",)),
    ("moves 20 mm", ("y",)),
    ("by your caliper?", ("2", "0", "enter")),
    ("its right end", ("5", "0", "enter")),
    ("stands at 70.00 mm. Lead", ("3", "0", "enter")),
    ("stands at 100.00 mm. Lead", ("enter",)),
    ("It travels 100.0 mm. Keep", ("enter",)),
    ("Put a bobbin on", ("enter",)),
    ("Write these into", ("y",)),
    ("25 turns and must stop", ("y",)),
    ("the mark back", ("y",)),
)


@pytest.mark.parametrize("size", [(60, 18), (100, 30)], ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_whole_lesson_is_shown_whole_and_writes_the_file(size, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))

    async def play(stage: Stage) -> None:
        await begin(stage)
        for words, keys in WHOLE:
            shown = await until_asked(stage, words)
            assert squeezed(shown.text) in squeezed(framed_off(stage.text))
            assert lost(stage.app.screen) == [], stage.text
            keys_line = stage.text.rstrip().splitlines()[-1]
            assert ("Esc leave" in keys_line and "Enter" in keys_line) or "y " in keys_line
            if size[0] >= 100:
                assert ("▶ " in stage.text and "■ name" in stage.text) or "▶ name" in stage.text
            else:
                assert " of 12: " in stage.text
            await stage.press(*keys)
        await until(stage, "bench.toml is written")
        assert "TAUGHT" in stage.text
        await stage.press("enter")
        await until(stage, lambda: isinstance(stage.app.screen, StartScreen))
        assert "bench.toml is written" in stage.text and stage.app.lesson is None

    on_stage(play, workbench=StillBench(), size=size)
    machine = read_machine(tmp_path / "bench.toml")
    assert machine.counts_per_turn == 20 and machine.steady_rpm is not None


def test_leaving_asks_first_and_writes_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    async def play(stage: Stage) -> None:
        await begin(stage)
        await until(stage, "What do you call")
        await stage.press("escape")
        await until(stage, "No machine file is written")
        await stage.press("n")
        await until(stage, "What do you call")
        await stage.send("b", "e")
        await until(stage, "be")
        await stage.press("escape")
        await until(stage, "No machine file is written")
        await stage.press("y")
        await until(stage, "NOT TAUGHT")
        await until(stage, "you left the lesson")
        await stage.press("escape")
        await until(stage, lambda: isinstance(stage.app.screen, StartScreen))

    on_stage(play, workbench=StillBench())
    assert not Path("bench.toml").exists()


def test_cautions_that_are_not_accepted_end_the_lesson(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    async def play(stage: Stage) -> None:
        await stage.press("m")
        await stage.press("enter")
        await until(stage, "Before the first start")
        await stage.press("escape")
        await until(stage, "NOT TAUGHT")

    on_stage(play, workbench=StillBench())
    assert not Path("bench.toml").exists()


def test_a_file_that_is_there_and_a_port_without_a_board_are_told(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bench.toml").write_text("mine")

    class Taken(StillBench):
        def teach(self, port: str, file: str) -> LessonRun:
            wish = Wish("/dev/none-of-the-tests", Path(file))
            wish.refuse_taken()
            return LessonRun(partial(teach_at, wish))

    async def play(stage: Stage) -> None:
        await stage.press("m")
        await stage.press("enter")
        await until(stage, "already exists and is not overwritten")
        await stage.send("m", *["backspace"] * 10, "b", "enter")
        await read_cautions(stage)
        await until(stage, "NOT TAUGHT")
        assert "/dev/none-of-the-tests" in stage.text

    on_stage(play, workbench=Taken(), size=(100, 30))
    assert (tmp_path / "bench.toml").read_text() == "mine"


# --- while something moves ------------------------------------------------------------------------------


def status(count: int) -> Status:
    values = dict.fromkeys(Status.__dataclass_fields__, 0)
    return Status(**values | {"state": State.WINDING, "count": count, "traverse_um": 12_340})


class Moving:
    """A lesson that moves until it is stopped, then says how it ended."""

    def __init__(self) -> None:
        self.stopped_at = 0

    def __call__(self, person: Person) -> str:
        person.begin(Step.SPEED, (Step.PROOF,))
        assert person.ask(Question("Next it runs. Go ahead?", Kind.MOVE)) == "yes"
        while person.watch(status(self.stopped_at)):
            self.stopped_at += 1
            time.sleep(0.01)
        person.watch(None)
        if person.ask(Question("You stopped it. Measure this again?", Kind.YES)) != "yes":
            raise WinderError("you stopped it", remedy="teach it again")
        return "written"


async def set_moving(stage: Stage) -> None:
    await read_cautions(stage)
    await until(stage, "Next it runs")
    await stage.press("y")
    await until(stage, "IT MOVES")


def on_lesson(play, lesson: Callable[[Person], str], size=(60, 18)) -> WinderApp:
    run = LessonRun(lesson, HandClock())

    async def perform() -> WinderApp:
        clock = HandClock(start_ns=1000 * NS_PER_S)
        app = WinderApp(clock=clock, lesson=TeachScreen(run, "bench.toml", clock))
        async with app.run_test(size=size) as pilot:
            await play(Stage(app, pilot, clock))
        return app

    try:
        return asyncio.run(perform())
    finally:
        run.close(WAIT_S)
        assert run.finished


@pytest.mark.parametrize("key", ["space", "escape", "f9"])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_stop_key_stops_what_moves(key, size):
    moving = Moving()

    async def play(stage: Stage) -> None:
        await set_moving(stage)
        await until(stage, "guide 12.34 mm")
        assert stage.text.rstrip().splitlines()[-1].strip() == "space stop"
        await stage.press(key)
        await until(stage, "You stopped it")
        assert "IT MOVES" not in stage.text
        await stage.press("n")
        await until(stage, "you stopped it; teach it again")

    on_lesson(play, moving, size)


def test_it_is_stopped_under_the_help_too():
    async def play(stage: Stage) -> None:
        await set_moving(stage)
        await stage.send("f1")
        await stage.send("space")
        await until(stage, lambda: not stage.app.lesson.moves)
        await stage.press("escape")
        await until(stage, "You stopped it")
        await stage.press("y")
        await until(stage, "written")

    on_lesson(play, Moving())


def test_ctrl_c_stops_what_moves_and_ends_the_lesson():
    moving = Moving()

    async def play(stage: Stage) -> None:
        await set_moving(stage)
        await stage.send("ctrl+c")
        await until(stage, lambda: stage.app.lesson.over)
        moved = moving.stopped_at
        await asyncio.sleep(0.05)
        assert moving.stopped_at == moved
        await until(stage, "NOT TAUGHT")

    on_lesson(play, moving)


def test_what_moves_is_stopped_where_the_screen_hangs():
    """Nobody calls ``screen_is_alive``."""
    moving = Moving()
    run = LessonRun(moving)
    end = time.monotonic() + WAIT_S
    while (question := run.view.question) is None and time.monotonic() < end:
        time.sleep(0.01)
    run.answer(question, "yes")
    while (run.view.question is None or "stopped" not in run.view.question.text) and (
        time.monotonic() < end
    ):
        time.sleep(0.01)
    assert run.view.question is not None and moving.stopped_at > 0
    assert any("screen hung" in line for line in run.view.told)
    run.close(WAIT_S)
    assert run.finished


def test_a_key_to_a_question_that_is_over_answers_no_other(monkeypatch):
    """A key that is held down must not let anything move; pressed once more, it does."""
    asked: list[str] = []

    def lesson(person: Person) -> str:
        person.begin(Step.SLOW, ())
        asked.append(person.ask(Question("Is it clear?", Kind.YES)))
        time.sleep(0.3)
        asked.append(person.ask(Question("Next it runs. Go ahead?", Kind.MOVE)))
        return "written"

    async def play(stage: Stage) -> None:
        await read_cautions(stage)
        await until(stage, "Is it clear?")
        await stage.send("y", "y", "y")
        await until(stage, "Next it runs")
        await stage.send("y", "y")
        await asyncio.sleep(0.3)
        assert asked == ["yes"]
        await stage.tick(1.0)
        await stage.press("y")
        await until(stage, "written")
        assert asked == ["yes", "yes"]

    on_lesson(play, lesson)


def test_what_ends_a_lesson_comes_out_as_an_error_with_a_remedy(monkeypatch):
    monkeypatch.setattr(running, "_show", lambda app: 0)

    def broken(person: Person) -> str:
        raise ZeroDivisionError("of the tests")

    with pytest.raises(WinderError, match="the lesson ended early: of the tests"):
        running.show_lesson(broken, "x")
    assert running.show_lesson(lambda person: "written", "x") == "written"
    own = WinderError("no", remedy="yes")
    assert words_of(own) is own
