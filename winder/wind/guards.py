"""Why an intent cannot be taken now, in one plain sentence; empty if it can.

The table (``phases.py``) names the guards of every intent. A *guard* looks at the wind alone, so that a screen can tell
what may be asked; a *fit* looks at the value that goes with the intent.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from firmware_protocol.wire import Group
from winder.plan.facing import Top

from .course import PACE_FULL
from .model import Asked, Intent, Item, Reading, TurnsOff, Value
from .motion import PACE_LEAST

if TYPE_CHECKING:
    from .session import WindSession

WRONG_WAY = "the spindle turned the wrong way: end here, look at the mounting and at 'plus' in the machine file, then start over"
TURNS_MAX = 10_000_000  # nobody winds more; a slip of the keys does
STEP_MM_MAX = 100.0  # what the protocol allows in one step
TENSION_CN_MAX = 5000.0  # far above any wire that this program has tables for
HOMES_FROM = 2  # version of the group TRAVERSE
SAY_HOW_FAR = "measure how far the left flange is from the limit switch; write switch_to_flange under [traverse] in the machine file"
NOT_ANSWERED = "the board has not answered yet; try again in a moment"
STOP_PENDING = "the board has not confirmed the stop yet; try again in a moment"


# --- guards ------------------------------------------------------------------------------------


def not_over(session: WindSession) -> str:
    """the run is not over"""
    return "this run is over" if session.course.finished else ""


def not_leaving(session: WindSession) -> str:
    """nobody is leaving"""
    return "already leaving; the spindle is stopping" if session.ending.leaving else ""


def cautions_read(session: WindSession) -> str:
    """the cautions are accepted"""
    return "" if session.cautions_accepted else "accept the cautions first"


def cautions_unread(session: WindSession) -> str:
    """the cautions are not accepted yet"""
    return "the cautions are accepted already" if session.cautions_accepted else ""


def stop_confirmed(session: WindSession) -> str:
    """no stop is under way"""
    return STOP_PENDING if session.motion.stopping else ""


def answered(session: WindSession) -> str:
    """no command is unanswered"""
    if session.ending.closing and not session.course.finished:
        return "the wind is being closed"
    return "" if session.course.commands.idle else NOT_ANSWERED


def in_force(session: WindSession) -> str:
    """the plan is loaded on the board"""
    if session.course.preparation.in_force:
        return ""
    return "the plan is not loaded yet; try again in a moment"


def right_way(session: WindSession) -> str:
    """the spindle did not turn the wrong way"""
    return WRONG_WAY if session.motion.way.wrong else ""


def not_turning_back(session: WindSession) -> str:
    """the motor is not turning back"""
    if session.wire.unwinding:
        return "the spindle is turning back; stop it or wait for its end"
    return ""


def wire_known_whole(session: WindSession) -> str:
    """no broken wire waits for an answer"""
    at = session.wire.broke_at
    if at is None:
        return ""
    return f"the wire broke at about turn {at:.0f}: take off the loose turns, join the wire and say so, or say that it is whole"


def wire_not_broken(session: WindSession) -> str:
    """no broken wire is recorded"""
    at = session.wire.broke_at
    return "" if at is None else f"that it broke at about turn {at:.0f} is on record"


def wire_broken(session: WindSession) -> str:
    """a broken wire is on record"""
    return "no broken wire is recorded" if session.wire.broke_at is None else ""


def rested_after_break(session: WindSession) -> str:
    """the spindle came to rest after the break"""
    if session.wire.broke_count is None:
        return ""
    return "the spindle is still coming to rest; wait for it"


def has_pedal(session: WindSession) -> str:
    """the machine and its board have a foot pedal"""
    board = session.course.board
    if not session.course.machine.pedal:
        return "this machine has no foot pedal: with one, write pedal = true under [spindle] in its file"
    speaks = board.welcome is not None and board.welcome.groups[Group.PEDAL - 1] > 0
    return "" if speaks else "this board has no foot pedal: use start and continue"


def has_motor(session: WindSession) -> str:
    """the machine has a motor"""
    if session.course.board.motor:
        return ""
    return "this machine has no motor: turn the spindle by hand"


def not_slowest(session: WindSession) -> str:
    """the pace can be slower"""
    return "this is the slowest pace" if session.motion.pace_permille <= PACE_LEAST else ""


def not_full_pace(session: WindSession) -> str:
    """the pace is below the plan's own"""
    if session.motion.pace_permille < PACE_FULL:
        return ""
    return "this is the plan's full speed"


def count_would_settle(session: WindSession) -> str:
    """an unmoved spindle would settle the count"""
    course = session.course
    if course.account.can_vouch_unmoved(course.wind if course.heard else 0):
        return ""
    return "the count does not depend on whether the spindle moved"


def something_offered(session: WindSession) -> str:
    """another target follows from a reading"""
    if session.readings.offered_turns is None:
        return "the readings suggest no other target"
    return ""


def at_rest(session: WindSession) -> str:
    """the spindle is seen at rest"""
    status = session.course.board.status
    stands = status is not None and session.course.board.rests(status) and not session.watch.frozen
    return (
        ""
        if stands
        else "the board does not see the spindle stopped; switch the motor's power off and look"
    )


def has_guide(session: WindSession) -> str:
    """the board moves a guide"""
    todo = session.set_up.list
    if todo is None or not todo.has_guide:
        return "this machine has no driven guide"
    return ""


def has_limit_switch(session: WindSession) -> str:
    """machine and board have the guide's limit switch, and it is told how far the left flange is from it"""
    machine, welcome = session.course.machine, session.course.board.welcome
    if not machine.limit_switch:
        return "this machine's guide has no limit switch: with one, write limit_switch = true under [traverse] in its file"
    if welcome is None or welcome.groups[Group.TRAVERSE - 1] < HOMES_FROM:
        return "this board knows of no limit switch: say so in 'winder bench teach'"
    if machine.switch_to_flange_m is None:
        return SAY_HOW_FAR
    return ""


def guide_stands(session: WindSession) -> str:
    """the guide has ended its last step"""
    if session.ending.leaving or session.motion.stopping:
        return STOP_PENDING
    if session.set_up.stepping or not session.course.commands.idle:
        return "the guide is still moving"
    return "" if session.course.board.status is not None else "no signal from the board yet"


def wire_on_record(session: WindSession) -> str:
    """it is on record where the wire is"""
    if session.set_up.wire_place() is not None:
        return ""
    return "nothing says where the wire is: touch the flanges, or put the guide at the left one"


def left_touched(session: WindSession) -> str:
    """the left flange was touched"""
    todo = session.set_up.list
    return "" if todo is not None and todo.left_touched else "touch the left flange first"


def guide_away(session: WindSession) -> str:
    """the guide is not at the start"""
    status = session.course.board.status
    away = status is not None and status.traverse_um != 0
    return "" if away else "the guide is there already"


def list_done(session: WindSession) -> str:
    """every item of the list is done"""
    left = session.set_up.open_items()
    return f"still to be done: {', '.join(left)}" if left else ""


def top_known(session: WindSession) -> str:
    """where the top faces is known"""
    todo = session.set_up.list
    if todo is None or todo.facing is not None:
        return ""
    return "first say where the coil's top faces: operator or chuck"


def set_up_answered(session: WindSession) -> str:
    """no step of the guide is under way"""
    idle = session.course.commands.idle and not session.set_up.stepping
    return "" if idle else NOT_ANSWERED


# --- fits --------------------------------------------------------------------------------------


def _number(value: Value, low: float, high: float) -> bool:
    return isinstance(value, float) and math.isfinite(value) and low <= value <= high


def fit(session: WindSession, asked: Asked) -> str:
    """Why what goes with the intent does not do."""
    intent, value = asked.intent, asked.value
    if intent is Intent.SETTLE_COUNT and not _number(value, 0, TURNS_MAX):
        return f"say how many turns are on the coil, 0 to {TURNS_MAX}"
    if intent is Intent.NOTE and not (isinstance(value, str) and value.strip()):
        return "say what to note"
    if intent is Intent.DECLARE_TOP and not isinstance(value, Top):
        return "say where the coil's top faces: operator or chuck"
    if intent is Intent.SET_TENSION and not _number(value, 0, TENSION_CN_MAX):
        return f"say the wire's tension in cN, at most {TENSION_CN_MAX:g}, or 0 for by feel"
    if intent is Intent.STEP_GUIDE:
        size = abs(value) if isinstance(value, float) else 0.0
        if not _number(size, 0.001, STEP_MM_MAX):
            return f"say how far to move the guide, 0.001 to {STEP_MM_MAX:g} mm, below zero to the left"
    if intent is Intent.CONFIRM:
        return _confirm_fit(session, value)
    if intent is Intent.TAKE_OFF:
        return _off_fit(session, value)
    if intent is Intent.TURNS_OFF:
        return _turns_off_fit(session, value)
    if intent is Intent.MEASURED:
        return _reading_fit(session, value)
    return ""


def _confirm_fit(session: WindSession, value: Value) -> str:
    todo, welcome = session.set_up.list, session.course.board.welcome
    if todo is None or (isinstance(value, Item) and todo.confirmable(value, welcome)):
        return ""
    words = [item.value for item in Item if todo.confirmable(item, welcome)]
    return f"say which item is done: {', '.join(words)}"


def _off_fit(session: WindSession, turns: Value) -> str:
    course = session.course
    most = course.truth.high / course.per_turn
    if isinstance(turns, float) and math.isfinite(turns) and 0 < turns <= most:
        return ""
    return f"say how many turns, above 0 and at most the {most:.0f} that are on the coil"


def _turns_off_fit(session: WindSession, value: Value) -> str:
    """The turns that the sensor saw come off at rest are in the count already: are these others?"""
    if not isinstance(value, TurnsOff):
        return "say how many turns were taken off"
    seen = session.wire.seen_off()
    if not value.besides and seen >= 0.5 and abs(seen - value.turns) <= 1:
        return f"the sensor saw {seen:.1f} turns come off since the spindle stopped, and already counted them; say so if these are others"
    return _off_fit(session, value.turns)


def _reading_fit(session: WindSession, value: Value) -> str:
    course, estimate = session.course, session.readings.estimate
    if not isinstance(value, Reading):
        return "say what was measured"
    if estimate is None or not course.truth.is_sharp:
        return ""
    turns = course.truth.low / course.per_turn
    if turns <= 0:
        return "there are no turns to measure yet"
    return estimate.objection(value, turns)
