"""What a motor can do, from runs without a bobbin: its speed, how it speeds up, coasts and brakes.

A run is one leg that keeps its speed up to its last count: its creep is its speed. There the drive is cut, and the
brake takes the spindle, or friction where there is none. The changes of speed are the slopes of what the board
itself saw, by its own clock. How a spindle that has a brake coasts cannot be seen so: no command lets it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import median_low

from firmware_protocol.messages import EndAction, PlanLeg, Start, State, Status
from firmware_protocol.records import dataclass

from .bench import TaughtBoard, Tripped

RISES_S = (4.0, 2.0, 1.0, 0.5, 0.25, 0.12)  # from rest to full speed, asked for one after the other
FOLLOWS_SHARE = 0.9  # of what was asked: less, and the motor gives all it has
STEADY_S = 1.5
SPREAD_S = 1.0
RUN_MOST_S = 60.0
RISE = (0.1, 0.85)  # of the top speed, between which the slope is taken
FALL = (0.15, 0.9)
LEAST_POINTS = 2
ENOUGH_POINTS = 12  # fewer, and the way behind the cut says more than the slope


@dataclass(frozen=True, slots=True)
class Run:
    """All in counts and seconds."""

    top_cps: float
    rise_cps2: float | None  # None: too few statuses saw it
    fall_cps2: float | None
    run_on_counts: int  # behind the place where the drive was cut
    spread: float = 0.0  # half the span of the speeds before the cut, as a share of their middle


def leg_of(end_count: int, rate_mcps: int, accel_mcps2: int, creep_mcps: int) -> PlanLeg:
    """One leg to its end, without a guide."""
    return PlanLeg(
        token=0,
        generation=1,
        index=0,
        end_action=EndAction.COMPLETE,
        spindle=1,
        end_count=end_count,
        rate_mcps=rate_mcps,
        accel_mcps2=accel_mcps2,
        creep_mcps=creep_mcps,
        coast_counts=0,
        pitch_nm=0,
        pitch_counts=1,
        left_um=0,
        right_um=0,
        dwell_counts=0,
        scatter_seed=0,
    )


@dataclass(frozen=True, slots=True)
class Found:
    """Of all runs: the least top speed, the middle of the falls; counts and seconds. ``tripped``: what the board said to the hardest."""

    top_cps: float
    rise_cps2: float
    fall_cps2: float
    apart: float  # share by which the falls differed
    tripped: str = ""


def find(board: TaughtBoard, rate_mcps: int, clears: Callable[[str], bool]) -> Found:
    """Runs that speed up harder and harder, until the motor does not follow. Raises ``WinderError``.

    A trip is cleared by a person alone: ``clears`` is told what happened and gives their word.
    """
    runs: list[Run] = []
    rise, tripped = 0.0, ""
    for rise_s in RISES_S:
        accel = round(rate_mcps / rise_s)
        try:
            seen = run(board, rate_mcps, accel, rise_s)
        except Tripped as trip:
            if not runs or not clears(trip.what):
                raise
            tripped = trip.what
            board.clear_trip()
            break
        runs.append(seen)
        if seen.rise_cps2 is None:  # over before it could be looked at
            break
        rise = max(rise, min(seen.rise_cps2, accel / 1000))
        if seen.rise_cps2 < FOLLOWS_SHARE * accel / 1000:
            break
    falls = [one.fall_cps2 for one in runs if one.fall_cps2]
    if not rise or not falls:
        raise board.trouble("too few counts a second to measure the speed")
    return Found(
        min(one.top_cps for one in runs),
        rise,
        median_low(falls),
        1 - min(falls) / max(falls),
        tripped,
    )


def run(board: TaughtBoard, rate_mcps: int, accel_mcps2: int, rise_s: float) -> Run:
    """One run in a wind of its own: up to speed, some of it, and the end."""
    counts = max(round(rate_mcps / 1000 * (rise_s / 2 + STEADY_S + 0.5)), 8)
    board.fresh_wind()
    generation = board.load(leg_of(counts, rate_mcps, accel_mcps2, creep_mcps=rate_mcps))
    heard = board.move(lambda: board.make(Start, generation=generation), RUN_MOST_S)
    return seen_in(heard, counts)


def seen_in(heard: Sequence[Status], cut_at: int) -> Run:
    """The figures of a run that was heard from its start to its rest."""
    winding = [s for s in heard if s.state is State.WINDING]
    slowing = [s for s in heard if s.state is State.SLOWING]
    top = _steady_cps(winding)
    rest_count = heard[-1].count
    run_on = rest_count - cut_at
    if len(slowing) < ENOUGH_POINTS and run_on > 0:
        fall: float | None = -top * top / (2 * run_on + 1)  # v squared over twice the way
    else:
        fall = _slope(slowing, top, FALL)
    return Run(
        top,
        _slope([s for s in winding if s.rate_mcps <= top * 1000 * RISE[1]], top, RISE),
        None if fall is None else -fall,
        run_on,
        _spread(winding),
    )


def _spread(winding: Sequence[Status]) -> float:
    """Over the last second before the cut."""
    rates = [s.rate_mcps for s in winding if _passed_s(s, winding[-1]) <= SPREAD_S]
    if not rates or min(rates) <= 0:
        return 1.0
    return (max(rates) - min(rates)) / (max(rates) + min(rates))


def _steady_cps(winding: Sequence[Status]) -> float:
    """Over the last stretch before the cut, by counts and the board's clock."""
    if len(winding) < 2:
        return 0.0
    last = winding[-1]
    since = [s for s in winding if _passed_s(s, last) <= STEADY_S]
    first = since[0]
    passed_s = _passed_s(first, last)
    return (last.count - first.count) / passed_s if passed_s else 0.0


def _passed_s(first: Status, last: Status) -> float:
    return ((last.uptime_ms - first.uptime_ms) & 0xFFFF_FFFF) / 1000


def _slope(heard: Sequence[Status], top_cps: float, shares: tuple[float, float]) -> float | None:
    """Counts/s2, by least squares through the speeds that lie between these shares of the top."""
    low, high = (share * top_cps * 1000 for share in shares)
    points = [
        (_passed_s(heard[0], s), s.rate_mcps / 1000) for s in heard if low <= s.rate_mcps <= high
    ]
    if len(points) < LEAST_POINTS:
        return None
    mean_t = sum(t for t, _ in points) / len(points)
    mean_v = sum(v for _, v in points) / len(points)
    spread = sum((t - mean_t) ** 2 for t, _ in points)
    if not spread:
        return None
    return sum((t - mean_t) * (v - mean_v) for t, v in points) / spread
