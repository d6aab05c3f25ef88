"""Why an intent cannot be taken now, in one plain sentence; empty if it can.

The table says in which phases an intent has a place at all. What lies beside the phase (cautions not yet
accepted, a command still unanswered, a spindle still coming to rest) is said here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from .beliefs import PACE_FULL, PACE_LEAST
from .model import Asked, Intent
from .setting_up import Item, item_named, step_objection, tension_objection, top_named
from .table import TABLE
from .truth import is_sharp
from .wording import not_now

if TYPE_CHECKING:
    from .beliefs import Beliefs

UNITS = {
    Intent.SETTLE_COUNT: "at {:g} turns",
    Intent.SET_TENSION: "{:g} cN",
    Intent.STEP_GUIDE: "{:+g} mm",
    Intent.MEASURED: "{:g} ohm",
    Intent.TURNS_OFF: "{:g} turns",
    Intent.TAKE_OFF: "{:g} turns",
}
WRONG_WAY = (
    "the spindle turned the other way than declared: end here, look at the mounting and at 'plus' in the"
    " machine file, and begin anew"
)
TURNS_MAX = 10_000_000  # nobody winds more; a slip of the keys does
MOTION = frozenset((Intent.START, Intent.CONTINUE))
TURNING = MOTION | {Intent.TAKE_OFF}
GUIDE_MOVES = frozenset((Intent.STEP_GUIDE, Intent.GUIDE_TO_START))
GUIDE = GUIDE_MOVES | {Intent.TOUCH_LEFT, Intent.TOUCH_RIGHT}
OHM_MAX = 1e7  # beyond any coil here
COLDEST_C, HOTTEST_C = -40.0, 200.0  # of a coil that somebody measures
NEEDS_ANSWER = frozenset(
    (
        Intent.START,
        Intent.CONTINUE,
        Intent.END_HERE,
        Intent.CLEAR_TRIP,
        Intent.SETTLE_COUNT,
        Intent.TURNS_OFF,
        Intent.TAKE_OFF,
        Intent.ADOPT_TURNS,
    )
)
NOT_TURNING_BACK = NEEDS_ANSWER | {Intent.MEASURED, Intent.VOUCH_UNMOVED, Intent.WIRE_JOINED}


def objection(beliefs: Beliefs, intent: Intent) -> str:
    """Why this intent cannot be taken, whatever goes with it."""
    if (beliefs.phase, intent) not in TABLE:
        return not_now(beliefs.phase, intent)
    if intent in (Intent.PAUSE, Intent.LEAVE) and beliefs.finished:
        return "this wind is over; there is nothing to stop"
    if intent is Intent.LEAVE and beliefs.leaving:
        return "leaving already; the board is coming to rest"
    if intent is Intent.ACCEPT_CAUTIONS and beliefs.cautions_accepted:
        return "the cautions are accepted already"
    if intent is Intent.VOUCH_UNMOVED and not beliefs.tally.can_vouch_unmoved(beliefs.rocks):
        return "there is nothing that an unmoved spindle would settle"
    if intent in (Intent.SLOWER, Intent.FASTER) and beliefs.counter_only:
        return "this machine has no motor: the hand on the drill goes slower or faster"
    if intent is Intent.SLOWER and beliefs.pace_permille <= PACE_LEAST:
        return "this is the slowest pace"
    if intent is Intent.FASTER and beliefs.pace_permille >= PACE_FULL:
        return "this is the plan's own speed; nothing goes faster"
    if intent in GUIDE:
        return _guide_objection(beliefs, intent)
    if intent in (Intent.SET_UP_DONE, Intent.DECLARE_SET_UP) and beliefs.set_up is not None:
        if intent is Intent.SET_UP_DONE:
            left = beliefs.set_up.open_items(beliefs.status, beliefs.welcome)
            if left:
                return f"still to be done: {', '.join(left)}"
        if beliefs.stepping or not beliefs.errands.idle:
            return "the board has not answered the last command yet; ask again in a moment"
    return _coil_objection(beliefs, intent) or _motion_objection(beliefs, intent)


def _coil_objection(beliefs: Beliefs, intent: Intent) -> str:
    """What the wire and the coil have to say against it."""
    if intent in NOT_TURNING_BACK and beliefs.unwinding:
        return "the spindle is turning back; stop it or wait for its end"
    broke_at = beliefs.wire_broke_at
    if intent is Intent.WIRE_BROKE and broke_at is not None:
        return f"that it broke at about turn {broke_at:.0f} is on record"
    if intent in (Intent.WIRE_JOINED, Intent.WIRE_WHOLE) and broke_at is None:
        return "no broken wire is on record"
    if intent is Intent.WIRE_JOINED and beliefs.broke_count is not None:
        return "the spindle is still coming to rest; wait for it"
    if intent in MOTION and broke_at is not None:
        return (
            f"the wire broke at about turn {broke_at:.0f}: take off what is loose, join the wire and say so,"
            " or say that it is whole"
        )
    if intent is Intent.TAKE_OFF and beliefs.counter_only:
        return "this machine has no motor: turn back by hand"
    if intent is Intent.ADOPT_TURNS and beliefs.offered_turns is None:
        return "no other target follows from what was measured"
    return ""


def _motion_objection(beliefs: Beliefs, intent: Intent) -> str:
    if intent in TURNING and not beliefs.cautions_accepted:
        return "accept the cautions first"
    if intent in MOTION and beliefs.sense.wrong:
        return WRONG_WAY
    if intent in TURNING and beliefs.leaving:
        return "the run is being left"
    if intent in TURNING and beliefs.stopping:
        return "the board has not confirmed the stop yet; ask again in a moment"
    if intent in NEEDS_ANSWER and beliefs.closing and not beliefs.finished:
        return "the wind is being closed"
    if intent in NEEDS_ANSWER and not beliefs.errands.idle:
        return "the board has not answered the last command yet; ask again in a moment"
    if intent in MOTION and not beliefs.preparation.in_force:
        return "the plan is not in force on the board yet; ask again in a moment"
    return ""


def _guide_objection(beliefs: Beliefs, intent: Intent) -> str:
    set_up = beliefs.set_up
    if set_up is None or not set_up.has_guide:
        return "this machine has no guide that the board moves"
    if intent in GUIDE_MOVES and not beliefs.cautions_accepted:
        return "accept the cautions first"
    if beliefs.leaving or beliefs.stopping:
        return "the board has not confirmed the stop yet; ask again in a moment"
    if beliefs.stepping or not beliefs.errands.idle or beliefs.status is None:
        return "the guide has not ended its last step yet"
    if intent is Intent.TOUCH_RIGHT and not set_up.left_touched:
        return "touch the left flange first"
    if intent is Intent.GUIDE_TO_START:
        if not set_up.left_touched:
            return "touch the left flange first"
        if beliefs.status.traverse_um == 0:
            return "the guide is there already"
    return ""


def _set_up_objection(beliefs: Beliefs, asked: Asked) -> str:
    """What goes with an intent of the list before the wind."""
    intent, set_up, word = asked.intent, beliefs.set_up, asked.text.strip()
    if intent is Intent.DECLARE_TOP and top_named(word) is None:
        return "say where the coil's top faces: operator or chuck"
    if intent is Intent.SET_TENSION:
        return tension_objection(asked.value)
    if intent is Intent.STEP_GUIDE:
        return step_objection(asked.value)
    if set_up is None:
        return ""
    if intent is Intent.CONFIRM:
        item = item_named(word)
        if item is None or not set_up.confirmable(item, beliefs.welcome):
            words = [i.value for i in Item if set_up.confirmable(i, beliefs.welcome)]
            return f"say which item is done: {', '.join(words)}"
    return ""


def value_objection(beliefs: Beliefs, asked: Asked) -> str:
    """Why what goes with the intent does not do."""
    if asked.intent is Intent.MEASURED:
        return _reading_objection(beliefs, asked)
    if asked.intent in (Intent.TURNS_OFF, Intent.TAKE_OFF):
        most = beliefs.truth.high / beliefs.plan.counts_per_turn
        value = asked.value
        if value is None or not math.isfinite(value) or not 0 < value <= most:
            return f"say how many turns, above 0 and at most the {most:.0f} that are on the coil"
    refused = _set_up_objection(beliefs, asked)
    if refused:
        return refused
    if asked.intent is Intent.NOTE and not asked.text.strip():
        return "say what to note"
    if asked.intent is Intent.SETTLE_COUNT:
        value = asked.value
        if value is None or not math.isfinite(value) or not 0 <= value <= TURNS_MAX:
            return f"say how many turns are on the coil, 0 to {TURNS_MAX}"
    return ""


def _reading_objection(beliefs: Beliefs, asked: Asked) -> str:
    ohm, at_c, estimate = asked.value, asked.at_c, beliefs.estimate
    sharp, turns = is_sharp(beliefs.truth), beliefs.truth.low / beliefs.plan.counts_per_turn
    if ohm is None and asked.text.strip() and estimate is not None:
        if not sharp:
            return "the count is in doubt: settle it before a reading is learnt"
        return estimate.objection(reading_text(asked), turns)
    if ohm is None or not math.isfinite(ohm) or not 0 < ohm <= OHM_MAX:
        return "say what was measured, in ohms above 0"
    if at_c is not None and not COLDEST_C <= at_c <= HOTTEST_C:
        return f"say the wire's temperature in C, {COLDEST_C:g} to {HOTTEST_C:g}"
    if estimate is not None and turns <= 0:
        return "there is no turn on the coil yet that could be measured"
    return estimate.objection(reading_text(asked), turns) if estimate is not None and sharp else ""


def plain_ohms(asked: Asked) -> Asked:
    """A reading that is one or two bare numbers is the coil's ohms and the wire's temperature."""
    if asked.intent is not Intent.MEASURED or asked.value is not None:
        return asked
    try:
        numbers = [float(word) for word in asked.text.split()]
    except ValueError:
        return asked
    if len(numbers) not in (1, 2):
        return asked
    return replace(asked, text="", value=numbers[0], at_c=numbers[1] if len(numbers) == 2 else None)


def reading_text(asked: Asked) -> str:
    """A reading as one writes it; ohms by themselves are the coil's."""
    if asked.value is None:
        return asked.text.strip()
    at_c = "" if asked.at_c is None else f", {_decimal(asked.at_c)} C"
    return f"ohm, {_decimal(asked.value)} ohm{at_c}"


def _decimal(value: float) -> str:
    """Without an exponent, which no quantity here has."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


def intent_words(asked: Asked) -> str:
    """What a person asked for, for the journal and the lines."""
    if asked.intent is Intent.NOTE:
        return f"note: {asked.text.strip()}"
    words = f"{asked.by} asked: {asked.intent.value}"
    if asked.value is not None and asked.intent in UNITS:
        words += f" {UNITS[asked.intent].format(asked.value)}"
    return f"{words} ({asked.text.strip()})" if asked.text.strip() else words
