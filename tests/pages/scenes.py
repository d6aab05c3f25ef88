"""Invented moments of invented winds, for pictures and for trying a screen without a machine.

Nothing here was measured: the maker of electric kalimbas, the coils and the figures are made up.
"""

from __future__ import annotations

import math

from firmware_protocol.messages import Trip
from tests.pages.moments import moment as moment
from winder.wind.model import (
    CoilView,
    CountTruth,
    CountView,
    Intent,
    LanePlace,
    LayView,
    MotionView,
    OhmView,
    Phase,
    TroubleView,
    WindView,
)
from winder.wind.watch import NOT_STOPPING
from winder.wind.wording import ADVICE, HEADLINES, TRIPS, alarm_advice

COUNTS_PER_TURN = 4
TALK = frozenset({Intent.PAUSE, Intent.CUT, Intent.NOTE, Intent.LEAVE})
_SPEED = frozenset({Intent.SLOWER, Intent.FASTER})
_AT_A_PAUSE = frozenset(
    {
        Intent.CONTINUE,
        Intent.END_HERE,
        Intent.SETTLE_COUNT,
        Intent.TURNS_OFF,
        Intent.TAKE_OFF,
        Intent.WIRE_BROKE,
        Intent.MEASURED,
    }
)
WINDOW_MM = (9.5, 3.4, 2.6)
TARGET_TURNS = 5000
PLACES = 64  # across the winding


def lay_at(turns: float) -> tuple[float, ...]:
    """An invented lay: a little low at the left edge, a little high right of the middle."""
    mean = turns / TARGET_TURNS * WINDOW_MM[2] / WINDOW_MM[1]
    places = [(place + 0.5) / PLACES for place in range(PLACES)]
    uneven = [
        -0.11 * math.exp(-at / 0.06) + 0.06 * math.exp(-(((at - 0.66) / 0.1) ** 2)) for at in places
    ]
    heights = [mean * (1 + part) for part in uneven]
    return (0.0, *heights[1:-1], 0.0)  # margins


WINDING = WindView(
    phase=Phase.WINDING,
    headline=HEADLINES[Phase.WINDING],
    advice="pauses (measure) in 212 turns, about 14 s",
    coil=CoilView("kalimba bass coil", "clockwise", COUNTS_PER_TURN, TARGET_TURNS, 37, WINDOW_MM),
    count=CountView(CountTruth(12424, 12424, 12424), 3106.0, 1894.0),
    motion=MotionView(912.0, 900.0, 1000, 126.0, 212.0, "pause"),
    ohm=OhmView((521.0, 512.0, 531.0), (853.0, 838.0, 869.0)),
    lay=LayView(23, 0.62, True, None, lay_at(3106.0), (0.02, 0.98)),
    trouble=TroubleView(link_age_s=0.03),
    may=TALK | _SPEED | {Intent.WIRE_BROKE},
    lines=(
        "opened: 0 turns, exact",
        "started at 600 rpm for the bedding",
        "at rest at 200 turns: planned pause",
        "note: first layers lie well",
        "continued",
        "at rest at 2400 turns: planned pause",
        "continued",
    ),
)


def at_rest(view: WindView, turns: float, **changes: object) -> WindView:
    counts = round(turns * COUNTS_PER_TURN)
    base = moment(
        view,
        turns=turns,
        remaining_turns=view.coil.target_turns - turns,
        truth=CountTruth(counts, counts, counts),
        speed_rpm=0.0,
        seconds_to_go=None,
        lay=lay_at(turns),
    )
    return moment(base, **changes)


_PAUSED = at_rest(
    WINDING,
    3318.0,
    phase=Phase.PAUSED,
    headline="paused",
    advice="continue, or end here; about 1 min 56 s of winding left",
    next_stop_turns=1682.0,
    next_stop_is="end",
    ohm_now=(558.0, 549.0, 569.0),
    layer=25,
    guide_share=0.2,
    guide_rightward=False,
    may=TALK | _SPEED | _AT_A_PAUSE,
    lines=(*WINDING.lines, "at rest at 3318 turns: planned pause"),
)

_ALARM = NOT_STOPPING
SCENES: dict[str, WindView] = {
    "winding": WINDING,
    "landing": moment(
        WINDING,
        turns=4913.0,
        remaining_turns=87.0,
        truth=CountTruth(19652, 19652, 19652),
        speed_rpm=417.0,
        planned_rpm=420.0,
        seconds_to_go=14.0,
        advice="complete in 87 turns, about 14 s",
        next_stop_turns=87.0,
        next_stop_is="end",
        ohm_now=(837.0, 823.0, 853.0),
        layer=37,
        guide_share=0.31,
        lay=lay_at(4913.0),
        may=TALK | {Intent.WIRE_BROKE},
    ),
    "paused": _PAUSED,
    "ready": at_rest(
        WINDING,
        0.0,
        phase=Phase.READY,
        headline="ready",
        advice="hands clear, eye protection on, the hard-wired stop within reach: start",
        next_stop_turns=200.0,
        ohm_now=None,
        layer=1,
        guide_share=0.0,
        may=TALK
        | {
            Intent.START,
            Intent.SETTLE_COUNT,
            Intent.TURNS_OFF,
            Intent.WIRE_BROKE,
            Intent.MEASURED,
            Intent.END_HERE,
        },
        lines=("opened: 0 turns, exact", "guide marked: left and right turning point"),
    ),
    "complete": at_rest(
        WINDING,
        5000.0,
        phase=Phase.COMPLETE,
        headline="complete",
        advice="write down: 5000 turns, exact",
        next_stop_turns=None,
        next_stop_is="",
        ohm_now=(853.0, 838.0, 869.0),
        layer=37,
        guide_share=1.0,
        may=TALK | {Intent.SETTLE_COUNT, Intent.MEASURED},
        lines=(*WINDING.lines, "at rest at 5000 turns: complete"),
    ),
    "doubt": moment(
        _PAUSED,
        truth=CountTruth(
            13260,
            13272,
            13284,
            why="the spindle was turned at rest and the sensor cannot tell which way",
        ),
        advice="set the count first, then continue or end here",
    ),
    "trip": at_rest(
        WINDING,
        3106.0,
        phase=Phase.TRIPPED,
        headline="tripped",
        advice="",
        trip=TRIPS[Trip.WIRE_LOST][0],
        trip_advice=TRIPS[Trip.WIRE_LOST][1],
        truth=CountTruth(12424, 12424, 12470, why="the wire left between two looks at its sensor"),
        may=TALK | {Intent.CLEAR_TRIP, Intent.SETTLE_COUNT},
        lines=(*WINDING.lines, "tripped: wire lost"),
    ),
    "slowing": moment(
        WINDING,
        phase=Phase.SLOWING,
        headline=HEADLINES[Phase.SLOWING],
        advice=ADVICE[Phase.SLOWING],
        speed_rpm=388.0,
        seconds_to_go=None,
        may=TALK,
    ),
    "alarm": moment(
        WINDING,
        phase=Phase.ALARM,
        headline=HEADLINES[Phase.ALARM],
        advice=alarm_advice(_ALARM),
        alarm=_ALARM,
        trip_advice=alarm_advice(_ALARM),
        truth=CountTruth(12424, 12424, 12602, why="the board did not do what it was told"),
        seconds_to_go=None,
        may=TALK,
        lines=(*WINDING.lines, f"alarm: {_ALARM}"),
    ),
    "unheard": moment(
        WINDING,
        phase=Phase.UNHEARD,
        headline=HEADLINES[Phase.UNHEARD],
        advice=ADVICE[Phase.UNHEARD],
        link_age_s=2.4,
        seconds_to_go=None,
        truth=CountTruth(12424, 12424, 12620, why="the board has not been heard since it moved"),
        may=TALK,
    ),
    "connecting": at_rest(
        WINDING,
        0.0,
        phase=Phase.CONNECTING,
        headline="connecting",
        advice="waiting for the board to answer",
        link_age_s=None,
        ohm_now=None,
        next_stop_turns=None,
        next_stop_is="",
        layer=0,
        guide_share=None,
        may=TALK | {Intent.ACCEPT_CAUTIONS},
        lines=(),
    ),
    "unread": at_rest(
        WINDING,
        0.0,
        phase=Phase.READY,
        headline="ready",
        advice="read and accept the cautions, then start",
        next_stop_turns=200.0,
        ohm_now=None,
        layer=1,
        guide_share=0.0,
        may=TALK | {Intent.ACCEPT_CAUTIONS},
        lines=("opened: 0 turns, exact",),
    ),
}
_LED = moment(
    WINDING,
    advice="turn the spindle by hand or drill; the board is counting",
    speed_rpm=318.0,
    planned_rpm=0.0,
    seconds_to_go=None,
    next_stop_turns=1894.0,
    next_stop_is="end",
    guide_share=None,
    lay=tuple([sum(lay_at(3106.0)) / PLACES] * PLACES),
    lane=LanePlace(0.58, 0.02, 0.98, True, 57.3, 23),
    may=TALK | {Intent.WIRE_BROKE},
    lines=("opened: 0 turns, exact", "started", "layer 23 begins"),
)
_BROKE = moment(
    _PAUSED,
    advice="the wire broke at about turn 3318: take off the loose turns and say how many, then join it and say so",
    truth=CountTruth(13140, 13140, 13272, why="turns since the wire broke are not on the coil"),
    wire_broke_at=3318.0,
    may=(_PAUSED.may - {Intent.CONTINUE, Intent.WIRE_BROKE})
    | {Intent.WIRE_JOINED, Intent.WIRE_WHOLE},
    lines=(*WINDING.lines, "wire broke at about turn 3318"),
)
_LONG = at_rest(
    WINDING,
    5000.0,
    phase=Phase.TAKING_OFF,
    headline="taking off",
    advice="wound long: fix the finish lead, measure the coil and enter the ohms",
    next_stop_turns=None,
    next_stop_is="",
    ohm_now=(853.0, 838.0, 869.0),
    layer=37,
    guide_share=1.0,
    may=TALK
    | {
        Intent.SETTLE_COUNT,
        Intent.TURNS_OFF,
        Intent.TAKE_OFF,
        Intent.WIRE_BROKE,
        Intent.MEASURED,
        Intent.END_HERE,
    },
    lines=(*WINDING.lines, "at rest at 5000 turns: planned end"),
)
_TAKING_OFF = moment(
    _LONG,
    advice="38 turns to take off: by hand, or let the motor turn back; they are counted. Or end here",
    off_turns=38.0,
    finding="861.4 ohm at 22 C is 854.7 ohm at 20 C; 848 ohm are left at 4962 turns",
    lines=(*_LONG.lines, "measured: ohm, 861.4 ohm, 22 C"),
)
SCENES |= {
    "by hand": _LED,
    "edge near": moment(_LED, lane=LanePlace(0.921, 0.02, 0.98, True, 6.2, 23)),
    "offered": moment(
        _PAUSED,
        advice="the coil has 2.1 % more ohms than calculated; 853 ohm take 4951 turns. Wind to 4951 turns,"
        " or continue as planned",
        finding="the coil has 2.1 % more ohms than calculated; 853 ohm take 4951 turns",
        offered_turns=4951,
        ohm_end=(861.0, 855.0, 867.0),
        may=_PAUSED.may | {Intent.ADOPT_TURNS},
        lines=(*WINDING.lines, "measured: ohm, 3318 turns, 571.2 ohm, 22 C"),
    ),
    "wire broke": _BROKE,
    "measure first": _LONG,
    "taking off": _TAKING_OFF,
    "turning back": moment(
        _TAKING_OFF,
        headline="turning back",
        advice="the spindle turns back slowly: take the wire up by hand",
        turns=4981.0,
        truth=CountTruth(19924, 19924, 19924),
        speed_rpm=60.0,
        off_turns=19.0,
        unwinds=True,
        may=TALK,
    ),
    "measured": moment(
        SCENES["complete"],
        measured=(861.4, 22.0),
        finding="861.4 ohm at 22 C is 854.7 ohm at 20 C, inside the band",
    ),
}
