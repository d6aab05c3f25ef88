"""Small forms of the shelf: a line to type, one of several to choose, a text to read.

Each gives its answer back to whoever opened it; Escape goes back without one. ``Dialogue`` lets a screen ask
one thing after another and tells an error in words, in the line at its top.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Coroutine, Sequence
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from winder.errors import WinderError
from winder.screens.face import BRIGHT, GROUND, QUIET, TEXT
from winder.screens.keys_below import KeysBelow
from winder.screens.plain import plain

LINE_SIGNS_MAX = 400
# Lists look the same wherever one is chosen from.
LIST_CSS = f"""
    OptionList, OptionList:focus {{
        background-tint: {GROUND} 0%;
        border: none; background: {GROUND}; color: {TEXT}; padding: 0;
        scrollbar-size-vertical: 1; scrollbar-color: {QUIET}; scrollbar-background: {GROUND};
    }}
    OptionList {{ text-wrap: nowrap; text-overflow: clip; }}
    OptionList > .option-list--option {{ padding: 0 1; }}
    OptionList > .option-list--option-highlighted {{
        background: {GROUND}; color: {BRIGHT}; text-style: bold;
    }}
    OptionList:focus > .option-list--option-highlighted {{
        background: {TEXT}; color: {GROUND}; text-style: bold;
    }}
"""


def flowed(keys: Sequence[str], columns: int) -> list[str]:
    """Keys with what they do, two blanks apart, in rows: no key is parted from its words."""
    rows: list[str] = []
    for key in keys:
        longer = f"{rows[-1]}  {key}" if rows else key
        if rows and len(longer) <= columns:
            rows[-1] = longer
        else:
            rows.append(key)
    return rows


class KeyRows(Static):
    """The bottom lines of a screen, from a text whose keys stand two blanks apart, as wide as there is room."""

    def __init__(self, keys: str, *, id: str) -> None:
        super().__init__(plain(keys), id=id)
        self._keys = [key for key in re.split(r" {2,}|\n", keys) if key]

    def on_resize(self, event: events.Resize) -> None:
        self.update(plain("\n".join(flowed(self._keys, event.size.width))))


class AskLine(ModalScreen[str | None]):
    """One line. ``may_be_empty``: an empty one is an answer too."""

    CSS = "AskLine { align: center bottom; background: transparent; }"

    def __init__(
        self, title: str, said: str = "", *, draft: str = "", may_be_empty: bool = False
    ) -> None:
        super().__init__()
        self._title, self._said, self._draft = title, said, draft
        self._may_be_empty = may_be_empty

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain(self._title), classes="asking-title")
            if self._said:
                yield Static(plain(self._said))
            yield Input(value=self._draft, max_length=LINE_SIGNS_MAX)
            yield Static(plain("Enter takes it   Esc goes back"), classes="asking-keys")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_blink = False

    def on_input_submitted(self, event: Input.Submitted) -> None:
        text = event.value.strip()
        self.dismiss(text if text or self._may_be_empty else None)

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.dismiss(None)


class AskChoice(ModalScreen[int | None]):
    """One of several; the answer is its place."""

    CSS = f"""
    AskChoice {{ align: center bottom; background: transparent; }}
    AskChoice OptionList {{ height: auto; max-height: 12; margin-top: 1; }}
    {LIST_CSS}
    """

    def __init__(self, title: str, choices: Sequence[str]) -> None:
        super().__init__()
        self._title, self._choices = title, choices

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain(self._title), classes="asking-title")
            yield OptionList(*(Option(plain(each)) for each in self._choices))
            yield Static(plain("Enter takes it   Esc goes back"), classes="asking-keys")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(event.option_index)

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.dismiss(None)


class ShowText(ModalScreen[None]):
    """A text that fills the screen, as wide as a terminal of 80 columns prints it."""

    CSS = f"""
    ShowText VerticalScroll {{ height: 1fr; background: {GROUND}; scrollbar-size: 0 0; }}
    ShowText #keys {{ height: 1; text-style: bold; color: {BRIGHT}; }}
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self._text = text

    def compose(self) -> ComposeResult:
        with VerticalScroll():
            yield Static(plain(self._text))
        yield KeysBelow("Esc goes back", "Up, Down, PgUp, PgDn more", id="keys")

    def on_key(self, event: events.Key) -> None:
        if event.key in ("escape", "q", "enter"):
            event.stop()
            self.dismiss(None)


class Dialogue(Screen[Any]):
    """A screen that asks one thing after another, with a line ``#told`` for what comes of it.

    ``KEYS`` says what each key does, by the toolkit's name of it; ``TOPIC`` what people ask there.
    """

    KEYS: ClassVar[dict[str, str]] = {}
    TOPIC: ClassVar[str] = ""

    def say(self, words: Sequence[str]) -> str:
        """What a command prints. Raises ``WinderError``."""
        raise NotImplementedError

    def begin(self, asking: Coroutine[Any, Any, None]) -> None:
        """Let a row of questions run; an error ends it and is told."""

        async def run() -> None:
            try:
                await asking
            except WinderError as error:
                self.tell(str(error))

        self.run_worker(run(), exclusive=True)

    def tell(self, text: str) -> None:
        told = self.query_one("#told", Static)
        told.update(plain(text))
        told.display = bool(text)

    async def line(self, title: str, said: str = "", **more: Any) -> str | None:
        return await self.app.push_screen_wait(AskLine(title, said, **more))

    async def choice(self, title: str, choices: Sequence[str]) -> int | None:
        return await self.app.push_screen_wait(AskChoice(title, choices))

    async def show(self, *words: str) -> None:
        """What a command prints: a line or two at the top of the screen, more on a page of its own."""
        text = self.say(words)
        if text.count("\n") < 2 and all(
            len(line) < self.size.width - 8 for line in text.split("\n")
        ):
            self.tell(text)
        else:
            self.tell("")
            await self.app.push_screen_wait(ShowText(text))


Asking = Callable[[], Coroutine[Any, Any, None]]
