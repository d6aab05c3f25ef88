"""How long a plan takes, by trapezoids.

A leg of n turns at speed v takes n / v, and more for every change of speed: going from u to v at the
acceleration a takes (v - u)^2 / (2 a v) longer than the same turns at v (a slower leg entered fast takes
as much less). A stop is a change to the creep speed and half a turn of creeping. Pauses last as long as the
person likes and are not in it.
"""

from __future__ import annotations

from collections.abc import Iterable

from winder.plan.model import AtEnd, Leg

CREEP_TURNS = 0.5  # crept before a stop, about


def duration_s(legs: Iterable[Leg], counts_per_turn: int) -> float:
    """Seconds of motion from the first turn to the last stop; an estimate, good to some per cent."""
    total_s = 0.0
    entered = 0.0  # speed, turns/s
    begun = 0
    for leg in legs:
        speed, acceleration = leg.speed_rpm / 60, leg.acceleration_rpm_s / 60
        change = (speed - entered) ** 2 / (2 * acceleration * speed)
        total_s += (leg.end_counts - begun) / counts_per_turn / speed
        total_s += change if speed >= entered else -change
        entered = speed
        if leg.at_end is not AtEnd.CONTINUE:
            creep = leg.creep_rpm / 60
            total_s += (speed - creep) ** 2 / (2 * acceleration * speed)
            total_s += CREEP_TURNS * (1 / creep - 1 / speed)
            entered = 0.0
        begun = leg.end_counts
    return total_s
