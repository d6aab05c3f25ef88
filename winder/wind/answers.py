"""Answers to our commands: what is done, refused, or was overtaken by a stop.

A refusal is told in words and leads nowhere by itself: a refused start leaves the wind where it was,
for a person to ask again. Only a command that moves nothing is sent once more when it was stale.
"""

from __future__ import annotations

from typing import Any

from firmware_protocol.heard import Answered
from firmware_protocol.messages import (
    Answer,
    ClearTrip,
    CloseWind,
    Move,
    OpenWind,
    Pace,
    PlanCommit,
    SetTarget,
    Start,
    State,
    TraverseMark,
    TraverseStep,
    Verdict,
)

from .beliefs import PACE_FULL
from .coil_orders import CoilOrders
from .model import Phase
from .table import Seen
from .wording import trip_words, verdict_words


class Answers(CoilOrders):
    """What became of the commands that ``Orders`` sent."""

    def _opened_now(self, now_ns: int) -> None:
        if not self.opened:
            self.opened = True
            self.status = None  # what it counts is another wind
            self._tell("opened", now_ns, "wind opened", wind=self.wind, boot=self.board.boot)

    def _hear_answer(self, heard: Answered, now_ns: int) -> None:
        command = self.errands.answered(heard.command)
        if command is None or not isinstance(heard.answer, Answer):
            return
        answer = heard.answer
        self.board.newer_revision(answer.revision)
        if answer.verdict == Verdict.DONE:
            self._done(command, now_ns)
        elif answer.verdict != Verdict.STALE or not self.errands.again_later(command):
            self._refused(command, answer, now_ns)
        self._send_next()

    def _done(self, command: Any, now_ns: int) -> None:
        kind = type(command)
        if kind is OpenWind:
            self._opened_now(now_ns)
        elif kind is TraverseMark:
            self._marked(command, now_ns)
        elif kind is PlanCommit or kind is SetTarget:
            self.preparation.in_force = True
            legs, target = len(self.preparation.loaded), self.preparation.target_count
            self._tell("plan", now_ns, "the plan is in force", legs=legs, target=target)
        elif kind is ClearTrip:
            what = trip_words(command.trip)[0]
            self._tell("cleared", now_ns, f"trip cleared: {what}", trip=int(command.trip))

    def _refused(self, command: Any, answer: Answer, now_ns: int) -> None:
        kind = type(command)
        text = verdict_words(command, answer.verdict)
        facts = {"command": kind.__name__, "verdict": int(answer.verdict), "detail": answer.detail}
        self._tell("refused", now_ns, text, **facts)
        if kind is TraverseStep:
            self.stepping = False
        if kind is Move:
            self.unwinding = False
        elif kind is Start:
            self.asked = False
            seen = self.seen_in(self.status) if self.status is not None else None
            if seen is not None:
                self._go(seen, now_ns)
        elif kind is Pace:
            self.pace_permille = self._pace_sent = PACE_FULL
        elif kind is CloseWind and self.closing:
            done, self.closing = self.closing, ""
            if done == "complete":
                self._finish("complete", now_ns)
        elif kind is not ClearTrip:
            self.errands.clear()
            tripped = self.status is not None and self.status.state == State.TRIPPED
            if not tripped:
                self._go(Seen.REFUSED, now_ns)
        self.advice = text

    def _withdrawn(self, command: Any, now_ns: int) -> None:
        """A stop overtook a command of ours; what was only being prepared is prepared again."""
        kind = type(command)
        if kind is TraverseStep:
            self._tell("refused", now_ns, "the step was overtaken by a stop; ask again")
        elif kind is Move:
            self._tell("refused", now_ns, "turning back was overtaken by a stop; ask again")
        elif kind is Start:
            self.asked = False  # the next status says where the wind stands
            self._tell("refused", now_ns, "the start was overtaken by a stop; ask again")
        elif kind is Pace:
            self._pace_sent = 0
        elif kind is CloseWind and self.closing == "complete":
            self._close("complete")
        elif kind is CloseWind:
            self.closing = ""
        elif command is not None and self.phase is Phase.PREPARING:
            self.errands.clear()
