"""The state in one word, large, and what is being wound beside it.

Reversed when something turns, framed when it waits for the person, plain when it is over. Block letters stand only where they leave
room for the name; else the word is spaced out.
"""

from __future__ import annotations

from winder.screens.figures import WORD_ROWS, draw_word
from winder.screens.layouts import Layout
from winder.screens.page import Ink, Page
from winder.screens.plain import plain_text
from winder.screens.words import FINISHED, MAY_MOVE, WAITING, turns_now
from winder.wind.model import Phase, WindView

NAME_APART = 3  # columns between the state's word and the coil's name


def draw_badge(page: Page, view: WindView, layout: Layout) -> None:
    """The state: reversed when something turns, framed when it waits for the person, plain when it is over."""
    word = plain_text(view.headline).upper()
    if view.phase is Phase.PAUSED and view.motion.pauses_here:
        word = f"PAUSED: {plain_text(view.motion.pauses_here).upper()}"
    letters = draw_word(word) if layout.badge_rows == WORD_ROWS + 2 else None
    beside = max(len(line) for line in _name_rows(page, view)) + NAME_APART
    room = page.width - 2 * layout.margin - beside - 6
    if letters is None or len(letters[0]) > room:
        spaced = " ".join(word) if len(word) * 2 < page.width - 8 else word
        # What the plan pauses for is of any length; the whole of it stands below.
        cut = word if len(word) <= room else f"{word[: room - 3]}..."
        letters = (spaced if len(spaced) <= room or layout.badge_rows == 1 else cut,)
    wide = len(letters[0]) + 6
    turning = view.phase in MAY_MOVE or view.motion.unwinds
    ink = Ink.MOTION_BLOCK if turns_now(view) else Ink.BLOCK if turning else Ink.STRONG
    rows = [f"   {row}   " for row in letters]
    if layout.badge_rows > 1:
        pads = layout.badge_rows - len(rows)
        rows = [" " * wide] * (pads // 2) + rows + [" " * wide] * (pads - pads // 2)
    if not turning and view.phase not in FINISHED:
        rows = _framed(rows, wide, heavy=view.phase in WAITING)
    page.put_rows(layout.margin, layout.badge_y, rows, ink)


def _framed(rows: list[str], wide: int, *, heavy: bool) -> list[str]:
    """A frame around the word, in place of its outermost signs. Light: nobody is waited for."""
    corners, line, side = ("┏┓┗┛", "━", "┃") if heavy else ("┌┐└┘", "─", "│")
    body = [side + row[1:-1] + side for row in rows]
    if len(rows) > 1:
        body[0] = corners[0] + line * (wide - 2) + corners[1]
        body[-1] = corners[2] + line * (wide - 2) + corners[3]
    return body


def _name_rows(page: Page, view: WindView) -> tuple[str, ...]:
    """What is being wound, which way round and, where it is not the planned one, how fast."""
    room = max(12, page.width // 3)
    name = plain_text(view.coil.name)
    rows = (
        name if len(name) <= room else name[: room - 3] + "...",
        f"{plain_text(view.coil.direction)} from the top"[: page.width // 2],
    )
    pace = view.motion.pace_permille
    return rows if pace == 1000 else (*rows, f"at {pace / 10:.0f} % of the planned speed")


def draw_name(page: Page, view: WindView, layout: Layout) -> None:
    """What is being wound, at the right edge beside the state."""
    edge, y = page.width - layout.margin, layout.badge_y + (1 if layout.badge_rows == 5 else 0)
    rows = _name_rows(page, view)
    if layout.badge_rows == 1:
        name = plain_text(view.coil.name)
        page.put_right(edge, y, name[: max(0, edge - len(view.headline) * 2 - 12)], Ink.STRONG)
        return
    for offset, (row, ink) in enumerate(
        zip(rows, (Ink.STRONG, Ink.QUIET, Ink.PLAIN), strict=False)
    ):
        page.put_right(edge, y + offset, row, ink)
