"""What happens next, and the sentences worth saying now: whole where they have room, else by their clauses.

They stand between the state and the figures, the most pressing first. What finds no room there goes above the keys, over
whatever stands there.
"""

from __future__ import annotations

import textwrap

from winder.screens.layouts import Layout
from winder.screens.page import Ink, Page
from winder.screens.plain import plain_text
from winder.screens.words import sentence
from winder.wind.model import WindView

SENTENCE_ROWS = 2  # what a layout keeps at least between state and figures


def draw_sentence(
    page: Page, view: WindView, layout: Layout, notices: tuple[str, ...], rows: int
) -> tuple[str, ...]:
    """What happens next, then notices, as many as are whole in ``rows``. What found no room is returned."""
    room = page.width - 2 * layout.margin
    lines = textwrap.wrap(plain_text(sentence(view.advice)), room) or [""]
    y = page.put_rows(layout.margin, layout.sentence_y, lines[:1], Ink.STRONG)
    if len(lines) > 1:
        page.put(layout.margin, y, " ".join(lines[1:]), Ink.STRONG, width=room)
        y += 1
    end = layout.sentence_y + rows
    for place, notice in enumerate(notices):
        text = plain_text(notice)
        lines, rest = textwrap.wrap(text, room), ""
        if len(lines) > end - y:
            if place or len(lines) <= layout.notice_rows:
                return notices[place:]
            lines, rest = _first_clauses(text, room, end - y)
        y = page.put_rows(layout.margin, y, lines)
        if rest:
            return (rest, *notices[place + 1 :])
    return ()


def draw_notices(page: Page, layout: Layout, notices: tuple[str, ...]) -> None:
    """Further notices, in the rows above the keys; without free rows, over the progress bar.

    Whole sentences only, the most pressing first; of the first, where even it has no room, its first clauses.
    """
    room = page.width - 2 * layout.margin
    shown: list[str] = []
    for text in notices:
        lines = textwrap.wrap(plain_text(text), room)
        if len(shown) + len(lines) <= layout.notice_rows:
            shown += lines
        elif not shown and layout.notice_rows:
            shown, _ = _first_clauses(plain_text(text), room, layout.notice_rows)
            shown = shown or _cut(plain_text(text), room, layout.notice_rows)
    last = page.height - layout.bottom - 1
    for offset, line in enumerate(shown):
        y = last - len(shown) + 1 + offset
        page.put(0, y, " " * page.width)
        page.put(layout.margin, y, line)


def _first_clauses(text: str, room: int, rows: int) -> tuple[list[str], str]:
    """As much of a sentence as has room, to the end of a clause, and the rest as a sentence of its own."""
    for place in range(len(text) - 2, 0, -1):
        if text[place] in ".;:" and text[place + 1] == " ":
            lines = textwrap.wrap(text[:place] + ".", room)
            if len(lines) <= rows:
                return lines, sentence(text[place + 1 :])
    return [], text


def _cut(text: str, room: int, rows: int) -> list[str]:
    """A text without a clause that has room: its first words."""
    lines = textwrap.wrap(text, room)[:rows]
    return [*lines[:-1], lines[-1][: room - 4] + " ..."]
