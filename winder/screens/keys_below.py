"""The keys under a text that may be longer than the screen."""

from __future__ import annotations

from typing import Any

from textual.containers import VerticalScroll
from textual.widgets import Static

from winder.screens.plain import plain


class KeysBelow(Static):
    """``keys``, and those that move the text (``moves``) only while some of it is out of sight."""

    def __init__(self, keys: str, moves: str, **named: Any) -> None:
        super().__init__(plain(keys), **named)
        self._keys, self._moves = keys, moves

    def on_mount(self) -> None:
        text = self.screen.query_one(VerticalScroll)
        self.watch(text, "show_vertical_scrollbar", self._tell)

    def _tell(self, longer: bool) -> None:
        self.update(plain(f"{self._keys}   {self._moves}" if longer else self._keys))
