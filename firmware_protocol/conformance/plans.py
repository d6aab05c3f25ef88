"""Section 11: plans, loaded beside the one in force, whole or not at all. Nothing moves here."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..device_plan import checksum_of
from ..messages import (
    COUNT_MAX,
    CREEP_RATE_LEAST_MCPS,
    RATE_LEAST_MCPS,
    Answer,
    CloseWind,
    EndAction,
    Pace,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    State,
    Verdict,
)
from ..wire import Group
from .clauses import Unready, clause, require
from .examiner import Examiner, name, verdict_words

FIELDS = {
    n: i
    for i, n in enumerate(
        (
            *("token", "generation", "index", "end_action", "spindle", "end_count", "rate_mcps"),
            *("accel_mcps2", "creep_mcps", "coast_counts", "pitch_nm", "pitch_counts"),
            *("left_um", "right_um", "dwell_counts", "scatter_seed"),
        )
    )
}


def slow_rate_mcps(at: Examiner) -> int:
    """A tenth of what the board drives, where a control loop sees that."""
    assert at.welcome is not None
    most = at.welcome.rate_max_mcps
    return max(min(CREEP_RATE_LEAST_MCPS, most), most // 10, RATE_LEAST_MCPS)


def leg(at: Examiner, index: int, end_count: int, end: EndAction) -> PlanLeg:
    """A sound leg, slow, without a guide."""
    rate = slow_rate_mcps(at)
    return PlanLeg(
        token=at.token,
        generation=1,
        index=index,
        end_action=end,
        spindle=1,
        end_count=end_count,
        rate_mcps=rate,
        accel_mcps2=2 * rate,
        creep_mcps=min(CREEP_RATE_LEAST_MCPS, rate),
        coast_counts=0,
        pitch_nm=0,
        pitch_counts=1,
        left_um=0,
        right_um=0,
        dwell_counts=0,
        scatter_seed=0,
    )


def two_legs(at: Examiner, first: int = 40, last: int = 80) -> tuple[PlanLeg, ...]:
    return (leg(at, 0, first, EndAction.PAUSE), leg(at, 1, last, EndAction.COMPLETE))


def load(at: Examiner, legs: tuple[PlanLeg, ...]) -> Answer:
    """Begin, legs and commit; the answer to the commit. ``Unready`` where it does not come so far."""
    at.status()
    begun = at.ask(at.make(PlanBegin, generation=1, legs=len(legs)))
    if begun.verdict is not Verdict.DONE:
        raise Unready(f"PlanBegin was answered {verdict_words(begun)} (see 11.1)")
    for one in legs:
        held = at.ask(one)
        if held.verdict is not Verdict.DONE:
            raise Unready(f"a sound leg was answered {verdict_words(held)} (see 11.4)")
    return at.ask(at.make(PlanCommit, generation=1, checksum=checksum_of(legs)))


@clause(
    "11.1",
    "PlanBegin takes a generation that is neither 0 nor the one in force, and 1 to `legs_max` legs.",
    Group.LEGS,
)
def begins(at: Examiner) -> None:
    at.open_wind()
    assert at.welcome is not None
    most = at.welcome.legs_max
    at.expect(at.make(PlanBegin, generation=0, legs=1), Verdict.BAD_VALUE, 4)
    at.expect(at.make(PlanBegin, generation=1, legs=0), Verdict.BAD_VALUE, 5)
    if most < 255:
        at.expect(at.make(PlanBegin, generation=1, legs=most + 1), Verdict.BAD_VALUE, 5)
    at.expect(at.make(PlanBegin, generation=255, legs=most), Verdict.DONE)


@clause("11.2", "Without a wind no plan is begun: WRONG_STATE.", Group.LEGS)
def needs_wind(at: Examiner) -> None:
    at.status()
    at.expect(at.make(PlanBegin, generation=1, legs=1), Verdict.WRONG_STATE)
    at.expect(leg(at, 0, 9, EndAction.COMPLETE), Verdict.WRONG_STATE)
    at.expect(at.make(PlanCommit, generation=1, checksum=0), Verdict.WRONG_STATE)


@clause(
    "11.3",
    "A leg or a commit without a plan that loads is PLAN_INCOMPLETE, and so is a commit with legs missing.",
    Group.LEGS,
)
def incomplete(at: Examiner) -> None:
    at.open_wind()
    legs = two_legs(at)
    at.expect(legs[0], Verdict.PLAN_INCOMPLETE)
    at.expect(at.make(PlanCommit, generation=1, checksum=0), Verdict.PLAN_INCOMPLETE)
    at.expect(at.make(PlanBegin, generation=1, legs=2), Verdict.DONE)
    at.expect(legs[0], Verdict.DONE)
    at.expect(
        at.make(PlanCommit, generation=1, checksum=checksum_of(legs[:1])), Verdict.PLAN_INCOMPLETE
    )


@clause("11.4", "Each field of a leg is judged, in order, and the first bad one told.", Group.LEGS)
def judges_legs(at: Examiner) -> None:
    at.open_wind()
    sound, last = two_legs(at)
    assert at.welcome is not None
    most = at.welcome.rate_max_mcps
    at.expect(at.make(PlanBegin, generation=1, legs=2), Verdict.DONE)
    wrong: list[tuple[str, dict[str, Any]]] = [
        ("generation", {"generation": 2}),
        ("index", {"index": 1}),
        ("end_action", {"end_action": EndAction.COMPLETE}),
        ("end_action", {"end_action": 3}),
        ("spindle", {"spindle": 0}),
        ("spindle", {"spindle": 2}),
        ("end_count", {"end_count": 0}),
        ("end_count", {"end_count": COUNT_MAX + 1}),
        ("rate_mcps", {"rate_mcps": most + 1, "creep_mcps": 0}),
        ("rate_mcps", {"rate_mcps": RATE_LEAST_MCPS - 1}),
        ("accel_mcps2", {"accel_mcps2": 0}),
        ("creep_mcps", {"creep_mcps": sound.rate_mcps + 1}),
        ("creep_mcps", {"creep_mcps": min(CREEP_RATE_LEAST_MCPS, sound.rate_mcps) - 1}),
        ("pitch_counts", {"pitch_counts": 0}),
        ("right_um", {"left_um": 1, "right_um": 0}),
        ("index", {"index": 7, "pitch_counts": 0}),
    ]
    if not at.has(Group.TRAVERSE):
        wrong.append(("pitch_nm", {"pitch_nm": 1}))
    for field, values in wrong:
        at.expect(replace(sound, **values), Verdict.BAD_VALUE, FIELDS[field])
    at.expect(sound, Verdict.DONE)
    wrong = [
        ("end_action", {"end_action": EndAction.PAUSE}),
        ("spindle", {"spindle": -1}),
        ("end_count", {"end_count": sound.end_count}),
    ]
    for field, values in wrong:
        at.expect(replace(last, **values), Verdict.BAD_VALUE, FIELDS[field])
    at.expect(last, Verdict.DONE)


@clause(
    "11.5",
    "A commit with another checksum is WRONG_CHECKSUM with the board's own as detail, and the plan goes on loading.",
    Group.LEGS,
)
def wrong_sum(at: Examiner) -> None:
    at.open_wind()
    legs = two_legs(at)
    at.expect(at.make(PlanBegin, generation=1, legs=2), Verdict.DONE)
    for one in legs:
        at.expect(one, Verdict.DONE)
    right = checksum_of(legs)
    at.expect(at.make(PlanCommit, generation=2, checksum=right), Verdict.BAD_VALUE, 4)
    at.expect(at.make(PlanCommit, generation=1, checksum=right ^ 1), Verdict.WRONG_CHECKSUM, right)
    at.expect(at.make(PlanCommit, generation=1, checksum=right), Verdict.DONE)


@clause(
    "11.6",
    "A plan in force: ARMED, its generation and first leg in the status, the revision up by one; loading alone raises nothing.",
    Group.LEGS,
)
def in_force(at: Examiner) -> None:
    at.open_wind()
    revision = at.status().revision
    answer = load(at, two_legs(at))
    require(answer.verdict is Verdict.DONE, f"the commit was answered {verdict_words(answer)}")
    status = at.status()
    require(status.state is State.ARMED, f"the state is {name(status.state)}")
    require(status.generation == 1, f"`generation` is {status.generation}")
    require(status.leg == 0, f"`leg` is {status.leg}")
    due = (revision + 1) & 0xFFFF
    require(status.revision == due, f"the revision went from {revision} to {status.revision}")
    at.expect(at.make(PlanBegin, generation=1, legs=1), Verdict.BAD_VALUE, 4)


@clause(
    "11.7", "A new session drops a plan that is half loaded and keeps the one in force.", Group.LEGS
)
def half_loaded(at: Examiner) -> None:
    at.open_wind()
    load(at, two_legs(at))
    at.status()
    at.expect(at.make(PlanBegin, generation=2, legs=1), Verdict.DONE)
    at.open_session()
    status = at.status()
    require(status.state is State.ARMED, f"the state is {name(status.state)}")
    require(status.generation == 1, f"`generation` is {status.generation}")
    one = replace(leg(at, 0, 9, EndAction.COMPLETE), generation=2)
    at.expect(one, Verdict.PLAN_INCOMPLETE)


@clause("11.8", "CloseWind drops the plan.", Group.LEGS)
def drops_plan(at: Examiner) -> None:
    at.open_wind()
    load(at, two_legs(at))
    at.status()
    at.expect(at.make(CloseWind), Verdict.DONE)
    status = at.status()
    require(status.state is State.STILL, f"the state is {name(status.state)}")
    require(status.generation == 0, f"`generation` is {status.generation}")


@clause(
    "11.9",
    "Pace is taken from 100 to 1000 thousandths, with a plan in force, and raises nothing.",
    Group.LEGS,
    Group.MOTOR,
)
def paces(at: Examiner) -> None:
    at.open_wind()
    at.expect(at.make(Pace, permille=500), Verdict.WRONG_STATE)
    load(at, two_legs(at))
    revision = at.status().revision
    for permille in (0, 99, 1001, 65535):
        at.expect(at.make(Pace, permille=permille), Verdict.BAD_VALUE, 4)
    for permille in (100, 500, 1000):
        at.expect(at.make(Pace, permille=permille), Verdict.DONE)
    require(at.status().revision == revision, "the revision rose")
