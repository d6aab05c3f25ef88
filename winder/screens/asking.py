"""Small screens that ask for one thing: a note, a number of turns, a yes, the cautions.

Each is shown above the wind, which stays in sight and alive behind it; each gives its answer back to
whoever opened it and does nothing itself. Escape goes back without an answer; while something moves,
Escape and space stop the machine instead, because the app takes them before any screen sees them.
"""

from __future__ import annotations

import re
from typing import TypeVar

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from winder.screens.keys_below import KeysBelow
from winder.screens.plain import plain
from winder.service.cautions import cautions_for

NOTE_SIGNS_MAX = 200
READING_SIGNS_MAX = 120
READINGS = """\
846.2              ohms of the coil; 846.2 21.5: at 21.5 C
build, 1.41 mm     height of the winding, by caliper
tail, 20 m, 107.8 ohm, 22 C   a piece of this spool
outside, 8 mm, 10.9 mm      bare core, and over the wire"""
TIGHT_ROWS = 28  # below, the cautions stand without a margin around them
CLOSE_ROWS = 24  # below, without rows between them
TURNS_MAX = 1_000_000  # far above any coil; a slip of the finger is told at once


Answer = TypeVar("Answer")


class Asking(ModalScreen[Answer]):
    """A screen that gives one answer, however often its key was pressed or held."""

    def give(self, answer: Answer) -> None:
        if self.is_current:  # a second one would close the screen below
            self.dismiss(answer)


class AskNote(Asking[str | None]):
    """A line of text for the journal. What was typed is kept when something interrupts."""

    def __init__(self, draft: str = "") -> None:
        super().__init__()
        self.draft = draft

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain("Note for this coil"), classes="asking-title")
            yield Input(value=self.draft, max_length=NOTE_SIGNS_MAX)
            yield Static(plain("Enter keeps it   Esc goes back"), classes="asking-keys")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_blink = False

    def on_input_changed(self, event: Input.Changed) -> None:
        self.draft = event.value

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.give(event.value.strip() or None)

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.give(None)


class AskTurns(Asking[float | None]):
    """The number of turns a person vouches for."""

    def __init__(self, counted: str) -> None:
        super().__init__()
        self._counted = counted

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain("How many turns are on the coil?"), classes="asking-title")
            yield Static(plain(f"Now: {self._counted}. Your number is used."))
            yield Input(max_length=12)
            yield Static(plain(""), id="complaint")
            yield Static(plain("Enter settles it   Esc goes back"), classes="asking-keys")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_blink = False

    def on_input_submitted(self, event: Input.Submitted) -> None:
        turns = read_turns(event.value)
        if turns is None:
            complaint = (
                f"Not a number of turns from 0 to {TURNS_MAX}; write for example 3106 or 3106.5"
            )
            self.query_one("#complaint", Static).update(plain(complaint))
        else:
            self.give(turns)

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.give(None)


class AskCount(Asking[tuple[int, str] | None]):
    """Turns and a name: all that a coil needs to be counted."""

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(
                plain("Count how many turns, and what is the coil called?"), classes="asking-title"
            )
            yield Static(
                plain("For example: 8000 rotor sensor. You can give wire and bobbin later.")
            )
            yield Input(max_length=NOTE_SIGNS_MAX)
            yield Static(plain(""), id="complaint")
            yield Static(plain("Enter goes on   Esc goes back"), classes="asking-keys")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_blink = False

    def on_input_submitted(self, event: Input.Submitted) -> None:
        turns, _, name = event.value.strip().partition(" ")
        if turns.isascii() and turns.isdigit() and 0 < int(turns) <= TURNS_MAX and name.strip():
            self.give((int(turns), name.strip()))
        else:
            complaint = f"Write a number from 1 to {TURNS_MAX}, a blank, and a name."
            self.query_one("#complaint", Static).update(plain(complaint))

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.give(None)


class AskReading(Asking[str | None]):
    """What was measured, as one writes it. What it means is for the wind to say, and to refuse."""

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain("What was measured?"), classes="asking-title")
            yield Static(plain(READINGS))
            yield Input(max_length=READING_SIGNS_MAX)
            yield Static(plain("Enter takes it   Esc goes back"), classes="asking-keys")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_blink = False

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.give(event.value.strip() or None)

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.give(None)


class AskNumber(Asking[tuple[float, ...] | None]):
    """One or two numbers. ``complaint`` says how to write them, ``draft`` stands there already."""

    def __init__(
        self,
        title: str,
        said: str,
        complaint: str,
        most: int = 1,
        *,
        draft: str = "",
        enter: str = "keeps it",
    ) -> None:
        super().__init__()
        self._title, self._said, self._complaint, self._most = title, said, complaint, most
        self._draft, self._enter = draft, enter

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain(self._title), classes="asking-title")
            yield Static(plain(self._said))
            # The key that opened this may still be held: its letter is no part of a number.
            yield Input(value=self._draft, max_length=24, restrict=r"[-+0-9., ]*")
            yield Static(plain(""), id="complaint")
            yield Static(plain(f"Enter {self._enter}   Esc goes back"), classes="asking-keys")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_blink = False

    def on_input_submitted(self, event: Input.Submitted) -> None:
        numbers = read_numbers(event.value, self._most)
        if numbers is None:
            self.query_one("#complaint", Static).update(plain(self._complaint))
        else:
            self.give(numbers)

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.give(None)


def read_numbers(text: str, most: int) -> tuple[float, ...] | None:
    """One to ``most`` plain decimal numbers, blanks between; a sign is allowed, nothing else is."""
    words = text.split()
    if not 1 <= len(words) <= most:
        return None
    if not all(re.fullmatch(r"[+-]?[0-9]{1,9}(\.[0-9]{1,9})?", word) for word in words):
        return None
    return tuple(float(word) for word in words)


def read_turns(text: str) -> float | None:
    """Turns as a plain decimal number; blanks between thousands are allowed, nothing else is."""
    digits = text.replace(" ", "")
    whole, _, part = digits.partition(".")
    if not (whole.isascii() and whole.isdigit()) or (part and not part.isdigit()):
        return None
    if digits.endswith(".") or not digits.isascii():
        return None
    turns = float(digits)
    return turns if turns <= TURNS_MAX else None


class AskYes(Asking[bool]):
    """A question that only ``y`` answers with yes."""

    def __init__(self, question: str, yes: str) -> None:
        super().__init__()
        self._question = question
        self._yes = yes

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain(self._question), classes="asking-title")
            yield Static(plain(f"y {self._yes}   n goes back"), classes="asking-keys")

    def on_key(self, event: events.Key) -> None:
        event.stop()
        if event.key == "y":
            self.give(True)
        elif event.key in ("escape", "n"):
            self.give(False)


class AskCautions(Asking[bool]):
    """The cautions; only ``a`` accepts them, and only when the last one is in sight."""

    def __init__(self, *, board_stops: bool) -> None:
        super().__init__()
        self._board_stops = board_stops

    def compose(self) -> ComposeResult:
        with Vertical(id="cautions"):
            yield Static(plain("Before the first start"), classes="asking-title")
            with VerticalScroll(can_focus=False):
                for caution in cautions_for(board_stops=self._board_stops):
                    yield Static(plain(caution), classes="caution")
            keys = "a Read and understood   Esc back"
            yield KeysBelow(keys, "Down more", classes="asking-keys")

    def on_resize(self, event: events.Resize) -> None:
        cautions = self.query_one("#cautions")
        cautions.set_class(event.size.height < TIGHT_ROWS, "tight")
        cautions.set_class(event.size.height < CLOSE_ROWS, "close")

    def on_key(self, event: events.Key) -> None:
        event.stop()
        scroll = self.query_one(VerticalScroll)
        if event.key == "a" and scroll.is_vertical_scroll_end:
            self.give(True)
        elif event.key == "a":  # nobody has read what was not yet on the screen
            scroll.scroll_page_down(animate=False)
        elif event.key == "escape":
            self.give(False)
        elif event.key in ("up", "down"):
            (scroll.scroll_up if event.key == "up" else scroll.scroll_down)(animate=False)


class ShowFinding(Asking[None]):
    """What follows from a reading, where it is longer than the page has room for."""

    def __init__(self, finding: str) -> None:
        super().__init__()
        self._finding = finding

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain("What follows from the reading"), classes="asking-title")
            yield Static(plain(self._finding))
            yield Static(plain("Enter or Esc goes back"), classes="asking-keys")

    def on_key(self, event: events.Key) -> None:
        event.stop()
        if event.key in ("escape", "enter"):
            self.give(None)


class ShowRecord(Asking[None]):
    """The record of one coil, to read."""

    def __init__(self, record: str) -> None:
        super().__init__()
        self._record = record

    def compose(self) -> ComposeResult:
        with Vertical(id="record"):
            with VerticalScroll():
                yield Static(plain(self._record))
            yield KeysBelow("Esc goes back", "Up, Down more", classes="asking-keys")

    def on_key(self, event: events.Key) -> None:
        if event.key in ("escape", "q", "enter"):
            event.stop()
            self.give(None)
