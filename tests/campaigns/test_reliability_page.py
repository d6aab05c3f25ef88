"""The page on reliability names every wrong board with its words, everything that no host can see, and every figure."""

from __future__ import annotations

from pathlib import Path

import pytest

from winder.laboratory.judge import WRONGS
from winder.simulator.scene import UNSEEABLE, WRONG_BOARDS

PAGE = (Path(__file__).parents[2] / "docs" / "reliability.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", WRONG_BOARDS)
def test_every_wrong_board_is_told_with_its_words(name):
    board = WRONG_BOARDS[name]
    assert f"| {name} | {board.sentence} | {board.sees} | " in PAGE


@pytest.mark.parametrize("name", UNSEEABLE)
def test_what_no_host_can_see_is_told(name):
    assert f"| {name} | {UNSEEABLE[name]} |" in PAGE


@pytest.mark.parametrize("figure", WRONGS)
def test_every_figure_is_explained(figure):
    assert f"| `{figure}` |" in PAGE
