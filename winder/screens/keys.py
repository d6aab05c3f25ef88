"""Which key asks for what, and how the row of keys is written.

One table. Stop stands first and always in the same place; at rest that place says so and is never
taken by a key that starts something. A key is shown only while what it asks for is possible.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from winder.screens.page import Ink, Page
from winder.screens.words import AT_REST, MAY_MOVE, TURNING
from winder.session.model import Intent, WindView

# Escape comes late (terminals wait to see whether more follows), space cannot be caught by every
# widget, function keys are taken by some terminals: together one of them always works.
STOP_KEYS = frozenset({"space", "escape", "f9"})
STOP_PLACE_COLUMNS = 24  # kept for stop, whatever else is shown


@dataclass(frozen=True, slots=True)
class Key:
    """``names`` as the toolkit calls them, ``cap`` as it is written, ``label`` what it does."""

    intent: Intent
    names: tuple[str, ...]
    cap: str
    label: str


KEYS = (
    Key(Intent.START, ("s",), "s", "start"),
    Key(Intent.ACCEPT_CAUTIONS, ("a",), "a", "read the cautions"),
    Key(Intent.CONTINUE, ("c",), "c", "continue"),
    Key(Intent.CLEAR_TRIP, ("t",), "t", "clear the trip"),
    Key(Intent.VOUCH_UNMOVED, ("v",), "v", "spindle was not turned"),
    Key(Intent.SETTLE_COUNT, ("u",), "u", "settle the count"),
    Key(Intent.SLOWER, ("minus", "underscore"), "-", "slower"),
    Key(Intent.FASTER, ("plus", "equals_sign"), "+", "faster"),
    Key(Intent.NOTE, ("n",), "n", "note"),
    Key(Intent.END_HERE, ("e",), "e", "end here"),
    Key(Intent.LEAVE, ("q",), "q", "leave"),
)
MOVING_INTENTS = frozenset({Intent.START, Intent.CONTINUE})
# A held key repeats by itself; these are not asked again by a repeat.
DELIBERATE = MOVING_INTENTS | {Intent.CLEAR_TRIP, Intent.VOUCH_UNMOVED}


def shown_keys(view: WindView) -> list[Key]:
    """The keys besides stop that can do something now, in their fixed order.

    Leaving is offered wherever nothing turns, and to a person whose board is silent.
    """
    leave = view.phase not in TURNING
    return [
        key for key in KEYS if (leave if key.intent is Intent.LEAVE else key.intent in view.may)
    ]


def key_of(name: str, view: WindView) -> Key | None:
    """The key of that name, if what it asks for is possible now."""
    return next((key for key in shown_keys(view) if name in key.names), None)


def draw_keys(page: Page, view: WindView, y: int, margin: int) -> None:
    """Two rows from ``y``: stop in its place, the others beside it."""
    stop_ink, cap_ink = _inks(page.ground)
    if view.phase in MAY_MOVE:
        x = page.put(margin, y, " SPACE ", stop_ink)
        x = page.put(x, y, " stop", Ink.STRONG if page.ground is Ink.PLAIN else None)
        page.put(margin, y + 1, "also Esc and F9", _quiet(page.ground))
    elif view.phase in AT_REST:
        page.put(margin, y, "at rest", _quiet(page.ground))
    _draw_row(page, shown_keys(view), y, margin + STOP_PLACE_COLUMNS, cap_ink)


def _draw_row(page: Page, keys: Iterable[Key], y: int, left: int, cap_ink: Ink) -> None:
    x, last_y = left, y + 1
    for key in keys:
        wide = len(key.cap) + 3 + len(key.label)
        if x + wide > page.width and x > left:
            x, y = left, y + 1
        if y > last_y:
            return
        x = page.put(x, y, f" {key.cap} " if cap_ink is Ink.ALARM_BLOCK else key.cap, cap_ink)
        x = page.put(x + 1, y, key.label) + 3


def _inks(ground: Ink) -> tuple[Ink, Ink]:
    if ground is Ink.ALARM:
        return Ink.ALARM_BLOCK, Ink.ALARM_BLOCK
    return Ink.MOTION_BLOCK, Ink.STRONG


def _quiet(ground: Ink) -> Ink:
    return Ink.QUIET if ground is Ink.PLAIN else ground
