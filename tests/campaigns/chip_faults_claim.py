"""What a host may claim of the count, from nothing but the statuses it heard: the one place that knows the rule.

The count is exact unless the board itself says that it may not be. Edges that nothing explains (unattributed,
implausible) may have been real or not: so many either way. After a trip that puts the sensor or the speed in question
nobody knows what passed since the sensor was last believed: not less than was counted then, and not more than the
machine's highest speed allows until it rests. A reset takes the count away: the same, from the last status before it.

On one channel a false pulse that comes as late as a true one is counted and not told. Edges told near to each other,
or with such a trip, are a storm: what was counted in it, and so shortly before and behind it, may be false.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from firmware_protocol.messages import State, Status, Trip

EXACT, BETWEEN = "exact", "between"
SUSPECT_S = 0.3  # counts that came so shortly before such a trip are in question too
STATUS_S = 0.06  # between two statuses
NEAR_S = 2.0  # told edges no further apart are one storm
ONE_SPANS = 2  # counts between the two edges that are told of one disturbance
REACH_GAPS, REACH_S = 3.0, 0.1  # before and behind it: mean gaps between told edges, and no less
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


def _told_at(ours: list[Heard]) -> list[float]:
    """When each edge was told."""
    pairs = pairwise(ours)
    return [b.at_s for a, b in pairs for _ in range(b.status.implausible - a.status.implausible)]


def _may_be_one(ours: list[Heard], run: list[float]) -> bool:
    """One disturbance is told twice at most: at once, or at the next edge."""
    counts = [one.status.count for one in ours if run[0] <= one.at_s <= run[-1]]
    return len(run) == 1 or (len(run) == 2 and counts[-1] - counts[0] <= ONE_SPANS)


def _storms(ours: list[Heard]) -> list[tuple[float, float]]:
    """From when to when, s: runs of told edges, and a trip that questions sensor or speed as one more."""
    trip = next((one for one in ours if one.status.trip in DOUBTFUL), None)
    rest_s = _rest_s(ours, trip.at_s) if trip else 0.0
    asks = [trip.at_s] if trip else []
    runs: list[list[float]] = []
    for at_s in sorted(_told_at(ours) + asks):
        if runs and (at_s - runs[-1][-1] <= NEAR_S or (trip and trip.at_s <= at_s <= rest_s)):
            runs[-1].append(at_s)
        else:
            runs.append([at_s])
    found = []
    for run in runs:
        tripped = trip is not None and trip.at_s in run
        if len(run) < 2 if tripped else _may_be_one(ours, run):
            continue
        known = [at_s for at_s in run if trip is None or not tripped or at_s <= trip.at_s]
        gap_s = (known[-1] - known[0]) / max(len(known) - 1, 1)
        reach_s = max(SUSPECT_S if tripped else REACH_S, REACH_GAPS * gap_s)
        found.append((run[0] - reach_s, (max(run[-1], rest_s) if tripped else run[-1]) + reach_s))
    return found


def _stormed(ours: list[Heard]) -> int:
    """Counts that came in a storm."""
    storms = _storms(ours)
    pairs = pairwise(ours)
    return sum(
        b.status.count - a.status.count
        for a, b in pairs
        if any(begin <= b.at_s and a.at_s <= end for begin, end in storms)
    )


def claim(
    heard: list[Heard],
    wind: int,
    rate_max_cps: float,
    coasting_s: float,
    *,
    one_channel: bool = False,
) -> Claim:
    """Of the wind that these statuses tell of. Counts; ``coasting_s``: the machine's, from its highest speed."""
    ours = [one for one in heard if one.status.wind == wind]
    last = ours[-1].status
    doubt = last.unattributed + last.implausible
    stormed = _stormed(ours) if one_channel else 0
    low, high = max(last.count - doubt - stormed, 0), last.count + doubt
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
