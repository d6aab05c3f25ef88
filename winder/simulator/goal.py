"""What a board drives for: limits and the next stop, from where the count is now. Counts and seconds."""

from __future__ import annotations

import math

from firmware_protocol.messages import (
    CREEP_RATE_LEAST_MCPS,
    RATE_LEAST_MCPS,
    EndAction,
    Move,
    PlanLeg,
)
from firmware_protocol.records import dataclass

CREEP_LEAST_CPS = CREEP_RATE_LEAST_MCPS / 1000
RATE_LEAST_CPS = RATE_LEAST_MCPS / 1000


@dataclass(frozen=True, slots=True)
class Goal:
    to_stop: int  # counts left to the place to stand at
    to_cut: int  # and to where the drive is cut
    accel: float
    stop_accel: float
    top: float
    creep: float
    leg: int = 255
    leg_end: int = 1 << 40


def goal_of_move(move: Move, left: int) -> Goal:
    """``left``: counts to go, without sign."""
    accel, top = move.accel_mcps2 / 1000, move.rate_mcps / 1000
    return Goal(left, left, accel, accel, top, min(top, max(CREEP_LEAST_CPS, math.sqrt(accel))))


def goal_of_plan(legs: tuple[PlanLeg, ...], count: int, pace: float) -> Goal:
    """The leg that the count is in, and the leg at whose end the spindle stops next."""
    last = len(legs) - 1
    index = next((i for i, leg in enumerate(legs) if leg.end_count > count), last)
    here = legs[index]
    stop = next(leg for leg in legs[index:] if leg.end_action != EndAction.CONTINUE)
    top = max(here.rate_mcps / 1000 * pace, RATE_LEAST_CPS)
    return Goal(
        to_stop=stop.end_count - count,
        to_cut=stop.end_count - count - stop.coast_counts,
        accel=here.accel_mcps2 / 1000,
        stop_accel=stop.accel_mcps2 / 1000,
        top=top,
        creep=min(top, stop.creep_mcps / 1000),
        leg=index,
        leg_end=here.end_count,
    )
