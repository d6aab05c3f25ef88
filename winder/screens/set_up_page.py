"""The list before the wind as a page: what is done, what is open, and the keys for it.

The first open item stands out, because it is what the person does next; its keys are written beside it. The
guide's place and the size of its steps stand large, for they are looked at from the machine with a hand on the
wire. Nothing on this page turns the spindle.
"""

from __future__ import annotations

import textwrap

from winder.plan.facing import Top
from winder.screens.bars import lane
from winder.screens.page import Ink, Page
from winder.screens.plain import plain_text
from winder.wind.model import Asked, Intent, Item, SetUpLine, WindView

STEPS_MM = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0)  # no single key moves the guide further
FIRST_STEP = 5  # 1 mm
KEYS_OF = {
    Item.BOBBIN: ("o top towards you", "k top towards the chuck"),
    Item.LEAD: ("l it is fixed",),
    Item.TENSION: ("g enter the cN",),
    Item.GUIDE: (
        "p take the guide up",
        "Left Right move it",
        ", . step size",
        "[ touches left",
        "] touches right",
        "h back to the start",
        "f it is at the left flange, no touching",
        "z the wire is here",
        "1 find its home",
    ),
    Item.GUARD: ("r it is closed",),
}
# What a key asks for; the ones that need a number of their own are the screen's.
ASKS = {
    "o": Asked(Intent.DECLARE_TOP, Top.OPERATOR),
    "k": Asked(Intent.DECLARE_TOP, Top.CHUCK),
    "l": Asked(Intent.CONFIRM, Item.LEAD),
    "f": Asked(Intent.CONFIRM, Item.GUIDE),
    "r": Asked(Intent.CONFIRM, Item.GUARD),
    "h": Asked(Intent.GUIDE_TO_START),
    "left_square_bracket": Asked(Intent.TOUCH_LEFT),
    "right_square_bracket": Asked(Intent.TOUCH_RIGHT),
}
HOME_KEY = "1"
TENSION_KEY = "g"
TAKE_UP_KEY = "p"
STEP_KEYS = {"left": -1, "right": 1}
SIZE_KEYS = {"comma": -1, "full_stop": 1}
LEAST_LANE_COLUMNS = 30


def draw_set_up(page: Page, view: WindView, x: int, y: int, last: int, step_mm: float) -> None:
    """The list from row ``y``, not below row ``last``; roomy where there is room."""
    width = page.width - 2 * x
    first = next((line for line in view.set_up if not line.done), None)
    rows = len(view.set_up) + 3
    apart = 2 if last - y >= 2 * rows + 2 else 1
    for line in view.set_up:
        if y > last:
            return
        keys = _keys_of(view, line.item) if line is first else None
        y = _draw_item(page, line, x, y, last, width, keys) + apart - 1
    if view.lay.guide_mm is not None and any(line.item is Item.GUIDE for line in view.set_up):
        _draw_guide(page, view, x, y + (1 if y + 3 <= last else 0), last, width, step_mm)


def _draw_item(
    page: Page,
    line: SetUpLine,
    x: int,
    y: int,
    last: int,
    width: int,
    keys: tuple[str, ...] | None,
) -> int:
    """``keys`` are those of the item to do now; None: it is another."""
    now = keys is not None
    mark = "■" if line.done else "▶" if now else "□"
    ink = Ink.STRONG if now else Ink.QUIET if line.done else Ink.PLAIN
    after = page.put(x, y, f"{mark} {line.what}", ink)
    y += 1
    if keys is None:  # of the open one the sentence above says what to do
        said = plain_text(line.said)
        if len(said) <= x + width - after - 2:
            page.put(after + 2, y - 1, said, Ink.QUIET)
            return y
        rows = textwrap.wrap(said, width - 2)[: max(0, last + 1 - y)]
        return page.put_rows(x + 2, y, rows, Ink.QUIET)
    for text in _rows_of_keys(keys, width - 2):
        if y <= last:
            page.put(x + 2, y, text, Ink.STRONG)
            y += 1
    return y


def _keys_of(view: WindView, item: Item) -> tuple[str, ...]:
    """A guide without a limit switch has no home; one on its way there takes nothing but a stop."""
    keys = () if view.motion.guide_homes else KEYS_OF.get(item, ())
    homes = Intent.HOME_GUIDE in view.may
    return tuple(key for key in keys if homes or not key.startswith(HOME_KEY))


def _rows_of_keys(keys: tuple[str, ...], width: int) -> list[str]:
    """Keys with their labels, three blanks apart, never broken within one."""
    rows: list[str] = []
    for key in keys:
        if rows and len(rows[-1]) + 3 + len(key) <= width:
            rows[-1] += "   " + key
        else:
            rows.append(key)
    return rows


def _draw_guide(
    page: Page, view: WindView, x: int, y: int, last: int, width: int, step_mm: float
) -> None:
    """Where the guide is believed to be, and how far one key moves it."""
    assert view.lay.guide_mm is not None
    if y > last:
        return
    moves = "  moving" if view.motion.guide_moves else ""
    text = f"guide {view.lay.guide_mm:.2f} mm from the left touch   one key moves it {step_mm:g} mm{moves}"
    if view.motion.guide_homes:
        text = "guide moving, on its way home"
    page.put(x, y, text, Ink.MOTION if view.motion.guide_moves else Ink.PLAIN, width=width)
    wide_mm = view.coil.window_mm[0] if view.coil.window_mm is not None else 0.0
    if y + 1 <= last and wide_mm > 0 and width >= LEAST_LANE_COLUMNS:
        share = min(1.0, max(0.0, view.lay.guide_mm / wide_mm))
        before, mark, after = lane(width, share, True)
        at = page.put(x, y + 1, before, Ink.QUIET)
        mark_ink = Ink.MOTION if view.motion.guide_moves else Ink.STRONG
        at = page.put(at, y + 1, "█" + mark[1:] if share < 1 else mark, mark_ink)
        page.put(at, y + 1, after, Ink.QUIET)


def step_mm(place: int) -> float:
    return STEPS_MM[max(0, min(place, len(STEPS_MM) - 1))]
