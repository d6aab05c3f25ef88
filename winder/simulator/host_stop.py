"""What it costs to let the host stop the spindle: a baseline for comparison, with the same physics.

A host that knows the count from statuses says stop when it sees the target in one. The status comes up
to one status period after the edge, the stop takes its way, and only then is the drive cut and the brake
put on, at full speed. A board that stops on the edge by itself, from a creep, is measured against this.
"""

from __future__ import annotations

import random

from firmware_protocol.messages import STATUS_PERIOD_MS

from .build import Build
from .control import TICK_S
from .spindle import Spindle


def host_stop_overrun(build: Build, speed_rpm: float, latency_s: float, seed: int) -> float:
    """Turns beyond the target when a host stops from ``speed_rpm`` at this latency.

    ``latency_s`` is the whole way of status and stop, there and back; the wait for the status that
    shows the target is drawn from one status period. A speed that the drive cannot hold is lowered to
    what full duty gives.
    """
    spindle = Spindle(build)
    wait_s = random.Random(seed).uniform(0.0, STATUS_PERIOD_MS / 1000) + latency_s
    held = (spindle.stall - spindle.coulomb) / (spindle.stall / spindle.no_load + spindle.viscous)
    spindle.speed = min(build.counts_per_s(speed_rpm), held)
    # The target lies at turn 0; the duty is the one that holds the speed.
    friction = spindle.coulomb + spindle.viscous * spindle.speed
    spindle.duty = friction / spindle.stall + spindle.speed / spindle.no_load
    spindle.advance(wait_s)
    spindle.duty, spindle.brake = 0.0, 1.0
    while spindle.speed > 0.0:
        spindle.advance(TICK_S)
    return spindle.turns
