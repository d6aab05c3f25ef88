"""The shelf's screen without a wind: finding, forms that make the words of commands, errors in words."""

from __future__ import annotations

import itertools
import json
from functools import partial

import pytest
from piloting import Stage, on_stage
from textual.widgets import Input

from tests.commands.shelf_of_coils import HOSTILE, enter, shelf_with
from tests.pages.still import InventedCoil, StillBench
from winder.commands.main import build_parser
from winder.commands.said import said
from winder.errors import UserMistake, WinderError
from winder.pair.likeness import By
from winder.screens.forms import AskLine, ShowText
from winder.screens.pair_screen import SETTINGS, PairScreen, Told
from winder.screens.shelf_screen import ShelfScreen, ranges_of
from winder.screens.start_screen import COILS_SHOWN, OLDER, SIMULATED, parted
from winder.service.again import Again
from winder.service.going_on import GoesOn
from winder.service.workbench import LocalWorkbench
from winder.shelf import Logbook
from winder.wind.model import How


class Bench(StillBench):
    """The invented bench with a real shelf."""

    def __init__(self, book: str) -> None:
        super().__init__()
        self._real = LocalWorkbench(book, None, partial(said, build_parser()))

    def say(self, words):
        return self._real.say(words)


@pytest.fixture
def bench(tmp_path, monkeypatch) -> Bench:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    book = tmp_path / "book"
    shelf_with(book, ("drone", 1200, 240.0), ("tine", 1190, 236.0), (HOSTILE, 800, None))
    with Logbook.open(book) as logbook:
        logbook.end_run(enter(logbook, "trial", turns=60, seed=1), How.COMPLETE)
    return Bench(str(book))


def play_shelf(bench: Bench, play, **more) -> None:
    async def begin(stage: Stage) -> None:
        await stage.press("s")
        assert isinstance(stage.app.screen, ShelfScreen)
        await play(stage)

    on_stage(begin, workbench=bench, **more)


async def type_in(stage: Stage, text: str) -> None:
    stage.app.screen.query_one(Input).value = text
    await stage.press("enter")


def test_real_coils_and_simulated_ones_are_never_in_one_list(bench):
    async def play(stage: Stage) -> None:
        assert "drone" in stage.text and "trial" not in stage.text
        await stage.press("v")
        assert "trial" in stage.text and "drone" not in stage.text

    play_shelf(bench, play)
    real, simulated = InventedCoil(1, "a", "", "", "", ""), InventedCoil(2, "b", "", "", "", "", False, True)  # fmt: skip
    assert parted([simulated, real]) == [real, SIMULATED, simulated]
    assert parted([real]) == [real]
    assert parted([real] * (COILS_SHOWN + 1)) == [*[real] * COILS_SHOWN, OLDER]


def test_names_from_outside_are_shown_as_they_are(bench):
    async def play(stage: Stage) -> None:
        assert "[bold]" in stage.text and "\x1b" not in stage.text

    play_shelf(bench, play)


@pytest.mark.parametrize(
    ("find", "found"),
    [
        ("TINE 1185..1195 turns", "tine"),
        ("DRONE complete", "drone"),
        ("239..241 ohm", "drone"),
        ("1195.. turns", "drone"),
        ("1 drone", "drone"),
    ],
)
def test_a_coil_is_found_by_words_and_ranges(bench, find, found):
    async def play(stage: Stage) -> None:
        await stage.press("slash")
        await type_in(stage, find)
        screen = stage.app.screen
        assert isinstance(screen, ShelfScreen)
        assert [coil["name"] for coil in screen._coils] == [found]

    play_shelf(bench, play)


def test_what_is_looked_for_becomes_options_and_words():
    assert ranges_of("tine 780..830 ohm 2400.. turns 2026-01-31..") == (
        ["--ohms=780..830", "--turns=2400..", "--since=2026-01-31"],
        ["tine"],
    )
    assert ranges_of("") == ([], [])


def test_an_error_is_told_in_words_and_nothing_is_entered(bench):
    async def play(stage: Stage) -> None:
        await stage.press("m")
        await type_in(stage, "nine ohms")
        assert isinstance(stage.app.screen, ShelfScreen)
        assert "does not say a resistance" in stage.text or "reading:" in stage.text
        await stage.press("slash")
        await type_in(stage, "9..1 ohm")
        assert "is not a range" in stage.text
        await stage.press("m", "escape")
        assert isinstance(stage.app.screen, ShelfScreen)

    play_shelf(bench, play, size=(100, 30))
    assert json.loads(bench.say(["shelf", "show", "3", "--json"]))["readings"] == []


def test_words_that_look_like_options_are_words(bench):
    async def play(stage: Stage) -> None:
        await stage.press("e", "enter")
        assert isinstance(stage.app.screen, AskLine)
        await type_in(stage, "--hide [b]")
        assert "coil 3: written" in stage.text

    play_shelf(bench, play)
    told = json.loads(bench.say(["shelf", "show", "3", "--json"]))["said"]
    assert told["note"] == "--hide [b]" and told["hidden"] is False


def test_a_reading_is_struck_out_with_a_reason(bench):
    async def play(stage: Stage) -> None:
        await stage.press("end", "e", "end", "enter")
        await type_in(stage, "1")
        await type_in(stage, "leads touched")
        assert "no longer counts" in stage.text

    play_shelf(bench, play)
    assert json.loads(bench.say(["shelf", "show", "1", "--json"]))["readings"][0]["struck"] == "leads touched"  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "wish"),
    [
        (("end", "l"), Again("1")),
        (("end", "t", "enter", "enter"), Again("1", By.HUM)),
        (("end", "t", "down", "down", "enter", "down", "enter"), Again("1", By.RESISTANCE, True)),
    ],
)
def test_the_next_coil_is_begun_on_the_chosen_port(bench, keys, wish):
    async def play(stage: Stage) -> None:
        await stage.press(*keys)
        assert stage.app.wind is not None

    play_shelf(bench, play)
    assert bench.from_shelf == [(wish, "sim")]


def test_turns_are_taken_off_by_number_or_as_the_pair_advises(bench):
    async def typed(stage: Stage) -> None:
        await stage.press("end", "o")
        await type_in(stage, "x")
        assert "Not a number of turns" in stage.text
        await stage.press("o")
        await type_in(stage, "4")

    async def advised(stage: Stage) -> None:
        await stage.press("end", "p", "up", "p")
        assert isinstance(stage.app.screen, PairScreen)
        assert "drone (no. 1) has 10 turns more than tine (no. 2)" in stage.text
        await stage.press("o", "enter")

    play_shelf(bench, typed)
    play_shelf(bench, advised)
    (first, _), (second, _) = bench.from_shelf
    assert first == GoesOn("1", take_off=4)
    assert isinstance(second, GoesOn) and second.coil == "1" and 5 <= (second.take_off or 0) <= 15


def test_desk_and_summary_say_what_the_commands_say(bench):
    async def play(stage: Stage) -> None:
        await stage.press("d", "enter")
        await type_in(stage, "832 ohm, 27 C")
        assert "809.7" in stage.text or "810" in stage.text  # 832 / (1 + 0.00393 x 7), IEC 60028
        if isinstance(stage.app.screen, ShowText):
            await stage.press("escape")
        await stage.press("u")
        assert "with a reading of their ohms" in stage.text

    play_shelf(bench, play, size=(100, 40))


def test_every_choice_of_the_pair_makes_words_that_its_command_takes():
    """Each setting through all its choices, from every way to sit; the parser knows every word."""
    parser = build_parser()
    places = next(each for each in SETTINGS if each.name == "place").choices
    for place, setting in itertools.product(places, SETTINGS):
        told = Told()
        told.values["place"] = place
        if setting not in told.asked:
            continue
        for _ in setting.choices:
            told.change(setting, 1)
            parsed = parser.parse_args(["shelf", "pair", *told.words, "--", "1", "2"])
            assert parsed.first == "1"


def test_words_that_no_command_takes_are_refused_in_words():
    with pytest.raises(UserMistake, match="unrecognized arguments"):
        said(build_parser(), ["shelf", "list", "--sideways"])
    with pytest.raises(WinderError):
        said(build_parser(), ["shelf", "show", "7", "--logbook", "/nowhere/at/all"])


def test_an_empty_shelf_says_so(tmp_path):
    bench = Bench(str(tmp_path / "none"))
    with Logbook.open(tmp_path / "none"):
        pass

    async def play(stage: Stage) -> None:
        assert "no coil yet" in stage.text
        await stage.press("m")
        assert "No coil is chosen." in stage.text
        await stage.press("n")
        assert "no spool yet: n adds one" in stage.text

    play_shelf(bench, play)
