"""What the journal and the lines say of a status: what is new in it, and that the spindle came to rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from firmware_protocol.messages import Reason, State, Status, Trip

from .board import IN_MOTION
from .model import Asked, Intent, Phase, Reading, TurnsOff
from .wording import reason_words

if TYPE_CHECKING:
    from .session import WindSession

UNITS = {
    Intent.SETTLE_COUNT: "at {:g} turns",
    Intent.SET_TENSION: "{:g} cN",
    Intent.STEP_GUIDE: "{:+g} mm",
    Intent.TAKE_OFF: "{:g} turns",
}


def tell_intent(session: WindSession, asked: Asked) -> None:
    """What a person asked for; committed before anything of it is sent."""
    value = asked.value
    facts = {"intent": asked.intent.value, "by": asked.by}
    if asked.intent is Intent.NOTE:
        session.course.tell("note", f"note: {str(value).strip()}", **facts)
        return
    who = "you" if asked.by == "operator" else asked.by
    words = f"{who} asked: {asked.intent.value}"
    if isinstance(value, float) and asked.intent in UNITS:
        words += f" {UNITS[asked.intent].format(value)}"
    elif isinstance(value, TurnsOff):
        words += f" {value.turns:g} turns"
    elif isinstance(value, Reading):
        words += f" {value.text}"
    elif value is not None:
        words += f" {getattr(value, 'value', value)}"
    session.course.tell("intent", words, **facts)


def tell_changes(session: WindSession, status: Status, before: Status | None) -> None:
    """Events by what changed between two statuses of one wind."""
    course = session.course
    tripped = status.state == State.TRIPPED and course.board.opened
    if tripped and status.trip == Trip.WIRE_LOST:
        session.wire.tripped(before, status)
    if tripped:
        session.watch.look_at_trip(status, before)
    if before is None:
        return
    if status.unattributed != before.unattributed and (course.board.motor or course.sense):
        course.tell("doubt", f"edges while nothing drove: {course.words()}")
    if status.implausible != before.implausible:
        course.tell("doubt", f"edges came too soon, or pulses were too short: {course.words()}")
    slows = status.state == State.SLOWING and course.phase is not Phase.SETTING_UP
    if slows and status.state != before.state:
        reason = int(status.reason)
        course.tell("slowing", f"slowing: {reason_words(reason)}", reason=reason)
    known = status.leg < len(course.preparation.loaded)
    if status.leg != before.leg and known and status.state in IN_MOTION:
        name = course.preparation.loaded[status.leg].leg.name
        course.tell("leg", f"leg {status.leg + 1}: {name}", leg=status.leg)


def tell_rest(session: WindSession, status: Status) -> None:
    reason = int(status.reason)
    here = session.course.plan.pause_at(session.course.turns)
    said = f", for: {here}" if here and reason == Reason.LEG_PAUSE else ""
    text = f"at rest ({reason_words(reason)}{said}); {session.course.words()}"
    course = session.course
    facts = {} if session.set_up.wire_open or session.set_up.stepped else course.guide_facts()
    course.tell("at rest", text, reason=reason, **facts)


def tell_trip(session: WindSession, trip: int) -> None:
    text = f"trip: {session.set_up.home.trip_words(trip)[0]}; {session.course.words()}"
    session.course.tell("trip", text, trip=int(trip))
