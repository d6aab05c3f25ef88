"""Which key asks for what, and how the row of keys is written.

One table. Stop stands first and always in the same place; at rest that place says so and is never
taken by a key that starts something. A key is shown only while what it asks for is possible.
"""

from __future__ import annotations

from firmware_protocol.records import dataclass
from winder.screens.page import Ink, Page
from winder.screens.words import AT_REST, moves, turns_now
from winder.wind.model import Intent, WindView

# Escape comes late (terminals wait to see whether more follows), space cannot be caught by every
# widget, function keys are taken by some terminals: together one of them always works.
STOP_KEYS = frozenset({"space", "escape", "f9"})
STOP_PLACE_COLUMNS = 14  # kept for stop, whatever else is shown; more where there is room
STOP_PLACE_COLUMNS_WIDE = 24
WIDE_COLUMNS = 76
KEY_ROWS = 2
LEANING_COLUMNS = len(" + speed")  # a key without a label does not end a row


@dataclass(frozen=True, slots=True)
class Key:
    """``names`` as the toolkit calls them, ``cap`` as it is written, ``label`` what it does.

    ``short`` is the label where the long ones do not fit, ``tight`` where even that is too long (empty:
    the short one); a key without a label leans on the next key's.
    """

    intent: Intent
    names: tuple[str, ...]
    cap: str
    label: str
    short: str
    tight: str = ""


KEYS = (
    Key(Intent.SET_UP_DONE, ("d",), "d", "all done: load the plan", "all done"),
    Key(Intent.START, ("s",), "s", "start", "start"),
    Key(Intent.ACCEPT_CAUTIONS, ("a",), "a", "read the cautions", "cautions"),
    Key(Intent.CONTINUE, ("c",), "c", "continue", "continue", "go on"),
    Key(Intent.PEDAL, ("f",), "f", "foot pedal", "pedal"),
    Key(Intent.CLEAR_TRIP, ("t",), "t", "clear the trip", "clear"),
    Key(Intent.ACKNOWLEDGE, ("t",), "t", "acknowledge the alarm", "acknowledge", "seen"),
    Key(Intent.WIRE_JOINED, ("j",), "j", "joined here", "joined"),
    Key(Intent.WIRE_WHOLE, ("i",), "i", "wire is whole", "whole"),
    Key(Intent.WIRE_HERE, ("z",), "z", "the wire is here", "wire here", "here"),
    Key(Intent.ADOPT_TURNS, ("y",), "y", "use the new target", "adopt"),
    Key(Intent.MEASURED, ("m",), "m", "enter a reading", "reading", "ohm"),
    Key(Intent.TURNS_OFF, ("x",), "x", "turns taken off", "off"),
    Key(Intent.TAKE_OFF, ("b",), "b", "motor turns back", "back"),
    Key(Intent.VOUCH_UNMOVED, ("v",), "v", "spindle was not turned", "not turned", "stood"),
    Key(Intent.SETTLE_COUNT, ("u",), "u", "set the count", "set count", "set"),
    Key(Intent.SLOWER, ("minus", "underscore"), "-", "slower", ""),
    Key(Intent.FASTER, ("plus", "equals_sign"), "+", "faster", "speed"),
    Key(Intent.WIRE_BROKE, ("w",), "w", "wire broke", "broke"),
    Key(Intent.NOTE, ("n",), "n", "note", "note"),
    Key(Intent.END_HERE, ("e",), "e", "end here", "end here", "end"),
    Key(Intent.LEAVE, ("q",), "q", "leave", "leave"),
)
NOTE_KEY = next(key for key in KEYS if key.intent is Intent.NOTE)
MOVING_INTENTS = frozenset({Intent.START, Intent.CONTINUE, Intent.PEDAL, Intent.TAKE_OFF})
GUIDE_INTENTS = frozenset(
    {Intent.STEP_GUIDE, Intent.GUIDE_TO_START, Intent.WIRE_HERE, Intent.HOME_GUIDE}
)
# A held key repeats by itself; these are not asked again by a repeat.
DELIBERATE = MOVING_INTENTS | {
    Intent.CLEAR_TRIP,
    Intent.ACKNOWLEDGE,
    Intent.VOUCH_UNMOVED,
    Intent.WIRE_BROKE,
    Intent.WIRE_JOINED,
    Intent.WIRE_WHOLE,
    Intent.WIRE_HERE,
}


def shown_keys(view: WindView) -> list[Key]:
    """The keys besides stop that can do something now, in their fixed order.

    Leaving is offered wherever nothing turns, and to a person whose board is silent. A broken wire leaves
    no thought for the speed. A note waits until nothing moves: its blanks would stop the machine.
    """
    may = view.may - {Intent.LEAVE}
    if not turns_now(view):
        may |= {Intent.LEAVE}
    if moves(view):
        may -= {Intent.NOTE}
    if view.count.wire_broke_at is not None:
        may -= {Intent.SLOWER, Intent.FASTER}
    return [key for key in KEYS if key.intent in may]


def key_of(name: str, view: WindView) -> Key | None:
    """The key of that name, if what it asks for is possible now; a note's also where it has to wait, to be told so."""
    if name in NOTE_KEY.names and NOTE_KEY.intent in view.may:
        return NOTE_KEY
    return next((key for key in shown_keys(view) if name in key.names), None)


def draw_keys(page: Page, view: WindView, y: int, margin: int) -> None:
    """Two rows from ``y``: stop in its place, the others beside it."""
    stop_ink, cap_ink = _inks(page.ground)
    wide = page.width >= WIDE_COLUMNS
    if moves(view):
        x = page.put(margin, y, " SPACE ", stop_ink)
        x = page.put(x, y, " stop", Ink.STRONG if page.ground is Ink.PLAIN else None)
        page.put(margin, y + 1, "also Esc and F9" if wide else "or Esc, F9", _quiet(page.ground))
    else:
        if view.phase in AT_REST:
            page.put(margin, y, "at rest", _quiet(page.ground))
        page.put(margin, y + 1, "?", cap_ink)
        page.put(margin + 2, y + 1, "help", None)
    left = margin + (STOP_PLACE_COLUMNS_WIDE if wide else STOP_PLACE_COLUMNS)
    room = page.width - left - (margin if margin > 1 else 0)
    for x, row, text, ink in _place(shown_keys(view), room, cap_ink):
        page.put(left + x, y + row, text, ink)


Placed = tuple[int, int, str, Ink | None]


def _place(keys: list[Key], room: int, cap_ink: Ink) -> list[Placed]:
    """Caps and labels on two rows of ``room`` columns: the longest labels that fit, the last ones made tight first."""
    if not keys:
        return []
    long = [key.label for key in keys]
    short = [key.short for key in keys]
    tight = [key.tight or key.short for key in keys]
    mixed = [(short[:place] + tight[place:], 2) for place in range(len(keys) - 1, -1, -1)]
    for labels, gap in ((long, 3), (long, 2), (short, 3), (short, 2), *mixed, (tight, 1)):
        placed, rows = _flow(keys, labels, room, cap_ink, gap)
        if rows <= KEY_ROWS:
            break
    return [part for part in placed if part[1] < KEY_ROWS]


def _flow(
    keys: list[Key], labels: list[str], room: int, cap_ink: Ink, gap: int
) -> tuple[list[Placed], int]:
    """Keys one after the other, broken into rows; the number of rows they took."""
    x = row = 0
    placed: list[Placed] = []
    for key, label, following in zip(keys, labels, [*keys[1:], None], strict=True):
        if not label and (following is None or following.intent is not Intent.FASTER):
            label = key.label  # nothing there to lean on
        cap = f" {key.cap} " if cap_ink is Ink.ALARM_BLOCK else key.cap
        columns = len(cap) + (1 + len(label) if label else 0)
        leaning = 0 if label else LEANING_COLUMNS
        if x and x + columns + leaning > room:
            x, row = 0, row + 1
        placed.append((x, row, cap, cap_ink))
        if label:
            placed.append((x + len(cap) + 1, row, label, None))
        x += columns + (gap if label else 1)
    return placed, row + 1


def _inks(ground: Ink) -> tuple[Ink, Ink]:
    if ground is Ink.ALARM:
        return Ink.ALARM_BLOCK, Ink.ALARM_BLOCK
    return Ink.MOTION_BLOCK, Ink.STRONG


def _quiet(ground: Ink) -> Ink:
    return Ink.QUIET if ground is Ink.PLAIN else ground
