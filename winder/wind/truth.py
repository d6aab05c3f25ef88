"""How sure the count is, as arithmetic on ``CountTruth``.

The count is exact as long as a board that saw every edge reports it. It stops being exact when edges
came that nothing drove and no direction sense explains (the spindle rocks: k edges may have gone
either way), when the board lost its memory, when the sensor or the wire failed. Then it is *between*
two bounds, with the reason, until a person vouches for a number. What was doubted stays doubted when
turns are added: bounds only shift together or widen. A person who vouches makes the count *vouched*,
never exact again.

After a reset in motion nobody counted: low is the count last on record, high adds what the spindle
can have made since. All speeds are taken ``SPEED_OVERSHOOT`` above the plan's, because a loop that
sees its speed only from a few edges a turn hunts around it.
"""

from __future__ import annotations

import math
from dataclasses import replace

from firmware_protocol.messages import LEASE_MS, Kept, Status, Welcome
from winder.machine.model import MachineProfile
from winder.plan.model import Leg, Plan

from .model import Certainty, CountTruth

COMMIT_GAP_S = 0.5  # a count is on record at least this often while moving
LEASE_S = LEASE_MS / 1000
SPEED_OVERSHOOT = 1.15  # a loop on one edge a turn was seen 14 % off its speed
UNDRIVEN_MAX = 0xFFFF  # the status counts edges that nothing drove up to here
LEAST_RPM_S = 1.0  # a slower loss of speed is a profile that was not filled in
TOUCH_TURNS = 1  # a spindle left alone, when nobody counted: so far either way (no source)

TURNED_MEANWHILE = "the spindle may have been turned while nobody counted"
RESET_IN_MOTION = "the board was reset while winding"


def exact(count: int) -> CountTruth:
    return CountTruth(Certainty.EXACT, count, count)


def vouched(count: int, by: str, why: str) -> CountTruth:
    return CountTruth(Certainty.VOUCHED, count, count, by, why)


def between(low: int, high: int, why: str, last_sure: int | None = None) -> CountTruth:
    assert low <= high
    return CountTruth(Certainty.BETWEEN, low, high, "", why, last_sure)


def is_sharp(truth: CountTruth) -> bool:
    """One number, whether counted or vouched for."""
    return truth.certainty is not Certainty.BETWEEN


def moved(truth: CountTruth, counts: int) -> CountTruth:
    """The truth after ``counts`` more, all of them counted."""
    if not counts:
        return truth
    sure = None if truth.last_sure is None else truth.last_sure + counts
    return replace(truth, low=truth.low + counts, high=truth.high + counts, last_sure=sure)


def widened(truth: CountTruth, down: int, up: int, why: str) -> CountTruth:
    """The truth with a doubt more: true counts may be ``down`` fewer or ``up`` more."""
    assert down >= 0 and up >= 0
    if truth.certainty is Certainty.BETWEEN and truth.why and why not in truth.why:
        why = f"{truth.why}; {why}"
    elif truth.certainty is Certainty.BETWEEN and truth.why:
        why = truth.why
    low = truth.low - down
    if truth.low >= 0:
        low = max(0, low)  # nobody takes off more turns than there are
    return between(low, truth.high + up, why, truth.last_sure)


def rocked(truth: CountTruth, edges: int) -> CountTruth:
    """``edges`` that nothing drove, without a sense of direction: so many either way."""
    if not edges:
        return truth
    number = "1 edge" if edges == 1 else f"{edges} edges"
    rocking = widened(truth, edges, edges, f"{number} came while nothing drove the spindle")
    return replace(rocking, last_sure=None)


def by_hand(truth: CountTruth, count: int, undriven: int) -> CountTruth:
    """Turned by hand under a sensor without direction: as sure as the hand that turned one way only."""
    if undriven >= UNDRIVEN_MAX:
        return widened(truth, 0, UNDRIVEN_MAX, "the board's counter of undriven edges is full")
    if count and truth.certainty is Certainty.EXACT:
        return vouched(truth.low, "operator", "turned by hand, in one direction only")
    return truth


def added(earlier: CountTruth | None, later: CountTruth) -> CountTruth:
    """The coil's truth: the winds before and this one."""
    if earlier is None:
        return later
    low, high = earlier.low + later.low, earlier.high + later.high
    reasons = [truth.why for truth in (earlier, later) if not is_sharp(truth)]
    if reasons:
        return between(low, high, "; ".join(dict.fromkeys(reasons)))
    for truth in (later, earlier):
        if truth.certainty is Certainty.VOUCHED:
            return vouched(low, truth.by, truth.why)
    return exact(low)


def turns_words(counts: int, counts_per_turn: int, rounding: int = 0) -> str:
    """Turns with at most two decimals; ``rounding`` -1 downwards, +1 upwards, 0 to the nearest."""
    whole, rest = divmod(counts, counts_per_turn)
    if not rest:
        return str(whole)
    hundredths = rest * 100 / counts_per_turn
    part = math.floor(hundredths) if rounding < 0 else math.ceil(hundredths - 0.5)
    if rounding > 0:
        part = math.ceil(hundredths)
    return f"{whole + part / 100:.2f}".rstrip("0").rstrip(".")


def words(truth: CountTruth, counts_per_turn: int) -> str:
    """A truth for people: the turns, how sure, and why."""
    if truth.certainty is Certainty.BETWEEN:
        low = turns_words(truth.low, counts_per_turn, -1)
        high = turns_words(truth.high, counts_per_turn, 1)
        return f"between {low} and {high} turns: {truth.why}"
    turns = turns_words(truth.low, counts_per_turn)
    if truth.certainty is Certainty.VOUCHED:
        return f"vouched for by {truth.by}: {turns} turns ({truth.why})"
    return f"exact: {turns} turns"


def leg_at(plan: Plan, count: int) -> int:
    """Index of the leg that a count of this wind lies in; the last one beyond the end."""
    for index, leg in enumerate(plan.legs):
        if count < leg.end_counts:
            return index
    return len(plan.legs) - 1


def _run_on(leg: Leg, machine: MachineProfile, counts_per_turn: int, unseen_s: float) -> float:
    """Counts from the leg's highest speed: the unseen time, coming to rest, and coasting."""
    speed_cps = leg.speed_rpm * SPEED_OVERSHOOT * counts_per_turn / 60
    friction_cps2 = max(machine.coasting_rpm_s, LEAST_RPM_S) * counts_per_turn / 60
    rest_s = leg.speed_rpm * SPEED_OVERSHOOT / max(leg.acceleration_rpm_s, LEAST_RPM_S)
    return speed_cps * (unseen_s + rest_s) + speed_cps * speed_cps / (2 * friction_cps2)


def run_on_counts(
    plan: Plan, machine: MachineProfile, count: int, unseen_s: float = COMMIT_GAP_S + LEASE_S
) -> int:
    """Most counts the spindle can make after ``count`` was last on record, until it rests.

    The leg's highest speed times (``unseen_s`` + time to come to rest), and the coasting; legs that
    may be reached on the way count with theirs.
    """
    index = leg_at(plan, count)
    reach = 0.0
    for later in range(index, len(plan.legs)):
        if later > index and count + reach < plan.legs[later - 1].end_counts:
            break
        run = _run_on(plan.legs[later], machine, plan.counts_per_turn, unseen_s)
        reach = max(reach, run)
    return math.ceil(reach) + 1


def truth_after_break(
    last: CountTruth,
    *,
    wind: int,
    count: int,
    moving: bool,
    plan: Plan,
    machine: MachineProfile,
    welcome: Welcome | None = None,
    status: Status | None = None,
) -> CountTruth:
    """The coil's truth after a run that did not end properly, from what is on record.

    ``last`` is the coil's truth with the last committed ``count`` of ``wind``; ``moving`` says that no
    rest was recorded after it. ``welcome`` and ``status`` are what the board says now, if it was heard.
    A board that still has the wind open went on counting; one that was reset has at best its kept record.
    """
    sure = last.low if is_sharp(last) else last.last_sure
    if status is not None and status.wind == wind and status.count >= count:
        return rocked(moved(last, status.count - count), status.unattributed)
    touch = TOUCH_TURNS * plan.counts_per_turn
    kept = kept_count(welcome, wind, count)
    if kept is not None and (moving or kept == count):
        at_rest = moved(last, kept - count)
        sure = None if sure is None else sure + kept - count
        return replace(widened(at_rest, touch, touch, TURNED_MEANWHILE), by=last.by, last_sure=sure)
    if moving:
        run_on = run_on_counts(plan, machine, count)
        why = "the run broke off while winding" if welcome is None else RESET_IN_MOTION
        return replace(widened(last, 0, run_on, why), by=last.by, last_sure=sure)
    return replace(widened(last, touch, touch, TURNED_MEANWHILE), by=last.by, last_sure=sure)


def kept_count(welcome: Welcome | None, wind: int, count: int) -> int | None:
    """What the board kept of this wind at rest, not below the last count on record; else None."""
    if welcome is None or welcome.kept_wind != wind or welcome.kept_count < count:
        return None
    at_rest = Kept.VALID | Kept.AT_REST
    return welcome.kept_count if welcome.kept_flags & at_rest == at_rest else None
