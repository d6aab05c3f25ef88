"""The one table: what may happen in which phase, under which guards, and where it leads.

Keys are ``(Phase, happening)``; a happening is a person's ``Intent`` or something ``Seen`` of the board. A missing entry
*is* the illegal move: an intent is refused and changes nothing, something seen that the phase has no use for is passed
over. An intent is taken only if every guard of its entry lets it pass. Nothing here leads into WINDING but a board that
winds as it was asked to, after a person's start or by the pedal that a person armed; what moves without being asked leads
to ALARM. SLOWING never leads back to WINDING: after every stop a person starts anew, by a key or by a foot. ``docs/session.md`` is drawn from this table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from firmware_protocol.records import dataclass

from . import guards as g
from .model import Intent, Phase
from .seen import Seen

if TYPE_CHECKING:
    from .session import WindSession

Happening = Seen | Intent
Guard = Callable[["WindSession"], str]
P = Phase

_TURNING = (g.cautions_read, g.not_leaving, g.stop_confirmed, g.answered)
_STARTS = (g.not_turning_back, g.wire_known_whole, *_TURNING, g.right_way, g.in_force)
_GUIDE = (g.has_guide, g.cautions_read, g.guide_stands)

# The guards of every intent that has any, in whatever phase.
GUARDS: dict[Intent, tuple[Guard, ...]] = {
    Intent.START: _STARTS,
    Intent.CONTINUE: _STARTS,
    Intent.PEDAL: (g.has_pedal, *_STARTS),
    Intent.PAUSE: (g.not_over,),
    Intent.CUT: (g.not_over, g.has_motor),
    Intent.LEAVE: (g.not_over, g.not_leaving),
    Intent.END_HERE: (g.not_over, g.not_turning_back, g.answered),
    Intent.CLEAR_TRIP: (g.not_over, g.answered),
    Intent.ACKNOWLEDGE: (g.at_rest,),
    Intent.ACCEPT_CAUTIONS: (g.cautions_unread,),
    Intent.SETTLE_COUNT: (g.not_turning_back, g.answered),
    Intent.VOUCH_UNMOVED: (g.not_turning_back, g.count_would_settle),
    Intent.SLOWER: (g.not_over, g.has_motor, g.not_slowest),
    Intent.FASTER: (g.not_over, g.has_motor, g.not_full_pace),
    Intent.STEP_GUIDE: _GUIDE,
    Intent.GUIDE_TO_START: (*_GUIDE, g.left_touched, g.guide_away),
    Intent.HOME_GUIDE: (*_GUIDE, g.has_limit_switch),
    Intent.WIRE_HERE: (*_GUIDE, g.wire_on_record),
    Intent.TOUCH_LEFT: (g.has_guide, g.guide_stands),
    Intent.TOUCH_RIGHT: (g.has_guide, g.guide_stands, g.left_touched),
    Intent.SET_UP_DONE: (g.list_done, g.set_up_answered),
    Intent.DECLARE_SET_UP: (g.top_known, g.set_up_answered),
    Intent.MEASURED: (g.not_turning_back,),
    Intent.ADOPT_TURNS: (g.not_turning_back, g.something_offered, g.answered),
    Intent.WIRE_BROKE: (g.wire_not_broken,),
    Intent.WIRE_JOINED: (g.wire_broken, g.rested_after_break, g.not_turning_back),
    Intent.WIRE_WHOLE: (g.wire_broken,),
    Intent.TURNS_OFF: (g.not_turning_back, g.answered),
    Intent.TAKE_OFF: (g.not_turning_back, g.has_motor, *_TURNING),
}

_LIVE: dict[Happening, Phase] = {
    Seen.DISOBEYED: P.ALARM,
    Seen.TRIPPED: P.TRIPPED,
    Seen.SILENT: P.UNHEARD,
    Seen.RESET: P.LOST,
    Seen.TAKEN: P.LOST,
}
_AT_REST: dict[Happening, Phase] = {
    Seen.STILL: P.PREPARING,
    Seen.ARMED: P.READY,
    Seen.PAUSED: P.PAUSED,
    Seen.COMPLETE: P.COMPLETE,
    Seen.BEYOND: P.TAKING_OFF,
}
_ANYTIME = (Intent.PAUSE, Intent.CUT, Intent.NOTE, Intent.LEAVE)
_COUNT = (Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED, Intent.TURNS_OFF)
_WIRE = (Intent.WIRE_BROKE, Intent.WIRE_JOINED, Intent.WIRE_WHOLE)
_LIST = (
    Intent.DECLARE_TOP,
    Intent.CONFIRM,
    Intent.SET_TENSION,
    Intent.STEP_GUIDE,
    Intent.GUIDE_TO_START,
    Intent.HOME_GUIDE,
    Intent.TOUCH_LEFT,
    Intent.TOUCH_RIGHT,
    Intent.WIRE_HERE,
)
_PLACES = (Intent.STEP_GUIDE, Intent.WIRE_HERE)
_SLOWS = (Intent.PAUSE, Intent.CUT, Intent.WIRE_BROKE, Intent.LEAVE)


def _same(phase: Phase, *happenings: Happening) -> dict[Happening, Phase]:
    return dict.fromkeys(happenings, phase)


_ROWS: dict[Phase, dict[Happening, Phase]] = {
    P.CONNECTING: {
        Seen.WELCOMED: P.PREPARING,
        Seen.UNSET: P.SETTING_UP,
        Seen.UNFIT: P.LOST,
        Seen.UNREACHED: P.LOST,
        Seen.SILENT: P.UNHEARD,
        Seen.RESET: P.LOST,
        Seen.TAKEN: P.LOST,
        Seen.OTHER: P.LOST,
        Seen.GIVEN_UP: P.LOST,
        **_same(P.CONNECTING, *_ANYTIME, Intent.ACCEPT_CAUTIONS),
    },
    P.SETTING_UP: {
        **_LIVE,
        Seen.UNFIT: P.LOST,
        Seen.SLOWING: P.SLOWING,
        Seen.UNSET: P.SETTING_UP,
        Intent.SET_UP_DONE: P.PREPARING,
        Intent.DECLARE_SET_UP: P.PREPARING,
        **_same(P.SETTING_UP, *_LIST, *_ANYTIME, Intent.ACCEPT_CAUTIONS),
    },
    P.PREPARING: {
        **_LIVE,
        **_AT_REST,
        Seen.UNOPENED: P.PREPARING,
        Seen.UNFIT: P.LOST,
        Seen.REFUSED: P.LOST,
        **_same(P.PREPARING, *_ANYTIME, Intent.ACCEPT_CAUTIONS),
    },
    P.READY: {
        **_LIVE,
        **_AT_REST,
        Seen.CLOSED: P.ENDED,
        Intent.START: P.STARTING,
        Intent.PEDAL: P.PEDAL,
        **_same(P.READY, *_ANYTIME, *_COUNT, *_WIRE, Intent.END_HERE, Intent.SLOWER, Intent.FASTER),
        **_same(P.READY, Intent.MEASURED, Intent.ADOPT_TURNS, Intent.ACCEPT_CAUTIONS),
        **_same(P.READY, *_PLACES),
    },
    P.STARTING: {
        **_LIVE,
        **_AT_REST,
        Seen.WINDING: P.WINDING,
        Seen.SLOWING: P.SLOWING,
        **_same(P.SLOWING, *_SLOWS),
        Intent.NOTE: P.STARTING,
    },
    P.PEDAL: {
        **_LIVE,
        **_AT_REST,
        Seen.PEDAL: P.PEDAL,
        Seen.WINDING: P.WINDING,
        Seen.SLOWING: P.SLOWING,
        **_same(P.SLOWING, *_SLOWS),
        **_same(P.PEDAL, Intent.SLOWER, Intent.FASTER, Intent.NOTE),
    },
    P.WINDING: {
        **_LIVE,
        **_AT_REST,
        Seen.PEDAL: P.PEDAL,
        Seen.WINDING: P.WINDING,
        Seen.SLOWING: P.SLOWING,
        **_same(P.SLOWING, *_SLOWS),
        **_same(P.WINDING, Intent.SLOWER, Intent.FASTER, Intent.NOTE),
    },
    P.SLOWING: {
        **_LIVE,
        **_AT_REST,
        Seen.PEDAL: P.PEDAL,
        Seen.SLOWING: P.SLOWING,
        Seen.UNSET: P.SETTING_UP,
        Seen.UNOPENED: P.PREPARING,
        **_same(P.SLOWING, *_SLOWS, Intent.NOTE),
    },
    P.PAUSED: {
        **_LIVE,
        **_AT_REST,
        Seen.CLOSED: P.ENDED,
        Intent.CONTINUE: P.STARTING,
        Intent.PEDAL: P.PEDAL,
        **_same(
            P.PAUSED, *_ANYTIME, *_COUNT, *_WIRE, Intent.END_HERE, Intent.SLOWER, Intent.FASTER
        ),
        **_same(P.PAUSED, Intent.TAKE_OFF, Intent.MEASURED, Intent.ADOPT_TURNS),
        **_same(P.PAUSED, Intent.ACCEPT_CAUTIONS, *_PLACES),
    },
    P.TAKING_OFF: {
        **_LIVE,
        **_AT_REST,
        Seen.CLOSED: P.ENDED,
        **_same(P.TAKING_OFF, *_ANYTIME, *_COUNT, *_WIRE, Intent.END_HERE, Intent.TAKE_OFF),
        **_same(P.TAKING_OFF, Intent.MEASURED, Intent.ACCEPT_CAUTIONS),
    },
    P.COMPLETE: {
        Seen.DISOBEYED: P.ALARM,
        Seen.TRIPPED: P.COMPLETE,
        **_same(P.COMPLETE, Seen.COMPLETE, Seen.CLOSED, Seen.SILENT, Seen.RESET, Seen.TAKEN),
        **_same(P.COMPLETE, Intent.PAUSE, Intent.SETTLE_COUNT, Intent.MEASURED, Intent.NOTE),
        Intent.LEAVE: P.COMPLETE,
    },
    P.TRIPPED: {
        **_LIVE,
        **_AT_REST,
        Seen.UNSET: P.SETTING_UP,
        Seen.UNOPENED: P.PREPARING,
        **_same(P.TRIPPED, *_ANYTIME, *_COUNT, *_WIRE, Intent.CLEAR_TRIP),
    },
    P.ALARM: {
        Seen.RESET: P.LOST,
        Seen.TAKEN: P.LOST,
        Seen.GIVEN_UP: P.LOST,
        Intent.ACKNOWLEDGE: P.SLOWING,
        **_same(P.ALARM, *_ANYTIME),
    },
    P.UNHEARD: {
        **_LIVE,
        **_AT_REST,
        Seen.REOPENED: P.CONNECTING,
        Seen.UNSET: P.SETTING_UP,
        Seen.UNOPENED: P.PREPARING,
        Seen.SLOWING: P.SLOWING,
        Seen.CLOSED: P.ENDED,
        Seen.OTHER: P.LOST,
        Seen.GIVEN_UP: P.LOST,
        **_same(P.UNHEARD, *_ANYTIME),
    },
    P.LOST: _same(P.LOST, Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED, Intent.NOTE),
    P.ENDED: _same(
        P.ENDED, Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED, Intent.MEASURED, Intent.NOTE
    ),
}


@dataclass(frozen=True, slots=True)
class Step:
    """Where a happening leads, and what must be so before an intent is taken."""

    to: Phase
    guards: tuple[Guard, ...] = ()


def _steps(
    rows: Iterable[tuple[Phase, dict[Happening, Phase]]],
) -> dict[tuple[Phase, Happening], Step]:
    return {
        (phase, happening): Step(
            to, GUARDS.get(happening, ()) if isinstance(happening, Intent) else ()
        )
        for phase, row in rows
        for happening, to in row.items()
    }


TABLE = _steps(_ROWS.items())
INTENTS_IN: dict[Phase, tuple[Intent, ...]] = {
    phase: tuple(intent for intent in Intent if (phase, intent) in TABLE) for phase in Phase
}
