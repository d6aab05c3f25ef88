"""A disk that has its own time: the host goes on while it writes, and what it has not written dies with the host."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from functools import partial

from firmware_protocol.seam import Clock
from winder.clock import NS_PER_S
from winder.service.journals import RunJournal
from winder.wind.deeds import Says
from winder.wind.model import SessionEvent

WRITING_S = 0.03  # an ordinary commit


class LateDisk:
    """``hang`` lets the next writing end so much later."""

    def __init__(self, clock: Clock, be_away: Callable[[float], None]) -> None:
        self.clock = clock
        self.be_away = be_away  # the host does nothing for so many seconds
        self._until_ns = 0

    def hang(self, seconds: float) -> None:
        self._until_ns = self.clock.now_ns() + round(seconds * NS_PER_S)

    def done_ns(self) -> int:
        """When what is begun to be written now will be there."""
        return max(self.clock.now_ns() + round(WRITING_S * NS_PER_S), self._until_ns)

    def keeps(self, journal: RunJournal) -> LateJournal:
        return LateJournal(journal, self)


class LateJournal:
    """One writing at a time: what is handed over meanwhile is the next one."""

    def __init__(self, journal: RunJournal, disk: LateDisk) -> None:
        self.number = 0
        self._journal, self._disk = journal, disk
        self._kept = 0
        self._waiting: deque[partial[None]] = deque()
        self._writing: tuple[int, list[partial[None]]] | None = None  # done at, and what

    def write(self, events: Sequence[SessionEvent]) -> None:
        self._hand_over(partial(self._journal.write, events))

    def say_for_other(self, said: Says) -> None:
        self._hand_over(partial(self._journal.say_for_other, said))

    def kept(self) -> int:
        if self._writing is not None and self._disk.clock.now_ns() >= self._writing[0]:
            self._write(self._writing[1])
            self._writing = None
        if self._writing is None and self._waiting:
            self._writing = self._disk.done_ns(), list(self._waiting)
            self._waiting.clear()
        return self._kept

    def wait(self) -> None:
        while self.kept() < self.number:
            done_ns = self._writing[0] if self._writing is not None else 0
            self._disk.be_away(max(0, done_ns - self._disk.clock.now_ns() + 1) / NS_PER_S)

    def close(self) -> None:
        self.wait()

    def _hand_over(self, what: partial[None]) -> None:
        self.number += 1
        self._waiting.append(what)

    def _write(self, whats: list[partial[None]]) -> None:
        for what in whats:
            what()
            self._kept += 1
