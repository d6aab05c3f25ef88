"""One line of the form: what is asked, what is typed or chosen, and beside it what is wrong with that."""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widgets import Input, Static

from winder.screens.form_fields import Entry
from winder.screens.plain import plain

SIGNS_MAX = 80


class Chooser(Static, can_focus=True):
    """One of a few words; Left, Right and space go through them."""

    class Chosen(Message):
        def __init__(self, word: str) -> None:
            super().__init__()
            self.word = word

    def __init__(self, options: tuple[str, ...], word: str) -> None:
        self.options, self.word = options, word
        super().__init__(plain(self._text()))

    def show(self, word: str) -> None:
        self.word = word
        self.update(plain(self._text()))

    def _text(self) -> str:
        return f"« {self.word.replace('_', ' ')} »"

    def on_key(self, event: events.Key) -> None:
        step = {"right": 1, "space": 1, "left": -1}.get(event.key)
        if step is None:
            return
        event.stop()
        place = self.options.index(self.word) if self.word in self.options else -1
        self.show(self.options[(place + step) % len(self.options)])
        self.post_message(self.Chosen(self.word))


class FormLine(Vertical):
    """``Changed`` is posted with every letter and every word chosen."""

    class Changed(Message):
        def __init__(self, line: FormLine, typed: str) -> None:
            super().__init__()
            self.line, self.typed = line, typed

    def __init__(self, entry: Entry, shown: str) -> None:
        super().__init__()
        self.entry = entry
        self.typed = shown
        self.wrong = ""

    def compose(self) -> ComposeResult:
        with Horizontal():
            yield Static(plain(self.entry.label), classes="label")
            if self.entry.options:
                yield Chooser(self.entry.options, self.typed)
            else:
                hint = "" if self.entry.needed else "may stay empty"
                field = Input(
                    value=self.typed, max_length=SIGNS_MAX, compact=True, placeholder=hint
                )
                field.cursor_blink = False
                yield field
        yield Static(plain(""), classes="wrong")

    def on_mount(self) -> None:
        self.complain(self.wrong)

    def complain(self, text: str) -> None:
        """What is wrong with this field; nothing: the line below it goes."""
        self.wrong = text
        for told in self.query(".wrong").results(Static):
            told.display = bool(text)
            told.update(plain(text))

    @property
    def asks(self) -> Input | Chooser:
        """What takes the focus."""
        return self.query_one(Chooser if self.entry.options else Input)  # type: ignore[return-value]

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        if event.value != self.typed:
            self.typed = event.value
            self.post_message(self.Changed(self, event.value))

    def on_chooser_chosen(self, event: Chooser.Chosen) -> None:
        event.stop()
        self.typed = event.word
        self.post_message(self.Changed(self, event.word))
