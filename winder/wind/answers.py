"""Answers to our commands: what is done, refused, or was overtaken by a stop.

A refusal is told in words and leads nowhere by itself: a refused start leaves the wind where it was,
for a person to ask again. Only a command that moves nothing is sent once more when it was stale.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from firmware_protocol.far import TraverseHome
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
    State,
    TraverseMark,
    Verdict,
)

from .commands import LEADS_GUIDE, STARTS
from .model import How, Phase
from .seen import Seen, conclude
from .wording import trip_words, verdict_words

if TYPE_CHECKING:
    from .session import WindSession


def answered(session: WindSession, heard: Answered) -> None:
    """The board answered a command."""
    course, answer = session.course, heard.answer
    command = course.commands.answered(heard.command)
    if command is None or not isinstance(answer, Answer):
        return
    course.board.newer_revision(answer.revision)
    if answer.verdict == Verdict.DONE:
        _done(session, command)
    elif answer.verdict != Verdict.STALE or not course.commands.again_later(command):
        _refused(session, command, answer)
    course.send_next()


def _done(session: WindSession, command: Any) -> None:
    course, kind = session.course, type(command)
    if kind is OpenWind:
        session.hearing.opened_now()
    elif kind in LEADS_GUIDE:
        session.set_up.guide_leaves(home=kind is TraverseHome)
    elif kind is TraverseMark:
        session.set_up.marked(command)
    elif kind is PlanCommit or kind is SetTarget:
        course.in_force()
        legs, target = len(course.preparation.loaded), course.preparation.target_count
        course.tell("plan", "the plan is loaded", legs=legs, target=target)
    elif kind is ClearTrip:
        what = trip_words(command.trip)[0]
        course.tell("cleared", f"trip cleared: {what}", trip=int(command.trip))


def _refused(session: WindSession, command: Any, answer: Answer) -> None:
    course, kind = session.course, type(command)
    text = verdict_words(command, answer.verdict)
    facts = {"command": kind.__name__, "verdict": int(answer.verdict), "detail": answer.detail}
    course.tell("refused", text, **facts)
    if kind in LEADS_GUIDE or kind is TraverseMark:
        session.set_up.placing_failed("the board refused it")
    if kind is Move:
        session.wire.unwinding = False
    elif kind in STARTS or course.commands.drop_start():
        if kind is Pace:
            session.motion.pace_refused()
        session.motion.asked = session.motion.by_pedal = False
        seen = conclude(session, course.board.status) if course.board.status is not None else None
        if seen is not None:
            session.go(seen)
    elif kind is Pace:
        session.motion.pace_refused()
    elif kind is CloseWind and session.ending.closing:
        done, session.ending.closing = session.ending.closing, None
        if done is How.COMPLETE:
            session.finish(How.COMPLETE)
    elif kind is not ClearTrip:
        course.commands.clear()
        tripped = course.board.status is not None and course.board.status.state == State.TRIPPED
        if not tripped:
            session.go(Seen.REFUSED)
    course.advice = text


def withdrawn(session: WindSession, command: Any) -> None:
    """A stop overtook a command of ours; what was only being prepared is prepared again."""
    course, kind = session.course, type(command)
    if kind in LEADS_GUIDE or kind is TraverseMark:
        session.set_up.placing_failed("a stop came first")
    if kind in LEADS_GUIDE:
        course.tell("refused", "a stop came first; move the guide again")
    elif kind is Move:
        course.tell("refused", "a stop came before turning back; ask again")
    elif kind in STARTS:
        session.motion.asked = session.motion.by_pedal = (
            False  # the next status says where the wind stands
        )
        course.tell("refused", "a stop came before the start; start again")
    elif kind is Pace:
        session.motion.pace_sent = 0
        session.motion.asked = session.motion.asked and not course.commands.drop_start()
        session.motion.by_pedal = session.motion.by_pedal and session.motion.asked
    elif kind is CloseWind and session.ending.closing is How.COMPLETE:
        session.ending.close(How.COMPLETE)
    elif kind is CloseWind:
        session.ending.closing = None
    elif command is not None and course.phase is Phase.PREPARING:
        course.commands.clear()
