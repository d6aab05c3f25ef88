"""Shelf, spools, pair, their help and the form at every size: every key and every line is whole, and none touches another."""

from __future__ import annotations

import asyncio
import re

import pytest
from piloting import Stage, on_stage
from textual.screen import Screen
from textual.widgets import OptionList, Static

from tests.pages.shown import ShelfBench
from winder.screens import pair_screen, recipe_form, shelf_screen, spool_screen, start_screen

SIZES_SMALL = ((60, 18), (80, 24))  # on larger ones the same lines have more room
LOOK_S, PATIENCE = 0.02, 5
PATHS = {
    "start": ((), start_screen.SHORT_KEYS),
    "shelf": (("s",), shelf_screen.KEYS),
    "spools": (("s", "n"), spool_screen.KEYS),
    "pair": (("s", "p", "down", "p"), pair_screen.KEYS),
    "form": (("f",), recipe_form.SHORT_KEYS),
    "shelf help": (("s", "f1"), "Esc goes back"),
    "commands": (("s", "ctrl+p"), "Esc goes back"),
}


def squeezed(text: str) -> str:
    return " ".join(text.split())


def lost(screen: Screen[object]) -> list[str]:
    """Lines of lists, and texts with more rows than they have room for."""
    found = []
    for shown in screen.query(Static):
        if shown.display and shown.virtual_size.height > shown.size.height > 0:
            found.append(str(shown.render()))
    for options in screen.query(OptionList):
        room = options.scrollable_content_region.width
        for place in range(options.option_count):
            line = str(options.get_option_at_index(place).prompt)
            found += [line] if len(line) > room - 2 else []
    return found


@pytest.mark.parametrize("size", SIZES_SMALL, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", sorted(PATHS))
def test_every_key_and_every_line_is_whole(name, size, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path, keys = PATHS[name]

    async def play(stage: Stage) -> None:
        for key in path:
            await stage.press(key)
            for _ in range(PATIENCE):
                await asyncio.sleep(LOOK_S)  # its commands run beside the screen
                await stage.settle()
        text = squeezed(stage.text)
        for label in re.split(r" {2,}|\n", keys):
            assert squeezed(label) in text, (label, stage.text)
        if (
            name != "commands"
        ):  # a list of sentences may be as wide as it is: it is read by the arrow keys
            assert lost(stage.app.screen) == []

    on_stage(play, workbench=ShelfBench(tmp_path), size=size)
