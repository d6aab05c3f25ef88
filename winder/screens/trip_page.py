"""A trip takes the whole page: what, since when, the count and how sure, what to do, which key.

The page is reversed as a whole, so that it is told from every other at three metres and without
colour. The word at the top is the only thing of the program that blinks.
"""

from __future__ import annotations

import textwrap

from winder.files.digits import show_duration
from winder.screens.figures import MIDDLE, draw_bounds, draw_word
from winder.screens.keys import KEY_ROWS, draw_keys
from winder.screens.page import Ink, Page
from winder.screens.plain import plain_text
from winder.screens.words import certainty, count_bounds, counted, doubt, number, sentence
from winder.wind.model import Intent, WindView


def draw_trip(
    view: WindView,
    width: int,
    height: int,
    *,
    since_s: float,
    lit: bool,
    notices: tuple[str, ...] = (),
) -> Page:
    """The page of a trip that was first seen ``since_s`` ago; ``lit`` is the blinking's beat."""
    page = Page(width, height, Ink.ALARM)
    margin = 3 if width >= 76 else 1
    roomy = height >= 23 and width >= 60
    word = "alarm" if view.trouble.alarm else "tripped"
    y = _draw_word(page, word, margin, 1 if roomy else 0, roomy, lit)
    room = max(8, width - 2 * margin)
    step = 2 if roomy else 1
    last = height - KEY_ROWS - (2 if roomy else 1)

    def say(text: str, y: int, ink: Ink = Ink.ALARM) -> int:
        for line in textwrap.wrap(plain_text(text), room):
            if y > last:
                break
            page.put(margin, y, line, ink)
            y += 1
        return y

    what = view.trouble.alarm or view.trouble.trip or "a protective stop"
    y = say(sentence(what), y + step, Ink.ALARM_BLOCK)
    done = "The drive was cut at once."
    if view.trouble.alarm:
        cuts = Intent.CUT in view.may
        done = (
            "The stop is sent; space cuts the motor's power too." if cuts else "The stop is sent."
        )
    y = say(f"First seen {show_duration(since_s)} ago. {done}", y)
    rows = draw_bounds(MIDDLE, count_bounds(view))
    if height >= 28 and len(rows[0]) <= room:
        y = page.put_rows(margin, y + 1, rows)
        y = say(f"turns of {number(view.coil.target_turns)}, {certainty(view)}", y)
    else:
        y = say(f"Count: {counted(view)}, of {number(view.coil.target_turns)}.", y + step - 1)
    y = say(doubt(view), y)
    y = say(sentence(view.trouble.advice), y + step - 1)
    y = say(_clearing(view), y)
    for notice in notices:
        y = say(notice, y + step - 1)
    draw_keys(page, view, height - KEY_ROWS - (1 if roomy else 0), margin)
    return page


def draw_call(view: WindView, width: int, height: int, word: str) -> Page:
    """The whole screen for a moment, reversed: the word, the count, and the keys as they are."""
    page = Page(width, height, Ink.ALARM)
    margin = 3 if width >= 76 else 1
    roomy = height >= 23 and width >= 60
    y = _draw_word(page, word, margin, 1 if roomy else 0, roomy, True) + 1
    page.put(margin, y, f"{counted(view)}, of {number(view.coil.target_turns)}", Ink.ALARM_BLOCK)
    said = textwrap.wrap(plain_text(sentence(view.advice)), max(8, width - 2 * margin))
    page.put_rows(margin, y + 2, said, Ink.ALARM)
    draw_keys(page, view, height - KEY_ROWS - (1 if roomy else 0), margin)
    return page


def _draw_word(page: Page, word: str, margin: int, y: int, roomy: bool, lit: bool) -> int:
    letters = draw_word(word) if roomy else None
    rows = [f"   {row}   " for row in letters or (" ".join(word.upper()),)]
    if roomy:
        blank = " " * len(rows[0])
        rows = [blank, *rows, blank]
    return page.put_rows(margin, y, rows, Ink.ALARM_BLOCK if lit else Ink.ALARM)


def _clearing(view: WindView) -> str:
    if view.trouble.alarm:
        seen = Intent.ACKNOWLEDGE in view.may
        return (
            "t acknowledges it; this moves nothing."
            if seen
            else "You can acknowledge it once the spindle has stopped."
        )
    if Intent.CLEAR_TRIP in view.may:
        return "t clears it; this moves nothing."
    return "You can clear the trip once the cause is gone and nothing turns."
