"""Where a wind is written down, and how long its writing may take.

A disk may hang: a memory card tidies itself up for a second, another program writes much. Where a board lives in real time,
lines are committed in a thread of their own, so that keys, stops and the line to the board never wait for them.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Sequence
from typing import Protocol

from firmware_protocol.records import dataclass
from winder.errors import WinderError
from winder.shelf import Logbook
from winder.wind.deeds import Says
from winder.wind.model import SessionEvent

WAIT_S = 5.0  # longest wait for the disk where nothing moves; then it is as good as lost


class Journal(Protocol):
    """``write`` and ``say_for_other`` hand something over, ``number`` counts what was; all may raise ``WinderError``."""

    @property
    def number(self) -> int:
        """Of what was handed over last."""

    def write(self, events: Sequence[SessionEvent]) -> None: ...

    def say_for_other(self, said: Says) -> None:
        """The last word of a wind of another coil, for that coil."""

    def kept(self) -> int:
        """The number up to which all is on the disk."""

    def wait(self) -> None:
        """Until all is on the disk."""

    def close(self) -> None:
        """All is on the disk when it returns, and nothing more is handed over."""


@dataclass(frozen=True, slots=True)
class RunJournal:
    """The journal of one run: on the disk as soon as it is written."""

    logbook: Logbook
    run_id: int
    number: int = 0

    def write(self, events: Sequence[SessionEvent]) -> None:
        self.logbook.write(self.run_id, events)

    def say_for_other(self, said: Says) -> None:
        self.logbook.say_for_other(said)

    def kept(self) -> int:
        return self.number

    def wait(self) -> None: ...

    def close(self) -> None: ...

    def itself(self) -> RunJournal:
        return self


class Gathered:
    """The journal of a rehearsal, which nobody reads while anything moves: entered where it rests."""

    number = 0  # no line waits for a disk

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self._events: list[SessionEvent] = []

    def write(self, events: Sequence[SessionEvent]) -> None:
        self._events += events

    def say_for_other(self, said: Says) -> None:
        self.wait()
        self._journal.say_for_other(said)

    def kept(self) -> int:
        return self.number

    def wait(self) -> None:
        events, self._events = self._events, []
        self._journal.write(events)

    def close(self) -> None:
        self.wait()


class WrittenBehind:
    """A journal written in a thread of its own, in order; what piles up while the disk hangs is one commit."""

    def __init__(self, journal: Journal) -> None:
        self.number = 0
        self._journal = journal
        self._kept = 0
        self._news = threading.Condition()
        self._trouble: WinderError | None = None
        self._todo: queue.SimpleQueue[Sequence[SessionEvent] | Says | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._live, name="journal", daemon=True)
        self._thread.start()

    def write(self, events: Sequence[SessionEvent]) -> None:
        self._hand_over(events)

    def say_for_other(self, said: Says) -> None:
        self._hand_over(said)

    def kept(self) -> int:
        if self._trouble is not None:
            raise self._trouble
        return self._kept

    def wait(self) -> None:
        with self._news:
            done = self._news.wait_for(self._all_kept, WAIT_S)
        if not done:
            raise WinderError(
                f"the disk has not taken the last lines for {WAIT_S:.0f} s",
                where="logbook",
                remedy="look at the disk; then see what is on the shelf",
            )
        self.kept()

    def close(self) -> None:
        self.wait()
        self._todo.put(None)
        self._thread.join(WAIT_S)

    def _all_kept(self) -> bool:
        return self._trouble is not None or self._kept == self.number

    def _hand_over(self, what: Sequence[SessionEvent] | Says) -> None:
        self.kept()
        self.number += 1
        self._todo.put(what)

    def _live(self) -> None:
        waiting: list[Sequence[SessionEvent] | Says | None] = []
        while None not in waiting and self._trouble is None:
            waiting = [self._todo.get()]
            while not self._todo.empty():
                waiting.append(self._todo.get())
            trouble = self._trouble_of(waiting)
            with self._news:
                self._trouble = trouble
                self._kept += 0 if trouble else sum(what is not None for what in waiting)
                self._news.notify_all()

    def _trouble_of(
        self, waiting: Sequence[Sequence[SessionEvent] | Says | None]
    ) -> WinderError | None:
        try:
            self._write(waiting)
        except WinderError as trouble:
            return trouble
        except Exception as fault:  # no line may be lost without a word
            return WinderError(
                f"the logbook could not be written: {fault!r}",
                where="logbook",
                remedy="see what is on the shelf",
            )
        return None

    def _write(self, waiting: Sequence[Sequence[SessionEvent] | Says | None]) -> None:
        events: list[SessionEvent] = []
        for what in waiting:
            if isinstance(what, Says):
                self._journal.write(events)
                events = []
                self._journal.say_for_other(what)
            elif what is not None:
                events += what
        self._journal.write(events)
