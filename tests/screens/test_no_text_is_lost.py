"""Every state at every size: no word is cut, covered, or runs into its neighbour.

Looked for while the pages are drawn: what was asked to be written, what of it stands there in the end. Pictures
(figures, bars, the bobbin) may be cut and may touch; words may not.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field

import pytest
from pages import SIZES_ASKED, drawn
from rich.cells import cell_len

from tests.pages.list_scenes import LIST_SCENES
from tests.pages.scenes import SCENES, moment
from winder.screens.keys import KEYS
from winder.screens.page import Page, Row
from winder.screens.plain import plain_text
from winder.screens.words import doubt, finding_notices, link_notice
from winder.wind.model import WindView

EVERY = SCENES | LIST_SCENES
WORD = re.compile(r"[A-Za-z]{2,}")


@dataclass
class Written:
    """What was put on a page: texts that had no room, and each text with its place."""

    cut: list[str] = field(default_factory=list)
    texts: list[tuple[int, int, str]] = field(default_factory=list)


@pytest.fixture
def written(monkeypatch) -> Written:
    kept, put = Written(), Page.put

    def listening(page, x, y, text, ink=None, width=None):
        room = page.width - x if width is None else min(width, page.width - x)
        text_put = plain_text(text)
        if WORD.search(text_put) and (cell_len(text_put) > room or not 0 <= y < page.height):
            kept.cut.append(text_put)
        kept.texts.append((x, y, text_put))
        return put(page, x, y, text, ink, width)

    monkeypatch.setattr(Page, "put", listening)
    return kept


def touching(rows: list[Row]) -> list[str]:
    """Words that stand beside others without a blank between."""
    found = []
    for row in rows:
        for one, other in itertools.pairwise(row):
            if one.x + one.cells != other.x:
                continue
            if one.text[-1:].isalnum() and other.text[:1].isalnum():
                found.append(one.text + "|" + other.text)
    return found


def covered(page: Page, kept: Written) -> list[str]:
    """Words that were written and of which something else took a part.

    A row that was wiped as a whole, for a notice, is taken on purpose.
    """
    lines = page.text().splitlines()
    wiped = {y: place for place, (x, y, text) in enumerate(kept.texts) if text == " " * page.width}
    return [
        text
        for place, (_, y, text) in enumerate(kept.texts)
        if WORD.search(text) and 0 <= y < len(lines) and place > wiped.get(y, -1)
        if text.strip() not in lines[y]
    ]


def told(view: WindView) -> tuple[str, ...]:
    """The notices of the screen, by the words it has for them."""
    all_of_them = (link_notice(view), *finding_notices(view), doubt(view))
    return tuple(notice for notice in all_of_them if notice)


@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("scene", sorted(EVERY))
def test_no_word_is_cut_covered_or_touched(written, scene, size):
    view = EVERY[scene]
    page = drawn(view, *size, notices=told(view))
    assert written.cut == []
    assert covered(page, written) == []
    assert touching(page.rows()) == []


@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
def test_nothing_that_was_said_ends_in_dots(written, size):
    for view in EVERY.values():
        assert "..." not in drawn(view, *size, notices=told(view)).text()


def test_the_search_finds_what_is_cut_covered_or_touching(written):
    page = Page(20, 2)
    page.put(0, 0, "a sentence without enough room")
    page.put(0, 1, "covered")
    page.put(3, 1, "word")
    page.put(7, 1, "beside")
    assert written.cut == ["a sentence without enough room"]
    assert "covered" in covered(page, written)
    assert touching(page.rows()) == ["cov|word", "word|beside"]


@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_long_name_is_cut_and_touches_nothing(size):
    view = moment(SCENES["turning back"], recipe_name="a kalimba with a very long name " * 3)
    assert touching(drawn(view, *size).rows()) == []


@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("scene", sorted(EVERY))
def test_keys_stand_two_columns_apart(scene, size):
    page = drawn(EVERY[scene], *size)
    caps = {key.cap for key in KEYS}
    for row in page.rows()[-3:]:
        for one, other in itertools.pairwise(row):
            if other.text.strip() in caps and one.text.strip() not in caps:
                assert other.x - (one.x + one.cells) >= 2, page.text()


@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
def test_numbers_are_digits_without_gaps_on_every_screen_and_in_every_line(size):
    gap = re.compile(r"(?<![\d.,])\d{1,3}[ ,\u2009\u202f]\d{3}(?![\d.])")
    for name, view in EVERY.items():
        said = "\n".join([drawn(view, *size, notices=told(view)).text(), *view.lines, view.advice])
        assert not gap.search(said), (name, gap.search(said))
    assert gap.search("5 000 turns") and gap.search("1,747 of")
