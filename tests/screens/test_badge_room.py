"""The word of a planned pause, which the recipe names, leaves the coil's name its room, in every terminal."""

from __future__ import annotations

import dataclasses

import pytest
from pages import drawn

from tests.pages.scenes import SCENES

NAMES = (
    "measure",
    "look at count and wire",
    "measure half-way, then look whether the wire lies flat",
)


@pytest.mark.parametrize("size", [(120, 40), (100, 30), (80, 24)])
@pytest.mark.parametrize("name", NAMES)
def test_the_name_of_a_pause_does_not_run_into_that_of_the_coil(name, size):
    paused = SCENES["paused"]
    view = dataclasses.replace(paused, motion=dataclasses.replace(paused.motion, pauses_here=name))
    text = drawn(view, *size).text()
    for words in (view.coil.name, f"{view.coil.direction} from the top"):
        (row,) = [row for row in text.splitlines() if row.rstrip().endswith(words)]
        before = row.rstrip()[: -len(words)]
        assert not before.strip() or before.endswith("  "), row
    frame = [row for row in text.splitlines()[:6] if "┃" in row]
    assert all(row.count("┃") == 2 for row in frame)
