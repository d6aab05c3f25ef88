"""The control law, of plain numbers: what the board's loop reckons at every tick, and for many ticks in one go."""

from __future__ import annotations

import math

INTEGRAL_PER_S = 3.0
INTEGRAL_STEP_MAX = 0.35  # of one error, however old it is
CORRECTION_PER_S = 12.0  # acceleration asked for by one unit of speed error
CORRECTION_STEP_MAX = 0.3  # of one error; edges far apart weaken the correction


def speed_wanted(
    reference: float, change: float, top: float, left: float, creep: float, stop_accel: float
) -> float:
    """The speed one tick on, at most by ``change``; ``left``: counts to where it must have come down to ``creep``."""
    wanted = reference + change if reference < top else reference - change
    if wanted > top if reference < top else wanted < top:
        wanted = top
    bound = creep if left <= 0.0 else math.sqrt(creep * creep + 2 * stop_accel * left)
    return bound if bound < wanted else wanted


def held(error: float, duty: float, brake: float, brake_duty: float | None) -> bool:
    """Whether the drive, or the brake, gives all it can against this error already."""
    if error > 0:
        return duty >= 1.0
    return error < 0 and duty == 0.0 and (brake_duty is None or brake >= 1.0)


def share_kept(stretch: float) -> float:
    """How much of an error over this time stays in the integral."""
    share = INTEGRAL_PER_S * stretch
    return share if share < INTEGRAL_STEP_MAX else INTEGRAL_STEP_MAX


def share_now(stretch: float) -> float:
    """How much of an error over this time is corrected at once."""
    share = CORRECTION_STEP_MAX / stretch
    return share if share < CORRECTION_PER_S else CORRECTION_PER_S
