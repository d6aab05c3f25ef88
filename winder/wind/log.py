"""The event log: what is worth the journal, and the newest of it as lines for the screen.

Every event carries the deeds that changed the account since the one before, so the journal holds all that is needed to
make the same account again. A board's word that the next word of the same wind replaces is not kept twice, unless the
next would not follow the word that was kept before: a clock that leaps is still told step by step.
"""

from __future__ import annotations

from collections import deque
from typing import Any

from .deeds import Deed, Drives, Says, comes_after
from .events import KINDS
from .model import SessionEvent

LINES_MAX = 50


class EventLog:
    """Collects events until they are taken; counts are for the journal, not for the lines."""

    def __init__(self) -> None:
        self._events: list[SessionEvent] = []
        self._deeds: list[Deed] = []
        self._kept: Says | None = None  # the newest word in an event
        self.strangers: list[Says] = []
        self._lines: deque[str] = deque(maxlen=LINES_MAX)
        self._shown: tuple[str, ...] | None = ()

    def did(self, deed: Deed) -> None:
        """The account was changed; the next event keeps it."""
        last = self._deeds[-1] if self._deeds else None
        replaced = False
        if isinstance(deed, Says) and isinstance(last, Says):
            replaced = last.wind == deed.wind and self._follows_kept(deed)
        elif isinstance(deed, Drives) and isinstance(last, Drives):
            replaced = last.wind == deed.wind
        if replaced:
            self._deeds.pop()
        self._deeds.append(deed)

    def _follows_kept(self, deed: Says) -> bool:
        """Whether a word is believed behind the newest but one of its wind, which is kept in any case."""
        words = [said for said in self._deeds[:-1] if isinstance(said, Says)]
        kept = words[-1] if words else self._kept
        before_ms = kept.word.uptime_ms if kept is not None and kept.wind == deed.wind else -1
        return comes_after(deed.word.uptime_ms, before_ms)

    def tell(
        self, kind: str, now_ns: int, text: str, count: int | None, facts: dict[str, Any]
    ) -> None:
        assert kind in KINDS, kind
        deeds, self._deeds = tuple(self._deeds), []
        self._kept = next((said for said in reversed(deeds) if isinstance(said, Says)), self._kept)
        self._events.append(SessionEvent(kind, now_ns, text, count, facts, deeds))
        if kind != "count":
            self._lines.append(text)
            self._shown = None

    def other(self, said: Says) -> None:
        """The last word of a wind of another coil, for that coil's account."""
        self.strangers.append(said)

    def take(self) -> list[SessionEvent]:
        events, self._events = self._events, []
        return events

    def lines(self) -> tuple[str, ...]:
        if self._shown is None:
            self._shown = tuple(self._lines)
        return self._shown
