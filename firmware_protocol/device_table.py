"""The life of a board: one transition table, and in which states each command is heard.

A happening that the table lacks for a state cannot happen there; a command whose happening is lacking
is answered WRONG_STATE. The state picture in the documents is drawn from ``BOARD_TABLE``, so the table
is plain data. Every happening raises the board's revision by one. A board boots into STILL, or into
TRIPPED when the watchdog reset it or it remembers that something was in motion. At rest only
motion with the drive off trips; a trip may give way to one that isolates the motor.
"""

from __future__ import annotations

import enum

from .far import TraverseHome, TraverseMove
from .messages import (
    ClearTrip,
    CloseWind,
    Move,
    OpenWind,
    Pace,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    SetTarget,
    SettleNumber,
    Start,
    State,
    TraverseMark,
    TraverseStep,
)
from .pedal import ArmPedal
from .settings import WriteSettings


class Happening(enum.Enum):
    """What can befall a board; the value is the wording in the picture."""

    WIND_OPENED = "wind opened"
    WIND_CLOSED = "wind closed"
    PLAN_IN_FORCE = "plan in force"
    STARTED = "started"
    MOVE_BEGUN = "move begun"
    STOPPED = "stop"
    LEASE_ENDED = "lease ended"
    ARRIVED = "arrived"
    RESTED_SHORT = "at rest, legs remain"
    RESTED_AT_END = "at rest, no leg remains"
    BACK_TO_STILL = "at rest after a move from still"
    BACK_TO_ARMED = "at rest after a move from armed"
    BACK_TO_PAUSED = "at rest after a move from paused"
    BACK_TO_COMPLETE = "at rest after a move from complete"
    TRIP = "trip"
    CLEARED_WITHOUT_PLAN = "cleared, no plan"
    CLEARED_UNBEGUN = "cleared, plan not begun"
    CLEARED_SHORT = "cleared, plan begun, legs remain"
    CLEARED_AT_END = "cleared, plan begun, no leg remains"


BOARD_TABLE: dict[tuple[State, Happening], State] = {
    (State.STILL, Happening.WIND_OPENED): State.STILL,
    (State.STILL, Happening.WIND_CLOSED): State.STILL,
    (State.ARMED, Happening.WIND_CLOSED): State.STILL,
    (State.PAUSED, Happening.WIND_CLOSED): State.STILL,
    (State.COMPLETE, Happening.WIND_CLOSED): State.STILL,
    (State.STILL, Happening.PLAN_IN_FORCE): State.ARMED,
    (State.ARMED, Happening.PLAN_IN_FORCE): State.ARMED,
    (State.PAUSED, Happening.PLAN_IN_FORCE): State.PAUSED,
    (State.COMPLETE, Happening.PLAN_IN_FORCE): State.PAUSED,
    (State.ARMED, Happening.STARTED): State.WINDING,
    (State.PAUSED, Happening.STARTED): State.WINDING,
    (State.STILL, Happening.MOVE_BEGUN): State.SETTING_UP,
    (State.ARMED, Happening.MOVE_BEGUN): State.SETTING_UP,
    (State.PAUSED, Happening.MOVE_BEGUN): State.SETTING_UP,
    (State.COMPLETE, Happening.MOVE_BEGUN): State.SETTING_UP,
    (State.WINDING, Happening.STOPPED): State.SLOWING,
    (State.SETTING_UP, Happening.STOPPED): State.SLOWING,
    (State.WINDING, Happening.LEASE_ENDED): State.SLOWING,
    (State.SETTING_UP, Happening.LEASE_ENDED): State.SLOWING,
    (State.WINDING, Happening.ARRIVED): State.SLOWING,
    (State.SETTING_UP, Happening.ARRIVED): State.SLOWING,
    (State.SLOWING, Happening.RESTED_SHORT): State.PAUSED,
    (State.SLOWING, Happening.RESTED_AT_END): State.COMPLETE,
    (State.SLOWING, Happening.BACK_TO_STILL): State.STILL,
    (State.SLOWING, Happening.BACK_TO_ARMED): State.ARMED,
    (State.SLOWING, Happening.BACK_TO_PAUSED): State.PAUSED,
    (State.SLOWING, Happening.BACK_TO_COMPLETE): State.COMPLETE,
    (State.WINDING, Happening.TRIP): State.TRIPPED,
    (State.SLOWING, Happening.TRIP): State.TRIPPED,
    (State.SETTING_UP, Happening.TRIP): State.TRIPPED,
    (State.STILL, Happening.TRIP): State.TRIPPED,
    (State.ARMED, Happening.TRIP): State.TRIPPED,
    (State.PAUSED, Happening.TRIP): State.TRIPPED,
    (State.COMPLETE, Happening.TRIP): State.TRIPPED,
    (State.TRIPPED, Happening.TRIP): State.TRIPPED,
    (State.TRIPPED, Happening.CLEARED_WITHOUT_PLAN): State.STILL,
    (State.TRIPPED, Happening.CLEARED_UNBEGUN): State.ARMED,
    (State.TRIPPED, Happening.CLEARED_SHORT): State.PAUSED,
    (State.TRIPPED, Happening.CLEARED_AT_END): State.COMPLETE,
}

BACK_TO: dict[State, Happening] = {
    State.STILL: Happening.BACK_TO_STILL,
    State.ARMED: Happening.BACK_TO_ARMED,
    State.PAUSED: Happening.BACK_TO_PAUSED,
    State.COMPLETE: Happening.BACK_TO_COMPLETE,
}


def states_of(happening: Happening) -> frozenset[State]:
    """The states in which it can happen."""
    return frozenset(state for state, what in BOARD_TABLE if what is happening)


IN_MOTION = frozenset((State.WINDING, State.SLOWING, State.SETTING_UP))

_AT_REST = states_of(Happening.MOVE_BEGUN)

ALLOWED: dict[type, frozenset[State]] = {
    OpenWind: states_of(Happening.WIND_OPENED),
    SetTarget: frozenset(State),
    CloseWind: states_of(Happening.WIND_CLOSED),
    SettleNumber: frozenset(State),
    ClearTrip: frozenset((State.TRIPPED,)),
    Start: states_of(Happening.STARTED),
    Move: states_of(Happening.MOVE_BEGUN),
    Pace: frozenset((State.ARMED, State.WINDING, State.PAUSED)),
    TraverseStep: states_of(Happening.MOVE_BEGUN),
    TraverseMark: _AT_REST,
    TraverseHome: _AT_REST,
    TraverseMove: _AT_REST,
    PlanBegin: states_of(Happening.PLAN_IN_FORCE),
    PlanLeg: states_of(Happening.PLAN_IN_FORCE),
    PlanCommit: states_of(Happening.PLAN_IN_FORCE),
    ArmPedal: states_of(Happening.STARTED),
    WriteSettings: frozenset((State.STILL,)),
}

NEEDS_NO_WIND: frozenset[type] = frozenset((OpenWind, WriteSettings))
NEEDS_WIND: frozenset[type] = frozenset((CloseWind, SetTarget, PlanBegin, PlanLeg, PlanCommit))
# STILL is two things: no wind open, or a wind open without a plan. These tell them apart.
