"""What the motor can do: which way plus is, its speeds, how it slows, and how slowly it still turns evenly."""

from __future__ import annotations

import math

from firmware_protocol.messages import CREEP_RATE_LEAST_MCPS, Has, Move, State, Status
from firmware_protocol.records import dataclass

from .asking import agree, measured, yes
from .bench import Tripped
from .runs import Found, Run, find, run
from .under_way import Lesson, down
from .written import SAFE_SHARE

SLOW_SHARE = 0.1  # of the fastest that the board drives
COASTS_SHARE = 0.1  # of what the brake does: friction alone is seldom less
SPREAD = 0.1  # by which two runs may differ
STEADY_SHARE = 0.25  # a speed that stays so near its middle is steady; our judgement, no source
STEADY_S, STEADY_COUNTS, STEADY_MOST_S = 4.0, 24, 120.0
LADDER = (16, 8, 4, 2, 1)  # times the slowest that the protocol knows, downward
CURVE = (0.3, 0.6, 1.0)  # of the highest speed
HELD_SHARE = 0.02  # by which a speed that was held may be off what was asked for


def learn_direction(lesson: Lesson) -> None:
    """Of a machine without a motor: which way the person turned."""
    lesson.learned.plus_clockwise = yes(
        lesson.person, "Seen from the free end, did you turn it clockwise?"
    )


def learn_slow_start(lesson: Lesson) -> None:
    board = lesson.board
    agree(
        lesson.person,
        "Take bobbin and wire off. Next the motor turns the spindle slowly, about two turns.",
    )
    most = board.welcome.rate_max_mcps
    slow = max(round(most * SLOW_SHARE), min(CREEP_RATE_LEAST_MCPS, most))
    board.fresh_wind()
    counts = max(2 * lesson.learned.counts_per_turn, 2)
    board.move(lambda: board.make(Move, counts=counts, rate_mcps=slow, accel_mcps2=slow), 60.0)
    lesson.learned.plus_clockwise = yes(
        lesson.person, "Seen from the free end, did it turn clockwise?"
    )


# --- speeding up and slowing ------------------------------------------------------------------------


def learn_speed(lesson: Lesson) -> None:
    seen = measured(lesson.person, lambda: _speed(lesson))
    per_rpm, learned = lesson.per_rpm, lesson.learned
    lesson.slows_rpm_s = slows = down(seen.fall_cps2 / per_rpm)
    learned.speed_rpm_max = _top_rpm(lesson, seen)
    learned.acceleration_rpm_s = down(SAFE_SHARE * seen.rise_cps2 / per_rpm)
    if lesson.board.welcome.has & Has.BRAKE:
        learned.braking_rpm_s = slows
        learned.coasting_rpm_s = down(slows * COASTS_SHARE)
        lesson.tell(
            f"That was the brake. How it coasts without it cannot be seen: {learned.coasting_rpm_s:.0f} rpm/s is "
            "written, on the cautious side."
        )
    else:
        learned.coasting_rpm_s = slows


def _speed(lesson: Lesson) -> Found:
    per_rpm, most = lesson.per_rpm, lesson.board.welcome.rate_max_mcps
    rpm = most / 1000 / per_rpm
    agree(
        lesson.person,
        f"Next it runs up to {rpm:.0f} rpm, the fastest that the board drives, up to 6 times, each time harder.",
    )

    def clears(what: str) -> bool:
        return yes(
            lesson.person,
            f"It cannot go harder: {what}. Look at the machine. Clear the trip and go on with what was found so far?",
        )

    seen = find(lesson.board, most, clears)
    if seen.tripped:
        lesson.tell(f"Harder than that {seen.tripped}; what it did before is taken.")
    lesson.tell(
        f"At most {_top_rpm(lesson, seen):.0f} rpm. It speeds up by {seen.rise_cps2 / per_rpm:.0f} rpm/s, of which "
        f"{down(SAFE_SHARE * seen.rise_cps2 / per_rpm):.0f} are relied on. It slows down by "
        f"{seen.fall_cps2 / per_rpm:.0f} rpm/s; the runs differed by {percent(seen.apart)}."
    )
    if seen.apart > SPREAD:
        lesson.tell("The runs slowed down differently; the middle one is taken.")
    return seen


def _top_rpm(lesson: Lesson, seen: Found) -> float:
    return down(min(seen.top_cps, lesson.board.welcome.rate_max_mcps / 1000) / lesson.per_rpm)


# --- how slowly it still turns evenly -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Steady:
    rate_mcps: int
    spread: float  # share of its middle
    found: bool = True  # False: not even the fastest of the ladder was steady


def learn_steady(lesson: Lesson) -> None:
    steady = measured(lesson.person, lambda: _steady(lesson))
    lesson.learned.steady_rpm = up(steady.rate_mcps / 1000 / lesson.per_rpm)
    if not steady.found:
        lesson.tell(
            f"No slower speed was even: {lesson.learned.steady_rpm:g} rpm is written, on the cautious side."
        )


def _steady(lesson: Lesson) -> Steady:
    agree(lesson.person, "Next it turns slower and slower, at most 5 times, a few seconds each.")
    most = lesson.board.welcome.rate_max_mcps
    rates = [
        step * CREEP_RATE_LEAST_MCPS for step in LADDER if step * CREEP_RATE_LEAST_MCPS <= most / 4
    ]
    best: Steady | None = None
    for rate in rates or [min(CREEP_RATE_LEAST_MCPS, most)]:
        spread = _spread_at(lesson, rate)
        rpm = rate / 1000 / lesson.per_rpm
        even = spread is not None and spread <= STEADY_SHARE
        said = (
            "it does not turn on" if spread is None else f"within {percent(spread)} of its middle"
        )
        lesson.tell(f"{rpm:.3g} rpm: {said}, {'steady' if even else 'not steady'}.")
        if not even or spread is None:
            return best or Steady(rate, spread or 1.0, found=False)
        best = Steady(rate, spread)
    assert best is not None
    return best


def _spread_at(lesson: Lesson, rate_mcps: int) -> float | None:
    """How far its speed strays; None: the board tripped, which the person cleared."""
    board = lesson.board
    counts = max(round(rate_mcps / 1000 * STEADY_S), STEADY_COUNTS)
    board.fresh_wind()
    try:
        heard = board.move(
            lambda: board.make(Move, counts=counts, rate_mcps=rate_mcps, accel_mcps2=rate_mcps),
            STEADY_MOST_S,
        )
    except Tripped as trip:
        if not yes(lesson.person, f"{trip.what}. Look at the machine. Clear the trip and go on?"):
            raise
        board.clear_trip()
        return None
    return spread_of(heard)


def spread_of(heard: list[Status]) -> float:
    """Of the speeds over the middle of a movement: half the span, as a share of their middle."""
    moving = [s.rate_mcps for s in heard if s.state in (State.SETTING_UP, State.WINDING)]
    quarter = len(moving) // 4
    middle = moving[quarter + 1 : len(moving) - quarter]
    if not middle or min(middle) <= 0:
        return 1.0
    low, high = float(min(middle)), float(max(middle))
    return (high - low) / (high + low)


def percent(share: float) -> str:
    """Upward: nothing is even within 0 %."""
    return f"{max(math.ceil(100 * share - 1e-9), 1)} %"


def up(rpm: float) -> float:
    """To three figures, upward: a speed below which nothing is relied on."""
    digits = 2 - math.floor(math.log10(rpm))
    return math.ceil(rpm * 10.0**digits - 1e-9) / 10.0**digits


# --- three speeds ---------------------------------------------------------------------------------------


def learn_curve(lesson: Lesson) -> None:
    reached = measured(lesson.person, lambda: _curve(lesson))
    learned = lesson.learned
    assert learned.speed_rpm_max is not None
    learned.speed_rpm_max = min(learned.speed_rpm_max, down(reached))


def _curve(lesson: Lesson) -> float:
    """The speed that the last of them reached, rpm."""
    most, per_rpm, learned = lesson.board.welcome.rate_max_mcps, lesson.per_rpm, lesson.learned
    assert learned.acceleration_rpm_s is not None
    named = ", ".join(f"{share * most / 1000 / per_rpm:.0f}" for share in CURVE)
    agree(lesson.person, f"Next it runs at three speeds: {named} rpm.")
    accel = learned.acceleration_rpm_s * per_rpm * 1000
    reached = 0.0
    for share in CURVE:
        rate = max(round(share * most), min(CREEP_RATE_LEAST_MCPS, most))
        seen = run(lesson.board, rate, max(round(accel), 1), rate / accel)
        reached = seen.top_cps / per_rpm
        lesson.tell(_held(rate / 1000 / per_rpm, reached, seen))
    return reached


def _held(asked_rpm: float, reached_rpm: float, seen: Run) -> str:
    said = f"{asked_rpm:.0f} rpm asked, {reached_rpm:.0f} rpm reached, even within {percent(seen.spread)}"
    if reached_rpm < (1 - HELD_SHARE) * asked_rpm:
        return f"{said}: more the motor does not give."
    return f"{said}."
