"""Events on their way to the journal, and the newest of them as lines for the screen."""

from __future__ import annotations

from collections import deque
from typing import Any

from .events import KINDS, truth_facts
from .model import CountTruth, SessionEvent

LINES_MAX = 50


class Diary:
    """Collects events until they are taken; counts are for the journal, not for the lines."""

    def __init__(self) -> None:
        self._events: list[SessionEvent] = []
        self._lines: deque[str] = deque(maxlen=LINES_MAX)
        self._shown: tuple[str, ...] | None = ()

    def tell(
        self,
        kind: str,
        now_ns: int,
        text: str,
        *,
        count: int | None = None,
        truth: CountTruth | None = None,
        **facts: Any,
    ) -> None:
        assert kind in KINDS
        told = tuple(facts.items())
        if truth is not None:
            told += truth_facts(truth)
        self._events.append(SessionEvent(kind, now_ns, text, count, told))
        if kind != "count":
            self._lines.append(text)
            self._shown = None

    def take(self) -> list[SessionEvent]:
        events, self._events = self._events, []
        return events

    def lines(self) -> tuple[str, ...]:
        if self._shown is None:
            self._shown = tuple(self._lines)
        return self._shown
