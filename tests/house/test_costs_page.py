"""The page of costs says what the benchmarks measured, to the letter, and every part of them has a place on it."""

from __future__ import annotations

import json

from tests.benchmarks.__main__ import FIGURES, PARTS
from tests.benchmarks.page import PAGE, TITLES, page_text


def test_the_page_is_written_from_the_figures():
    assert PAGE.read_text() == page_text(json.loads(FIGURES.read_text()))


def test_every_part_has_a_title_and_figures():
    known = json.loads(FIGURES.read_text()).values()
    assert list(TITLES) == list(PARTS)
    assert {row["part"] for row in known} == set(PARTS)
