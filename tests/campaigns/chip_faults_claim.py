"""What a host may claim of the count, from nothing but the statuses it heard: the one place that knows the rule.

The count is exact unless the board itself says that it may not be. Edges that nothing explains (unattributed,
implausible) may have been real or not: so many either way. After a trip that puts the sensor or the speed in question
nobody knows what passed since the sensor was last believed: not less than was counted then, and not more than the
machine's highest speed allows until it rests. A reset takes the count away: the same, from the last status before it.
"""

from __future__ import annotations

from dataclasses import dataclass

from firmware_protocol.messages import State, Status, Trip

EXACT, BETWEEN = "exact", "between"
SUSPECT_S = 0.3  # counts that came so shortly before such a trip are in question too
STATUS_S = 0.06  # between two statuses
MOVING = (State.WINDING, State.SLOWING, State.SETTING_UP)
DOUBTFUL = (
    *(Trip.OVERSPEED, Trip.SENSOR_IMPLAUSIBLE, Trip.STALLED, Trip.WATCHDOG),
    *(Trip.NOT_STOPPED, Trip.TURNED_UNDRIVEN, Trip.RESET_IN_MOTION),
)


@dataclass(frozen=True, slots=True)
class Claim:
    """Counts of the wind."""

    certainty: str
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Heard:
    """One status and when it came, s."""

    at_s: float
    status: Status


def _believed(heard: list[Heard], until_s: float) -> Heard:
    """The newest status, so long before, at which the count was one that it had not yet been."""
    best = heard[0]
    for one in heard:
        if one.at_s > until_s:
            break
        if one.status.count > best.status.count:
            best = one
    return best


def _rest_s(heard: list[Heard], since_s: float) -> float:
    """When the board first said, from then on for good, that nothing turns."""
    at_s = heard[-1].at_s
    for one in reversed(heard):
        if one.at_s < since_s or one.status.state in MOVING or one.status.rate_mcps:
            break
        at_s = one.at_s
    return at_s


def claim(heard: list[Heard], wind: int, rate_max_cps: float, coasting_s: float) -> Claim:
    """Of the wind that these statuses tell of. Counts; ``coasting_s``: the machine's, from its highest speed."""
    ours = [one for one in heard if one.status.wind == wind]
    last = ours[-1].status
    doubt = last.unattributed + last.implausible
    low, high = last.count - doubt, last.count + doubt
    tripped = next((one for one in heard if one.status.trip), None)
    lost = heard[-1].status.boot != last.boot or heard[-1].status.wind != wind
    if lost:
        seconds = heard[-1].at_s - ours[-1].at_s + STATUS_S
        high += round(rate_max_cps * min(seconds, STATUS_S + coasting_s)) + 1
    elif tripped and tripped.status.trip in DOUBTFUL:
        good = _believed(ours, tripped.at_s - SUSPECT_S)
        seconds = _rest_s(ours, tripped.at_s) - good.at_s + STATUS_S
        low = min(low, good.status.count)
        high = max(high, good.status.count + round(rate_max_cps * seconds) + 1)
    certainty = EXACT if low == high else BETWEEN
    return Claim(certainty, low, high)
