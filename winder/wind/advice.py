"""The one sentence of a view: what happens next and when, or what to do."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from firmware_protocol.messages import Flag
from firmware_protocol.vocabulary import PedalFlag
from winder.files.digits import show_duration

from .guards import WRONG_WAY
from .homing import HANDS_OFF
from .model import How, Phase
from .truth import bounds_words, turns_words, words
from .wording import ADVICE, alarm_advice

if TYPE_CHECKING:
    from .schedule import Ahead
    from .session import WindSession


def advice_of(session: WindSession, ahead: Ahead | None) -> str:
    course, ending = session.course, session.ending
    if course.phase is Phase.LOST or ending.how is How.LEFT:
        first = (
            course.advice or "this wind is over" if course.phase is Phase.LOST else "left at rest"
        )
        go_on = ending.next_words or "begin a new wind with --continue and this coil's number"
        return f"{first}; to go on, see that the spindle has stopped, then: {go_on}"
    if course.advice:
        return course.advice
    if session.wire.unwinding:
        return "the spindle turns back slowly: take the wire up by hand"
    say = _ADVICE.get(course.phase)
    return say(session, ahead) if say is not None else ADVICE[course.phase]


def _set_up(session: WindSession, _: Ahead | None) -> str:
    if session.set_up.home.under_way:
        return HANDS_OFF
    first = next((line for line in session.set_up.lines() if not line.done), None)
    if not session.cautions_accepted:
        return "read and accept the cautions, then go through the list"
    if first is None:
        return "all done: load the plan; nothing moves until you start"
    return f"{first.what}: {first.said or 'say when it is done'}"


def _ready(session: WindSession, _: Ahead | None) -> str:
    course, status = session.course, session.course.board.status
    if not session.cautions_accepted:
        return "read and accept the cautions, then start"
    if not course.truth.is_sharp:
        return "set the count before you start, or the end is in doubt too"
    if status is not None and status.flags & Flag.GUARD_OPEN:
        return "the guard is open: close it, then start"
    if not course.board.motor:
        return "start, then turn the spindle by hand or drill; wear eye protection"
    return "hands clear, eye protection on, the hard-wired stop within reach: start"


def _pedal(session: WindSession, _: Ahead | None) -> str:
    """At rest, and a foot may start it."""
    said = session.motion.pedal
    if said & PedalFlag.PRESSED and not said & PedalFlag.RELEASE_SEEN:
        return "take your foot off the pedal first, then press it to wind; stop turns the pedal off"
    return "press the pedal to wind, let go to pause; stop turns the pedal off"


def _winding(session: WindSession, ahead: Ahead | None) -> str:
    course = session.course
    if not course.board.motor:
        pause = course.next_pause
        if pause is None:
            early = session.early_turns
            said = f"; the call to stop comes {early:.1f} turns early, as it ran on before"
            return (
                f"turn the spindle by hand or drill; the board is counting{said if early else ''}"
            )
        turns, why = pause
        return f"stop by hand in {turns - course.turns:.0f} turns{_for(why)}; the count is watched"
    leg, motion = course.loaded_leg, session.motion
    if motion.by_pedal:
        return _by_pedal(session, ahead)
    if leg is not None and motion.pace_now < motion.pace_permille:
        rpm = leg.leg.speed_rpm * motion.pace_permille / 1000
        return f"the first turns go slowly, then {rpm:.0f} rpm: watch the wire run"
    if ahead is None:
        return ADVICE[Phase.WINDING]
    left = max(0, ahead.stop_count - course.count) / course.per_turn
    pause = course.next_pause
    what = "complete" if ahead.stop_is == "end" else f"pauses{_for(pause[1] if pause else '')}"
    return f"{what} in {left:.0f} turns, about {show_duration(ahead.to_stop_s)}"


def _by_pedal(session: WindSession, ahead: Ahead | None) -> str:
    left = 0.0 if ahead is None else max(0, ahead.stop_count - session.course.count)
    turns = left / session.course.per_turn
    return f"winding while you press the pedal, {turns:.0f} turns to go; let go to pause"


def _taking_off(session: WindSession, _: Ahead | None) -> str:
    course, truth = session.course, session.course.truth
    off = session.wire.off_turns(session.readings.left_counts)
    if off is None:
        return "wound long: fix the finish lead, measure the coil and enter the ohms"
    if not truth.is_sharp:
        number = bounds_words(truth, course.per_turn)
        return f"{number} turns are on it: count them and set the count, or end here"
    turns = turns_words(round(abs(off) * course.per_turn), course.per_turn)
    if off < 0:
        return f"{turns} turns short; end here, or continue the coil in a new wind"
    if not course.board.motor and not course.sense:
        return f"{turns} turns past the target: take them off and say so, or end here"
    how = "by hand, or let the motor turn back" if course.board.motor else "turn back by hand"
    return f"{turns} turns to take off: {how}; they are counted. Or end here"


def _paused(session: WindSession, ahead: Ahead | None) -> str:
    course = session.course
    if session.motion.way.wrong:
        return WRONG_WAY
    if session.wire.broke_at is not None:
        at = f"the wire broke at about turn {session.wire.broke_at:.0f}"
        return f"{at}: take off the loose turns and say how many, then join it and say so"
    if not course.truth.is_sharp:
        return "set the count first, then continue or end here"
    here, readings = course.plan.pause_at(course.turns), session.readings
    if readings.offered_turns is not None:
        still = f"{here}; " if here and readings.read_at != course.turns else ""
        return f"{still}{readings.finding}. Wind to {readings.offered_turns} turns, or continue as planned"
    first = f"{here}, then continue" if here else "continue"
    pause, then = course.next_pause, ""
    if pause is not None:
        then = f"; the next pause is at turn {pause[0]}{_for(pause[1])}"
    if ahead is None:
        return f"{first}, or end here{then}"
    return f"{first}, or end here; about {show_duration(ahead.to_end_s)} of winding left{then}"


def _for(why: str) -> str:
    return f" ({why})" if why else ""


def _tripped(session: WindSession, _: Ahead | None) -> str:
    status = session.course.board.status
    return session.set_up.home.trip_words(0 if status is None else status.trip)[1]


def _alarm(session: WindSession, _: Ahead | None) -> str:
    return alarm_advice(session.watch.alarm)


def _over(session: WindSession, _: Ahead | None) -> str:
    return f"write down: {words(session.course.truth, session.course.per_turn)}"


def _unheard(session: WindSession, _: Ahead | None) -> str:
    if session.course.board.motor:
        return ADVICE[Phase.UNHEARD]
    return "stop turning: nothing is counting. Check the cable"


_ADVICE: dict[Phase, Callable[[WindSession, Ahead | None], str]] = {
    Phase.SETTING_UP: _set_up,
    Phase.READY: _ready,
    Phase.PEDAL: _pedal,
    Phase.WINDING: _winding,
    Phase.TAKING_OFF: _taking_off,
    Phase.PAUSED: _paused,
    Phase.TRIPPED: _tripped,
    Phase.ALARM: _alarm,
    Phase.COMPLETE: _over,
    Phase.ENDED: _over,
    Phase.UNHEARD: _unheard,
}
