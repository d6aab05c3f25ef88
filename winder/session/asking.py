"""Why an intent cannot be taken now, in one plain sentence; empty if it can.

The table says in which phases an intent has a place at all. What lies beside the phase (cautions not yet
accepted, a command still unanswered, a spindle still coming to rest) is said here.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .beliefs import PACE_FULL, PACE_LEAST
from .model import Asked, Intent
from .table import TABLE
from .wording import not_now

if TYPE_CHECKING:
    from .beliefs import Beliefs

TURNS_MAX = 10_000_000  # nobody winds more; a slip of the keys does
MOTION = frozenset((Intent.START, Intent.CONTINUE))
NEEDS_ANSWER = frozenset(
    (Intent.START, Intent.CONTINUE, Intent.END_HERE, Intent.CLEAR_TRIP, Intent.SETTLE_COUNT)
)


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
    if intent is Intent.SLOWER and beliefs.pace_permille <= PACE_LEAST:
        return "this is the slowest pace"
    if intent is Intent.FASTER and beliefs.pace_permille >= PACE_FULL:
        return "this is the plan's own speed; nothing goes faster"
    if intent in MOTION or intent in NEEDS_ANSWER:
        return _motion_objection(beliefs, intent)
    return ""


def _motion_objection(beliefs: Beliefs, intent: Intent) -> str:
    if intent in MOTION and not beliefs.cautions_accepted:
        return "accept the cautions first"
    if intent in MOTION and beliefs.leaving:
        return "the run is being left"
    if intent in MOTION and beliefs.stopping:
        return "the board has not confirmed the stop yet; ask again in a moment"
    if intent in NEEDS_ANSWER and beliefs.closing and not beliefs.finished:
        return "the wind is being closed"
    if intent in NEEDS_ANSWER and not beliefs.errands.idle:
        return "the board has not answered the last command yet; ask again in a moment"
    if intent in MOTION and not beliefs.preparation.in_force:
        return "the plan is not in force on the board yet; ask again in a moment"
    return ""


def value_objection(asked: Asked) -> str:
    """Why what goes with the intent does not do."""
    if asked.intent is Intent.NOTE and not asked.text.strip():
        return "say what to note"
    if asked.intent is Intent.SETTLE_COUNT:
        value = asked.value
        if value is None or not math.isfinite(value) or not 0 <= value <= TURNS_MAX:
            return f"say how many turns are on the coil, 0 to {TURNS_MAX}"
    return ""


def intent_words(asked: Asked) -> str:
    """What a person asked for, for the journal and the lines."""
    if asked.intent is Intent.NOTE:
        return f"note: {asked.text.strip()}"
    words = f"{asked.by} asked: {asked.intent.value}"
    if asked.intent is Intent.SETTLE_COUNT and asked.value is not None:
        words += f" at {asked.value:g} turns"
    return f"{words} ({asked.text.strip()})" if asked.text.strip() else words
