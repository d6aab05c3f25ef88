"""The tour of the documentation, done command by command from an empty folder: what it says it prints is printed."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree

import pytest

from tests.pages.tour import PAGE, RERUN, do_step, read_tour


@pytest.fixture(scope="module")
def toured(tmp_path_factory):
    """The folder after the tour; every step said what the page has."""
    folder = tmp_path_factory.mktemp("tour")
    files, steps = read_tour(PAGE.read_text())
    for name, text in files.items():
        (folder / name).write_text(text)
    assert len(steps) >= 20 and sum(len(step.prints) for step in steps) >= 20
    for step in steps:
        code, seen = do_step(step, folder)
        assert code == 0, f"{step.words}\n{seen}"
        lines = [line.rstrip() for line in seen.splitlines()]
        for line in step.prints:
            assert line in lines, f"{step.words}: not {line}; {RERUN} after a change\n{seen}"
    return folder


def test_the_tour_prints_what_its_page_says(toured):
    assert toured.is_dir()


def test_the_tour_leaves_cards_a_picture_and_a_copy(toured):
    left = (toured / "left.html").read_text()
    assert "read at turn 1000" in left and left.count("<circle") == 2  # half-way and finished
    assert (
        "white" in left and "black" in left and "350.2 ohm" in left and "tap, down, north" in left
    )
    assert ElementTree.fromstring((toured / "pair.svg").read_text()).tag.endswith("svg")
    shelf = json.loads((toured / "shelf.json").read_text())
    assert len(shelf["coils"]) == 2 and len(shelf["readings"]) == 6
    assert (toured / "backup.sqlite").stat().st_size > 0


def test_the_pair_of_the_tour_is_matched(toured):
    """Turns by counting; ohms by hand: 345.6 over 346.8 at 20 C is 0.3 %, within the half per cent that a pair is for."""
    coils = json.loads((toured / "shelf.json").read_text())["coils"]
    per_turn = coils[0]["counts_per_turn"]
    assert [coil["best"] / per_turn for coil in coils] == [2000, 1985]
