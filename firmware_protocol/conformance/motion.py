"""Moves, stops and a small wind: only what was announced and agreed to, and slowly.

Also commands that a board must refuse, where a wrong board would move. The sign of life comes from ``beside``, as
often as a host's, for as long as a clause wants it.
"""

from __future__ import annotations

from collections.abc import Callable

from ..framing import encode_message
from ..messages import (
    ALIVE_PERIOD_MS,
    COUNT_MAX,
    LEASE_MS,
    RATE_LEAST_MCPS,
    CloseWind,
    Cut,
    Flag,
    Move,
    OpenWind,
    Reason,
    Start,
    State,
    Status,
    Stop,
    Trip,
    Verdict,
)
from ..wire import LAYOUT_OF, Group
from .clauses import Breach, Unready, clause, require
from .examiner import STATUS_WAIT_S, Examiner, name, verdict_words
from .plans import load, slow_rate_mcps, two_legs

MOVE_S = 1.5  # a move takes about so long
LONG_MOVE_S = 8.0  # one that is to be stopped
IN_MOTION = (State.WINDING, State.SLOWING, State.SETTING_UP)
SLACK_S = 3.0
TURNS = "the spindle, slowly forward, for about two seconds"


def alive(at: Examiner) -> None:
    """From now on the session lives."""
    due_ns = at.clock.now_ns()

    def live() -> None:
        nonlocal due_ns
        if at.clock.now_ns() >= due_ns:
            due_ns = at.clock.now_ns() + ALIVE_PERIOD_MS * 1_000_000
            at.live()

    at.beside = live
    at.hear(0.1)
    status = at.settled()
    if not status.flags & Flag.LEASE_LIVE:
        raise Unready("the lease does not become live (see 7.1)")
    if status.flags & Flag.GUARD_OPEN:
        raise Unready("the guard is open: shut it and check again")


def move(at: Examiner, span_s: float) -> Move:
    """Forward, slowly, for about so long."""
    rate = slow_rate_mcps(at)
    counts = max(4, round(rate / 1000 * span_s))
    made: Move = at.make(Move, counts=counts, rate_mcps=rate, accel_mcps2=2 * rate)
    return made


def watch(at: Examiner, until: Callable[[Status], bool], span_s: float, what: str) -> Status:
    """The first status for which ``until`` holds. ``Breach`` when none comes in time."""
    end_s = at.now_s + span_s
    while at.now_s < end_s:
        status = at.status(STATUS_WAIT_S)
        if status.trip is not Trip.NONE:
            raise Breach(f"the board tripped ({name(status.trip)})")
        if until(status):
            return status
    status = at.status()
    raise Breach(
        f"{what}: after {span_s:.1f} s the state is {name(status.state)}, count {status.count}"
    )


def rests(status: Status) -> bool:
    return status.state not in IN_MOTION


def _go(at: Examiner) -> None:
    """A long move under way, in an open wind."""
    at.open_wind()
    alive(at)
    answer = at.ask(move(at, LONG_MOVE_S))
    if answer.verdict is not Verdict.DONE:
        raise Unready(f"Move was answered {verdict_words(answer)} (see 13.1)")
    watch(at, lambda s: s.count >= 2, LONG_MOVE_S, "the spindle does not turn")


def rest_after_a_move(at: Examiner) -> None:
    """A short move in an open wind, to its end; the lease ends by itself."""
    at.open_wind()
    alive(at)
    at.ask(move(at, MOVE_S))
    watch(at, rests, MOVE_S * 3 + rest_bound_s(at), "the move does not end")
    at.beside = None


def rest_bound_s(at: Examiner) -> float:
    assert at.welcome is not None
    return at.welcome.rest_ms / 1000 * 1.05 + 0.3


@clause(
    "13.1",
    "A move turns the spindle by its counts and ends where it began, reason MOVE_DONE.",
    Group.MOTOR,
    motion=TURNS,
)
def moves(at: Examiner) -> None:
    at.open_wind()
    alive(at)
    before = at.status()
    ask = move(at, MOVE_S)
    answer = at.expect(ask, Verdict.DONE)
    at.statuses.clear()
    end = watch(at, rests, MOVE_S * 3 + rest_bound_s(at), "the move does not end")
    require(
        answer.revision == (before.revision + 1) & 0xFFFF,
        "its start did not raise the revision by one",
    )
    require(end.state is State.STILL, f"it ended in {name(end.state)}")
    require(end.reason is Reason.MOVE_DONE, f"the reason is {name(end.reason)}")
    require(end.count >= ask.counts, f"it made {end.count} of {ask.counts} counts")
    require(
        end.count <= 2 * ask.counts + 4,
        f"it made {end.count} counts where {ask.counts} were asked for",
    )
    require(
        end.revision == (before.revision + 3) & 0xFFFF,
        f"the revision rose by {end.revision - before.revision}, not by 3",
    )
    moving = [s for _, s in at.statuses if s.state is State.SETTING_UP]
    require(bool(moving), "no status showed SETTING_UP")
    require(all(s.flags & Flag.DRIVEN for s in moving), "DRIVEN was not set in motion")


@clause(
    "13.2",
    "A move needs a live lease, else NO_LEASE; its values are judged in order, and before that.",
    Group.MOTOR,
    motion="nothing, unless the board obeys what it must refuse",
)
def refuses_moves(at: Examiner) -> None:
    assert at.welcome is not None
    before = at.status()
    ask = move(at, 0.0)
    most = at.welcome.rate_max_mcps
    at.expect(ask, Verdict.NO_LEASE)
    for detail, values in (
        (4, {"counts": 0}),
        (
            4,
            {"counts": COUNT_MAX, "rate_mcps": 0}
            if before.count > 0
            else {"counts": -COUNT_MAX - 1 - before.count},
        ),
        (5, {"rate_mcps": RATE_LEAST_MCPS - 1}),
        (5, {"rate_mcps": most + 1}),
        (6, {"accel_mcps2": 0}),
        (4, {"counts": 0, "accel_mcps2": 0}),
    ):
        own = {n: getattr(ask, n) for n in ("counts", "rate_mcps", "accel_mcps2")}
        at.expect(at.make(Move, **(own | values)), Verdict.BAD_VALUE, detail)
    at.expect(at.make(Start, generation=1), Verdict.WRONG_STATE)
    after = at.status()
    require(after.revision == before.revision, "the revision rose")
    require(not after.flags & Flag.DRIVEN, "the spindle is driven")


@clause(
    "5.30",
    "In motion what needs rest is WRONG_STATE; a stale command stays STALE.",
    Group.MOTOR,
    motion=TURNS,
)
def busy(at: Examiner) -> None:
    _go(at)
    at.status()
    at.expect(move(at, 1.0), Verdict.WRONG_STATE)
    at.expect(at.make(OpenWind, wind=at.fresh_number()), Verdict.WRONG_STATE)
    at.expect(at.make(CloseWind), Verdict.WRONG_STATE)
    at.expect(at.make(CloseWind, revision=(at.status().revision + 3) & 0xFFFF), Verdict.STALE)
    _stopped(at)


def _stopped(at: Examiner) -> Status:
    at.stop()
    return watch(at, rests, rest_bound_s(at), "a stop does not bring it to rest")


@clause(
    "6.3",
    "A stop in motion: SLOWING, reason STOP, at rest within the told time, in the state where the move began.",
    Group.MOTOR,
    motion=TURNS,
)
def stops_motion(at: Examiner) -> None:
    _go(at)
    said = at.stop()
    require(said.message.verdict is Verdict.DONE, f"it was answered {verdict_words(said.message)}")
    status = at.status()
    require(status.reason is Reason.STOP, f"the reason is {name(status.reason)}")
    require(status.state in (State.SLOWING, State.STILL), f"the state is {name(status.state)}")
    end = watch(at, rests, rest_bound_s(at), "it does not come to rest")
    require(end.state is State.STILL, f"it ended in {name(end.state)}")
    require(end.reason is Reason.STOP, f"the reason at rest is {name(end.reason)}")


@clause("6.4", "A stop is obeyed without a session and out of turn.", Group.MOTOR, motion=TURNS)
def stops_for_anyone(at: Examiner) -> None:
    _go(at)
    kind = LAYOUT_OF[Stop].kind
    said = at.reply(encode_message(Stop(), 211), kind)
    require(said.sequence == 0, f"it was answered under number {said.sequence}")
    watch(at, rests, rest_bound_s(at), "it does not come to rest")


@clause(
    "6.5",
    "A cut in motion: SLOWING at once, reason STOP, at rest within the told time.",
    Group.MOTOR,
    motion=TURNS,
)
def cuts_motion(at: Examiner) -> None:
    _go(at)
    said = at.reply(encode_message(Cut()), LAYOUT_OF[Cut].kind)
    require(said.message.verdict is Verdict.DONE, f"it was answered {verdict_words(said.message)}")
    status = at.status()
    require(status.state is not State.SETTING_UP, "it goes on moving")
    require(status.reason is Reason.STOP, f"the reason is {name(status.reason)}")
    watch(at, rests, rest_bound_s(at), "it does not come to rest")


@clause(
    "7.5",
    "When the lease ends in motion the board comes to rest by itself, reason LEASE_LOST, and the count stays.",
    Group.MOTOR,
    motion=TURNS,
)
def lease_lost(at: Examiner) -> None:
    _go(at)
    at.beside = None
    from_s = at.now_s
    slow = watch(
        at, lambda s: s.state is not State.SETTING_UP, 2 * LEASE_MS / 1000, "it does not slow down"
    )
    late_s = at.now_s - from_s
    require(late_s <= LEASE_MS * 1.05 / 1000 + 0.35, f"it slowed down after {late_s:.2f} s")
    require(slow.reason is Reason.LEASE_LOST, f"the reason is {name(slow.reason)}")
    end = watch(at, rests, rest_bound_s(at), "it does not come to rest")
    require(end.count >= slow.count > 0, "the count did not stay")
    alive(at)
    at.hear(0.3)
    require(rests(at.status()), "it started again as the lease came back")


@clause(
    "12.1",
    "A plan is wound leg by leg: PAUSED at a leg that pauses, COMPLETE at the end, never before its count.",
    Group.MOTOR,
    Group.LEGS,
    motion=TURNS + ", twice",
)
def winds(at: Examiner) -> None:
    at.open_wind()
    counts = max(4, round(slow_rate_mcps(at) / 1000 * MOVE_S))
    legs = two_legs(at, counts, 2 * counts)
    load(at, legs)
    alive(at)
    if not at.status().flags & Flag.WIRE_PRESENT:
        raise Unready("the wire sensor sees no wire: lay one in and check again")
    for reason, state, one in (
        (Reason.LEG_PAUSE, State.PAUSED, legs[0]),
        (Reason.TARGET, State.COMPLETE, legs[1]),
    ):
        at.status()
        at.expect(at.make(Start, generation=1), Verdict.DONE)
        end = watch(at, rests, MOVE_S * 4 + SLACK_S + rest_bound_s(at), "the leg does not end")
        require(
            end.state is state, f"it ended in {name(end.state)} at {end.count} of {one.end_count}"
        )
        require(end.reason is reason, f"the reason is {name(end.reason)}")
        require(end.count >= one.end_count, f"it stopped at {end.count} of {one.end_count}")
    at.expect(at.make(Start, generation=1), Verdict.WRONG_STATE)


@clause(
    "12.2",
    "A start needs a live lease and the plan in force; a pause is gone on from, by a new start only.",
    Group.MOTOR,
    Group.LEGS,
    motion=TURNS,
)
def starts(at: Examiner) -> None:
    at.open_wind()
    counts = max(40, round(slow_rate_mcps(at) / 1000 * LONG_MOVE_S))
    load(at, two_legs(at, counts, 2 * counts))
    at.status()
    at.expect(at.make(Start, generation=2), Verdict.BAD_VALUE, 4)
    at.expect(at.make(Start, generation=1), Verdict.NO_LEASE)
    alive(at)
    if not at.status().flags & Flag.WIRE_PRESENT:
        raise Unready("the wire sensor sees no wire: lay one in and check again")
    at.expect(at.make(Start, generation=1), Verdict.DONE)
    watch(at, lambda s: s.state is State.WINDING and s.count >= 2, LONG_MOVE_S, "it does not wind")
    end = _stopped(at)
    require(end.state is State.PAUSED, f"a stop led to {name(end.state)}")
    require(end.leg == 0, f"`leg` is {end.leg}")
    at.hear(0.3)
    require(at.status().state is State.PAUSED, "it went on by itself")
