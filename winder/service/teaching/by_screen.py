"""A lesson in a thread of its own, for a screen that pulls what it shows and sends answers.

What moves is stopped where the screen's own tick is older than ``SCREEN_AGE_S_MAX``: a hung screen must not keep a
motor alive behind a dead stop key.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import replace

from firmware_protocol.messages import Status
from firmware_protocol.records import dataclass
from firmware_protocol.seam import Clock
from winder.clock import NS_PER_S, SystemClock

from .dialogue import Person, Question, Step

SCREEN_AGE_S_MAX = 1.0
LOOK_S = 0.1  # how long a leave may wait for a lesson that waits for an answer
LEAVE = "leave"


@dataclass(frozen=True, slots=True)
class LessonView:
    """A moment of it. ``told``: what was said since the step began; ``status``: the newest, only while it moves."""

    step: Step = Step.NAME
    past: tuple[Step, ...] = ()
    coming: tuple[Step, ...] = ()
    told: tuple[str, ...] = ()
    question: Question | None = None
    status: Status | None = None
    ended: str = ""  # what became of it, once the file is written


class LessonRun:
    """``teach`` is given the person to ask; it returns what became of it. All else may be called from any thread."""

    def __init__(self, teach: Callable[[Person], str], clock: Clock | None = None) -> None:
        self._teach = teach
        self._answers: queue.Queue[tuple[Question, str]] = queue.Queue()
        self._stop, self._leave = threading.Event(), threading.Event()
        self._clock: Clock = clock or SystemClock()
        self._screen_seen_ns = self._clock.now_ns()
        self._view = LessonView()
        self.trouble: BaseException | None = None
        self._thread = threading.Thread(target=self._live, name="lesson", daemon=True)
        self._thread.start()

    # --- the screen's side ----------------------------------------------------------------------

    @property
    def view(self) -> LessonView:
        return self._view

    @property
    def finished(self) -> bool:
        return not self._thread.is_alive()

    def answer(self, question: Question, text: str) -> None:
        """To the question that was shown; dropped where another one stands by now."""
        self._answers.put((question, text))

    def stop(self) -> None:
        """What moves."""
        self._stop.set()

    def leave(self) -> None:
        """Stops what moves and ends the lesson; nothing is written."""
        self._leave.set()

    def screen_is_alive(self) -> None:
        self._screen_seen_ns = self._clock.now_ns()

    def close(self, wait_s: float) -> None:
        self.leave()
        self._thread.join(wait_s)

    # --- the lesson's side: a Person ------------------------------------------------------------

    def begin(self, step: Step, coming: tuple[Step, ...]) -> None:
        before = self._view
        past = (*before.past, before.step) if before.step is not step else before.past
        self._view = LessonView(step, past, coming)

    def tell(self, line: str) -> None:
        self._view = replace(self._view, told=(*self._view.told, line))

    def ask(self, question: Question) -> str:
        question = replace(
            question
        )  # the same words may be asked twice; an answer is to one of them
        self._view = replace(self._view, question=question, status=None)
        try:
            while not self._leave.is_set():
                try:
                    answered, text = self._answers.get(timeout=LOOK_S)
                except queue.Empty:
                    continue
                if answered is question:
                    return text
            return LEAVE
        finally:
            self._view = replace(self._view, question=None)

    def watch(self, status: Status | None) -> bool:
        self._view = replace(self._view, status=status)
        if status is None:
            self._stop.clear()
            return True
        if self._clock.now_ns() - self._screen_seen_ns > SCREEN_AGE_S_MAX * NS_PER_S:
            self.tell("The screen hung for a second, so it was stopped.")
            return False
        return not (self._stop.is_set() or self._leave.is_set())

    def _live(self) -> None:
        try:
            ended = self._teach(self)
            self._view = replace(self._view, ended=ended)
        except Exception as trouble:  # told on the screen's own thread
            self.trouble = trouble
        finally:
            self._view = replace(self._view, question=None, status=None)
