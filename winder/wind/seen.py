"""What a status, or its absence, means for the phase: the happenings beside a person's intents."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

from firmware_protocol.messages import Move, Start, State, Status

from .board import IN_MOTION, stands
from .model import Phase

if TYPE_CHECKING:
    from .session import WindSession


class Seen(enum.Enum):
    """What the session concludes from messages and time."""

    __hash__ = object.__hash__  # by identity: it is looked up in tables at every status

    WELCOMED = "the board is known and fit for the plan"
    UNFIT = "the board cannot do this plan"
    UNREACHED = "no board, another version, or held by another host"
    UNSET = "the set-up is not done"
    UNOPENED = "our wind is not open yet"
    STILL = "our wind is open, no plan loaded"
    ARMED = "armed"
    WINDING = "winding as asked"
    SLOWING = "slowing"
    PAUSED = "at rest within the wind"
    PEDAL = "at rest, and the armed pedal may start it"
    COMPLETE = "at rest at the end, within the target's turn, and the count is sure"
    BEYOND = "at rest at the end, with turns too many or a count in doubt"
    TRIPPED = "tripped"
    CLOSED = "the wind is closed"
    REFUSED = "the preparation was refused"
    DISOBEYED = "the board does what it was not told"
    SILENT = "nothing heard, or the link is gone"
    REOPENED = "the port is open again"
    RESET = "the board was reset"
    TAKEN = "the board forgot us or has another wind"
    OTHER = "another board is at the port, or one that does not say which"
    GIVEN_UP = "not heard for too long"


STOOD_MS = 1000
_AT_REST = {State.PAUSED: Seen.PAUSED, State.ARMED: Seen.ARMED}


def conclude(session: WindSession, status: Status) -> Seen | None:
    """What a status means; None: nothing yet."""
    course, state = session.course, status.state
    if session.watch.alarm:
        return Seen.DISOBEYED
    if session.set_up.pending and not course.board.opened:
        return _setting_up(session, status)
    if status.wind != course.wind:
        if session.ending.closing:
            return Seen.CLOSED
        if course.board.opened:
            return Seen.TAKEN
        return Seen.TRIPPED if state == State.TRIPPED else Seen.UNOPENED
    if state == State.TRIPPED:
        return Seen.TRIPPED
    if not course.board.motor:
        return _by_counter(session, status)
    steps = session.set_up.stepping or course.commands.leads_guide
    if steps and state in (State.SETTING_UP, State.SLOWING):
        return None
    turns_back = session.wire.unwinding or course.commands.is_outstanding(Move)
    if turns_back and (
        state in (State.SETTING_UP, State.SLOWING) or course.commands.is_outstanding(Move)
    ):
        return None
    if state in IN_MOTION:
        return _in_motion(session, status)
    if course.commands.is_outstanding(Start):
        return None  # not yet
    prepared = course.preparation
    if prepared.nothing_left:
        return at_end(session)
    if not prepared.in_force or status.generation != prepared.generation:
        return Seen.STILL
    if state == State.COMPLETE:
        return at_end(session)
    if state in _AT_REST and session.motion.by_pedal:
        return Seen.PEDAL
    return _AT_REST.get(State(state), Seen.STILL)


def _in_motion(session: WindSession, status: Status) -> Seen:
    motion = session.motion
    if status.state == State.WINDING and motion.asked:
        return Seen.WINDING
    if status.state == State.SLOWING and not session.course.phase.waits:
        return Seen.SLOWING
    known = (
        motion.asked
        or motion.stopping
        or session.course.phase in (Phase.PREPARING, Phase.CONNECTING)
    )
    return Seen.SLOWING if known else Seen.DISOBEYED


def _setting_up(session: WindSession, status: Status) -> Seen | None:
    if status.state == State.TRIPPED:
        return Seen.TRIPPED
    if not session.course.board.motor or stands(status):
        return Seen.UNSET
    if session.set_up.stepping or session.course.commands.leads_guide:
        return None
    return Seen.SLOWING if session.motion.stopping else Seen.DISOBEYED


def at_end(session: WindSession) -> Seen:
    """The plan's end is reached. Only a sure count within the target's turn is complete."""
    course, left = session.course, session.readings.left_counts
    truth = course.truth
    if left is None or not truth.is_sharp:
        return Seen.BEYOND
    if left <= truth.low < left + course.per_turn:
        return Seen.COMPLETE
    if truth.low < left and course.count < course.preparation.target_count:
        course.preparation.in_force = False  # it stopped short: what is left is loaded anew
        return Seen.STILL
    return Seen.BEYOND


def _stood(session: WindSession, status: Status) -> bool:
    """A hand that lets go comes to rest slowly: no edge for a while."""
    passed_ms = (status.uptime_ms - session.course.board.edge_uptime_ms) & 0xFFFF_FFFF
    return passed_ms >= STOOD_MS


def _by_counter(session: WindSession, status: Status) -> Seen | None:
    """A board without a motor: whoever turns the spindle decides; we only watch the count."""
    course, asked = session.course, session.motion.asked
    if not course.preparation.in_force:
        return Seen.STILL
    if course.preparation.nothing_left or course.count >= course.preparation.target_count:
        if status.rate_mcps == 0 and _stood(session, status):
            return at_end(session)
        return Seen.WINDING if asked else None
    if course.phase is Phase.TAKING_OFF and status.rate_mcps != 0:
        return None
    if asked:
        return Seen.WINDING
    if status.rate_mcps != 0 and course.phase.moves:
        return None  # asked to stop, and the hand has not laid it down yet
    return Seen.PAUSED if course.count else Seen.ARMED
