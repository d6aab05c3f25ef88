"""The transition table: what may happen in which phase, and where it leads.

Keys are ``(Phase, happening)``; a happening is a person's ``Intent`` or something ``Seen`` of the board.
A missing entry *is* the illegal move: an intent is refused and changes nothing, something seen that
the phase has no use for is passed over. Nothing here leads into WINDING but a board that winds as it
was asked to; a board that winds unasked leads to SLOWING, which sends stops. SLOWING never leads
back to WINDING: after every stop a person starts anew. ``docs/session.md`` is drawn from this table.
"""

from __future__ import annotations

import enum

from .model import Intent, Phase


class Seen(enum.Enum):
    """What the session concludes from messages and time."""

    WELCOMED = "the board is known and fit for the plan"
    UNFIT = "the board cannot do this plan"
    UNREACHED = "no board, another version, or held by another host"
    UNSET = "the set-up is not done"
    UNOPENED = "our wind is not open yet"
    STILL = "our wind is open, no plan loaded"
    ARMED = "armed"
    WINDING = "winding as asked"
    UNASKED = "moving unasked"
    SLOWING = "slowing"
    PAUSED = "at rest within the wind"
    COMPLETE = "at rest at the end of the plan"
    BEYOND = "at rest with more turns than the coil shall have"
    TRIPPED = "tripped"
    CLOSED = "the wind is closed"
    REFUSED = "the preparation was refused"
    SILENT = "nothing heard, or the link is gone"
    RESET = "the board was reset"
    TAKEN = "the board forgot us or has another wind"
    GIVEN_UP = "not heard for too long"


Happening = Seen | Intent
P = Phase

# What a status can show of a wind that is prepared, from any phase in which the board is live.
_SEEN_ANYWHERE: dict[Happening, Phase] = {
    Seen.UNASKED: P.SLOWING,
    Seen.TRIPPED: P.TRIPPED,
    Seen.SILENT: P.UNHEARD,
    Seen.RESET: P.BROKEN_OFF,
    Seen.TAKEN: P.BROKEN_OFF,
}
_AT_REST: dict[Happening, Phase] = {
    Seen.STILL: P.PREPARING,
    Seen.ARMED: P.READY,
    Seen.PAUSED: P.PAUSED,
    Seen.COMPLETE: P.COMPLETE,
    Seen.BEYOND: P.TAKING_OFF,
}
_COUNT = (Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED, Intent.TURNS_OFF)
_WIRE = (Intent.WIRE_BROKE, Intent.WIRE_JOINED, Intent.WIRE_WHOLE)


def _same(phase: Phase, *happenings: Happening) -> dict[Happening, Phase]:
    return dict.fromkeys(happenings, phase)


_ROWS: dict[Phase, dict[Happening, Phase]] = {
    P.CONNECTING: {
        Seen.WELCOMED: P.PREPARING,
        Seen.UNSET: P.SETTING_UP,
        Seen.UNFIT: P.BROKEN_OFF,
        Seen.UNREACHED: P.BROKEN_OFF,
        Seen.SILENT: P.BROKEN_OFF,
        **_same(P.CONNECTING, Intent.PAUSE, Intent.ACCEPT_CAUTIONS, Intent.NOTE, Intent.LEAVE),
    },
    P.SETTING_UP: {
        **_SEEN_ANYWHERE,
        Seen.UNFIT: P.BROKEN_OFF,
        Seen.UNSET: P.SETTING_UP,
        Intent.SET_UP_DONE: P.PREPARING,
        Intent.DECLARE_SET_UP: P.PREPARING,
        **_same(P.SETTING_UP, Intent.DECLARE_TOP, Intent.CONFIRM, Intent.SET_TENSION),
        **_same(P.SETTING_UP, Intent.STEP_GUIDE, Intent.GUIDE_TO_START),
        **_same(P.SETTING_UP, Intent.TOUCH_LEFT, Intent.TOUCH_RIGHT),
        **_same(P.SETTING_UP, Intent.PAUSE, Intent.ACCEPT_CAUTIONS, Intent.NOTE, Intent.LEAVE),
    },
    P.PREPARING: {
        **_SEEN_ANYWHERE,
        Seen.UNOPENED: P.PREPARING,
        Seen.STILL: P.PREPARING,
        Seen.UNFIT: P.BROKEN_OFF,
        Seen.REFUSED: P.BROKEN_OFF,
        Seen.ARMED: P.READY,
        Seen.PAUSED: P.PAUSED,
        Seen.COMPLETE: P.COMPLETE,
        Seen.BEYOND: P.TAKING_OFF,
        **_same(P.PREPARING, Intent.PAUSE, Intent.ACCEPT_CAUTIONS, Intent.NOTE, Intent.LEAVE),
    },
    P.READY: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Seen.CLOSED: P.ENDED,
        Intent.START: P.STARTING,
        **_same(P.READY, Intent.PAUSE, Intent.END_HERE, Intent.SLOWER, Intent.FASTER),
        **_same(P.READY, *_COUNT, *_WIRE, Intent.MEASURED, Intent.ADOPT_TURNS),
        **_same(P.READY, Intent.ACCEPT_CAUTIONS, Intent.NOTE, Intent.LEAVE),
    },
    P.STARTING: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Seen.WINDING: P.WINDING,
        Seen.SLOWING: P.SLOWING,
        **_same(P.SLOWING, Intent.PAUSE, Intent.WIRE_BROKE, Intent.LEAVE),
        Intent.NOTE: P.STARTING,
    },
    P.WINDING: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Seen.WINDING: P.WINDING,
        Seen.SLOWING: P.SLOWING,
        **_same(P.SLOWING, Intent.PAUSE, Intent.WIRE_BROKE, Intent.LEAVE),
        **_same(P.WINDING, Intent.SLOWER, Intent.FASTER, Intent.NOTE),
    },
    P.SLOWING: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Seen.SLOWING: P.SLOWING,
        Seen.UNSET: P.SETTING_UP,
        **_same(P.SLOWING, Intent.PAUSE, Intent.WIRE_BROKE, Intent.NOTE, Intent.LEAVE),
    },
    P.PAUSED: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Seen.CLOSED: P.ENDED,
        Intent.CONTINUE: P.STARTING,
        **_same(P.PAUSED, Intent.PAUSE, Intent.END_HERE, Intent.SLOWER, Intent.FASTER),
        **_same(P.PAUSED, *_COUNT, *_WIRE, Intent.TAKE_OFF, Intent.NOTE, Intent.LEAVE),
        **_same(P.PAUSED, Intent.MEASURED, Intent.ADOPT_TURNS),
    },
    P.TAKING_OFF: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Intent.END_HERE: P.COMPLETE,
        **_same(P.TAKING_OFF, *_COUNT, *_WIRE, Intent.TAKE_OFF, Intent.MEASURED),
        **_same(P.TAKING_OFF, Intent.PAUSE, Intent.NOTE, Intent.LEAVE),
    },
    P.COMPLETE: {
        Seen.TRIPPED: P.COMPLETE,
        **_same(P.COMPLETE, Seen.COMPLETE, Seen.CLOSED, Seen.SILENT, Seen.RESET, Seen.TAKEN),
        **_same(P.COMPLETE, Intent.PAUSE, Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED),
        **_same(P.COMPLETE, Intent.MEASURED, Intent.NOTE, Intent.LEAVE),
    },
    P.TRIPPED: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Seen.UNSET: P.SETTING_UP,
        Seen.UNOPENED: P.PREPARING,
        **_same(P.TRIPPED, Intent.PAUSE, Intent.CLEAR_TRIP, Intent.SETTLE_COUNT),
        **_same(P.TRIPPED, Intent.VOUCH_UNMOVED, Intent.TURNS_OFF, Intent.NOTE, Intent.LEAVE),
        **_same(P.TRIPPED, *_WIRE),
    },
    P.UNHEARD: {
        **_SEEN_ANYWHERE,
        **_AT_REST,
        Seen.UNSET: P.SETTING_UP,
        Seen.UNOPENED: P.PREPARING,
        Seen.SLOWING: P.SLOWING,
        Seen.CLOSED: P.ENDED,
        Seen.GIVEN_UP: P.BROKEN_OFF,
        **_same(P.UNHEARD, Intent.PAUSE, Intent.NOTE, Intent.LEAVE),
    },
    P.BROKEN_OFF: _same(P.BROKEN_OFF, Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED, Intent.NOTE),
    P.ENDED: _same(
        P.ENDED, Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED, Intent.MEASURED, Intent.NOTE
    ),
}

TABLE: dict[tuple[Phase, Happening], Phase] = {
    (phase, happening): after for phase, row in _ROWS.items() for happening, after in row.items()
}

INTENTS_IN: dict[Phase, frozenset[Intent]] = {
    phase: frozenset(intent for intent in Intent if (phase, intent) in TABLE) for phase in Phase
}
