"""The workbench: choose, wind, look at the shelf."""

from __future__ import annotations

import pytest
from pages import SIZES_ASKED
from piloting import Stage, intents, on_stage

from tests.pages.scenes import SCENES
from tests.pages.still import InventedCoil, InventedRecipe, StillBench
from winder.errors import WinderError
from winder.screens.asking import AskCautions, ShowRecord
from winder.wind.model import Intent


def test_recipes_ports_shelf_and_unfinished_winds_are_shown():
    async def play(stage: Stage) -> None:
        text = " ".join(stage.text.split())
        assert "Coil 9 (rotor sensor) did not end properly" in text
        assert "kalimba bass coil" in text
        assert "sim the simulated machine" in text
        assert "2026-03-02 5000 turns exact complete" in text

    on_stage(play, workbench=StillBench(), size=(100, 30))


def test_the_chosen_recipe_is_wound_on_the_chosen_port():
    bench = StillBench(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.press("down")
        await stage.press("enter")
        await stage.press("down")
        await stage.press("enter")
        assert bench.opened == [("treble.toml", "/dev/serial/by-id/usb-bench-board-0001")]
        assert stage.app.wind is not None

    on_stage(play, workbench=bench)


def test_an_error_of_opening_is_told_in_words_and_nothing_opens():
    bench = StillBench()

    async def play(stage: Stage) -> None:
        await stage.press("end")
        await stage.press("w")
        assert "sketch.toml:7: wire: '9,5 mm' has a comma; write 9.5 mm" in stage.text
        assert stage.app.wind is None

    on_stage(play, workbench=bench, size=(120, 40))


def test_a_record_of_the_shelf_opens_and_closes():
    async def play(stage: Stage) -> None:
        await stage.press("tab")
        await stage.press("tab")
        await stage.press("down")
        await stage.press("enter")
        assert isinstance(stage.app.screen, ShowRecord)
        assert "coil 11" in stage.text
        await stage.press("escape")
        assert not isinstance(stage.app.screen, ShowRecord)

    on_stage(play, workbench=StillBench())


@pytest.mark.parametrize(("size", "longer"), [((100, 30), False), ((60, 14), True)])
def test_keys_that_move_a_text_are_told_only_where_it_is_longer_than_the_screen(size, longer):
    async def play(stage: Stage) -> None:
        await stage.press("w")
        assert ("Down more" in stage.text) is longer
        assert "a Read and understood" in " ".join(stage.text.split())

    bench = StillBench(SCENES["unread"])
    on_stage(play, workbench=bench, cautions_accepted=False, size=size)


def test_cautions_hold_for_the_session_of_the_program():
    bench = StillBench(SCENES["unread"])

    async def play(stage: Stage) -> None:
        await stage.press("w")
        assert isinstance(stage.app.screen, AskCautions)
        await stage.press("a")
        first = stage.app.wind
        assert first is not None and intents(first.run_of_wind) == [Intent.ACCEPT_CAUTIONS]
        await stage.press("q")
        await stage.press("w")
        second = stage.app.wind
        assert second is not None and second is not first
        assert stage.app.screen is second
        assert intents(second.run_of_wind) == [Intent.ACCEPT_CAUTIONS]

    on_stage(play, workbench=bench, cautions_accepted=False)


def test_a_coil_that_is_not_done_is_offered_and_goes_on_by_its_own_recipe():
    bench = StillBench(SCENES["ready"])

    async def play(stage: Stage) -> None:
        assert "g continue coil 9: rotor sensor" in stage.text
        await stage.press("g")
        assert bench.opened == [("rotor.toml", "sim")]
        assert bench.went_on == [9]
        assert stage.app.wind is not None

    on_stage(play, workbench=bench)


def test_on_the_shelf_only_a_coil_that_is_not_done_is_offered():
    bench = StillBench(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.press("tab", "tab")
        assert "g continue" not in stage.text
        await stage.press("g")
        assert bench.opened == []
        await stage.press("end")
        assert "g continue coil 9" in stage.text

    on_stage(play, workbench=bench)


def test_w_begins_a_new_coil_whatever_is_offered():
    bench = StillBench(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.press("w")

    on_stage(play, workbench=bench)
    assert bench.went_on == [None]


class NoRecipeBench(StillBench):
    def recipes(self):
        return super().recipes()[:1]


def test_a_coil_whose_recipe_is_not_here_is_not_wound_by_another():
    bench = NoRecipeBench(SCENES["ready"])

    async def play(stage: Stage) -> None:
        await stage.press("g")
        assert "No recipe here winds 'rotor sensor'" in stage.text

    on_stage(play, workbench=bench)
    assert bench.opened == []


@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
def test_what_the_start_screen_says_is_whole_at_every_size(size):
    async def play(stage: Stage) -> None:
        text = " ".join(stage.text.split())
        for whole in (
            "kalimba bass coil",
            "5000 turns of 0.063 mm, 853 ohm",
            "5000 turns exact complete",
            "between 480 and 506",
            "g continue coil 9: rotor sensor",
            "q leave t try",
            "m teach",
            "f new recipe",
            "Ctrl+P all",
        ):
            assert whole in text, whole
        assert "2026-03-02 5000 turns" in text or size[0] < 76
        first = next(line for line in stage.text.splitlines() if "kalimba bass coil" in line)
        assert "sim" in first

    on_stage(play, workbench=StillBench(), size=size)


class HostileBench(StillBench):
    """Names that are markup, control characters, and trouble."""

    def recipes(self):
        return (InventedRecipe("[/x]\x1b[2J", "[bold", "[red]\u202e\n[/red]"),)

    def shelf(self, newest):
        return (InventedCoil(1, "[/]", "[", "]", "\x07", "[/dim]"),)

    def unfinished(self):
        return ("[/coil] 9",)

    def ports(self):
        return ("[/dev]",)

    def shelf_record(self, coil_id):
        raise WinderError("[/gone]", remedy="[look]")


def test_hostile_names_are_shown_as_they_are():
    async def play(stage: Stage) -> None:
        assert "[/x]" in stage.text and "[/coil] 9" in stage.text and "[/dev]" in stage.text
        assert not any(sign in stage.text for sign in "\x1b\x07\u202e")
        await stage.press("tab")
        await stage.press("tab")
        await stage.press("enter")
        assert "[/gone]; [look]" in stage.text

    on_stage(play, workbench=HostileBench(), size=(100, 30))


class EmptyBench(StillBench):
    def recipes(self):
        return ()

    def shelf(self, newest):
        return ()

    def unfinished(self):
        return ()

    def ports(self):
        return ()


def test_an_empty_bench_says_so_and_winds_nothing():
    async def play(stage: Stage) -> None:
        assert "no recipe yet" in stage.text and "no coil yet" in stage.text
        await stage.press("w")
        assert "Choose a recipe and a port first." in stage.text
        await stage.press("tab")
        await stage.press("tab")
        await stage.press("enter")
        assert stage.app.wind is None

    on_stage(play, workbench=EmptyBench())


class BrokenBench(StillBench):
    def shelf(self, newest):
        raise WinderError("the logbook is damaged", where="logbook", remedy="restore the copy")


def test_a_broken_logbook_is_told_and_recipes_are_still_there():
    async def play(stage: Stage) -> None:
        assert "logbook: the logbook is damaged; restore the copy" in stage.text
        assert "kalimba bass coil" in stage.text

    on_stage(play, workbench=BrokenBench(), size=(100, 30))
