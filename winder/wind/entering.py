"""What entering a phase asks for: the journal is told, what nobody asked for is stopped, what is over is closed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .ending import GIVE_UP_NS, LAST_WORD_NS
from .model import How, Phase
from .seen import Seen
from .telling import tell_trip
from .watch import OFF, UNASKED

if TYPE_CHECKING:
    from .phases import Happening
    from .session import WindSession

HOME_ANEW = "the guide's place is not known: begin again, and find its home first"


def enter(session: WindSession, before: Phase, happening: Happening) -> None:
    """The phase has changed."""
    course, phase = session.course, session.course.phase
    if before in (Phase.UNHEARD, Phase.CONNECTING) and phase not in (Phase.LOST, Phase.CONNECTING):
        session.ending.heard_again()
        if before is Phase.UNHEARD:
            course.tell("link", "the board answers again")
    if phase.waits or phase is Phase.PREPARING:
        session.motion.asked = session.motion.by_pedal = False
    what = _ENTER.get(phase)
    if what is not None:
        what(session, happening)


def _winding(session: WindSession, _: Happening) -> None:
    session.hearing.committed_ns = session.course.now_ns
    status = session.course.board.status
    session.course.tell("started", "winding", leg=0 if status is None else status.leg)


def _pedal(session: WindSession, happening: Happening) -> None:
    """At rest by the foot: the next press goes on."""
    if happening is Seen.PEDAL:
        session.motion.rest_by_pedal()


def _tripped(session: WindSession, _: Happening) -> None:
    course, status = session.course, session.course.board.status
    course.commands.clear()
    tell_trip(session, 0 if status is None else status.trip)


def _alarm(session: WindSession, _: Happening) -> None:
    """Stop, and say what is wrong; no sign of life is sent until a person has looked."""
    watch, course = session.watch, session.course
    watch.alarm = watch.alarm or UNASKED
    course.commands.clear()
    session.motion.stop()
    course.tell("alarm", f"{watch.alarm}: {OFF}; {course.words()}")


def _complete(session: WindSession, _: Happening) -> None:
    """At rest at the end: write it down, and close the wind so that nothing can start it."""
    course = session.course
    session.motion.asked = False
    session.readings.finding = ""  # it spoke of what was still to be done
    overrun = course.count - course.preparation.target_count
    course.tell("complete", f"complete; {course.words()}", overrun=overrun)
    session.ending.close(How.COMPLETE)
    session.ending.wait_until(course.now_ns + LAST_WORD_NS)


def _unheard(session: WindSession, _: Happening) -> None:
    """A motion that nobody sees is ended from here too, should the board still hear us."""
    course, motion = session.course, session.motion
    course.heard = False
    course.tell("link", f"no signal from the board; {course.words()}")
    course.commands.clear()
    session.ending.wait_until(course.now_ns + GIVE_UP_NS)
    if motion.may_move or motion.asked or session.set_up.stepping or session.wire.unwinding:
        motion.stop()


def _lost(session: WindSession, happening: Happening) -> None:
    course = session.course
    course.heard = False
    if session.set_up.home.under_way:
        session.set_up.give_up(str(happening.value))
        course.advice = HOME_ANEW
    if happening in (Seen.RESET, Seen.TAKEN):
        session.same_board.meet_again()
    if happening is Seen.TAKEN and course.board.opened:
        session.ending.wait_until(
            course.now_ns + LAST_WORD_NS
        )  # a last status says what became of it
        if session.motion.may_move:
            session.motion.stop()
        return
    if happening is Seen.RESET:
        session.hearing.look_at_kept()
        course.tell("doubt", f"the board was reset; {course.words()}")
    elif happening is Seen.GIVEN_UP and course.board.opened:
        course.tell("doubt", f"the wind was lost; {course.words()}")
    session.finish_lost()


def _ended(session: WindSession, _: Happening) -> None:
    session.finish(How.HERE)


_ENTER = {
    Phase.PEDAL: _pedal,
    Phase.WINDING: _winding,
    Phase.TRIPPED: _tripped,
    Phase.ALARM: _alarm,
    Phase.COMPLETE: _complete,
    Phase.UNHEARD: _unheard,
    Phase.LOST: _lost,
    Phase.ENDED: _ended,
}
