"""A wind in a thread of its own, for a screen that pulls what it shows.

The screen reads ``view`` (one attribute, replaced whole) and enqueues intents; it never waits for
the wind. The sign of life that keeps the motor's lease is sent only while the screen's own tick is
younger than ``SCREEN_AGE_S_MAX``: a hung screen must not keep a motor alive behind a dead stop key.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

from winder.clock import NS_PER_S, SystemClock
from winder.errors import WinderError
from winder.service.wind import Wind
from winder.wind.model import Asked, Intent, Phase, WindView

SCREEN_AGE_S_MAX = 1.0
STEP_S = 0.02
STEP_MOVING_S = 0.005  # how long a stop key may wait for the link at most
VIEW_NS = NS_PER_S // 40  # a screen looks less often than that


class WindRun:
    """One wind under way; everything here may be called from any thread."""

    def __init__(self, wind: Wind, end: Callable[[], None]) -> None:
        self._wind = wind
        self._end = end  # closes link and logbook, in the wind's thread
        self._start_when_ready = False
        self._asked: queue.SimpleQueue[Asked] = queue.SimpleQueue()
        self._refusals: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._screen_clock = SystemClock()
        self._screen_seen_ns = self._screen_clock.now_ns()
        self._view = wind.view()
        self._leave = threading.Event()
        self._trouble: BaseException | None = None
        self._thread = threading.Thread(target=self._live, name="wind", daemon=True)
        self._thread.start()

    @property
    def view(self) -> WindView:
        return self._view

    @property
    def finished(self) -> bool:
        return not self._thread.is_alive()

    @property
    def trouble(self) -> BaseException | None:
        """What ended the thread early, for the edge to turn into words."""
        return self._trouble

    def ask(self, asked: Asked) -> None:
        self._asked.put(asked)

    def start_when_ready(self) -> None:
        """The person asked for the start on the command line, cautions read."""
        self.ask(Asked(Intent.ACCEPT_CAUTIONS, by="--start"))
        self._start_when_ready = True

    def screen_is_alive(self) -> None:
        self._screen_seen_ns = self._screen_clock.now_ns()

    def refusals(self) -> list[str]:
        """Why intents were not taken, since the last call."""
        found = []
        while not self._refusals.empty():
            found.append(self._refusals.get())
        return found

    def close(self, wait_s: float) -> None:
        """Stop if moving, commit the journal, join the thread; gives up after ``wait_s``."""
        self.ask(Asked(Intent.LEAVE))
        self._leave.set()
        self._thread.join(wait_s)

    def _live(self) -> None:
        view_ns = 0
        try:
            while not (self._wind.finished and self._leave.is_set()):
                while not self._asked.empty():
                    self._wind.ask(self._asked.get())
                if self._start_when_ready:
                    self._start_or_declare()
                self._wind.step(self._wait_s(), alive=self._screen_age_s() < SCREEN_AGE_S_MAX)
                for refusal in self._wind.refusals:
                    self._refusals.put(refusal)
                self._wind.refusals.clear()
                if self._screen_clock.now_ns() >= view_ns or self._wind.finished:
                    view_ns = self._screen_clock.now_ns() + VIEW_NS
                    self._view = self._wind.view()
            self._trouble = self._wind.journal_lost
        except Exception as trouble:
            self._trouble = trouble
        finally:
            self._finish()

    def _wait_s(self) -> float:
        session = self._wind.session
        return STEP_MOVING_S if session.motion.may_move or session.phase.moves else STEP_S

    def _start_or_declare(self) -> None:
        """``--start`` says that the machine is set up, then starts once."""
        phase = self._wind.session.phase
        if phase is Phase.SETTING_UP and Intent.DECLARE_SET_UP in self._wind.session.may():
            self._wind.ask(Asked(Intent.DECLARE_SET_UP, by="--start"))
        elif phase in (Phase.READY, Phase.PAUSED):  # paused: the wind was still open on the board
            self._start_when_ready = False
            begin = Intent.START if phase is Phase.READY else Intent.CONTINUE
            self._wind.ask(Asked(begin, by="--start"))

    def _finish(self) -> None:
        try:
            self._end()
        except WinderError as trouble:
            self._trouble = self._trouble or trouble

    def _screen_age_s(self) -> float:
        return (self._screen_clock.now_ns() - self._screen_seen_ns) / NS_PER_S
