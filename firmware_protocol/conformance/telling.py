"""Sections 7 and 8: signs of life, the lease, and what a status says by itself."""

from __future__ import annotations

import itertools

from ..framing import encode_frame
from ..messages import (
    LEASE_MS,
    NO_LEG,
    NO_WIND,
    Flag,
    Has,
    Reason,
    SettleNumber,
    State,
    Status,
    Trip,
    Verdict,
)
from ..wire import LAYOUT_OF, Group, pack
from .clauses import clause, require
from .examiner import Examiner, name

ADAPTER_MS = 100  # of the least late of some statuses: adapters gather bytes
TIMES_SHARE = 0.05  # a board keeps its times within this
LISTEN_S = 2.0
CLOCK_TRIES = 3
LEAST_A_SECOND = 2
FLOOD_NS = 2_000_000  # from frame to frame: a line of 115200 baud is full of them
LEASE_SEEN_S = (
    10.0  # a lease that is live so long does not end; a busy computer is slower than the board
)


def _passed_ms(since: Status, until: Status) -> int:
    """By the board's own clock, which 8.3 judges: a host that is busy hears late, and reads no time by that."""
    return (until.uptime_ms - since.uptime_ms) & 0xFFFF_FFFF


def _bounded(at: Examiner, since: Status, least_since: Status | None = None) -> None:
    """The lease ends a second after ``since``, a status behind the last sign of life, no later; and no earlier than a
    second after ``least_since``, one before it."""
    most, least = LEASE_MS * (1 + TIMES_SHARE), LEASE_MS * (1 - TIMES_SHARE)
    newest, end_s = since, at.now_s + LEASE_SEEN_S
    while newest.flags & Flag.LEASE_LIVE and at.now_s < end_s:
        lasted_ms = _passed_ms(since, newest)
        told = f"the lease was live {lasted_ms} ms after the last sign of life"
        require(lasted_ms <= most, told)
        newest = at.status()
    require(not newest.flags & Flag.LEASE_LIVE, "the lease did not end")
    if least_since is not None:
        lasted_ms = _passed_ms(least_since, newest)
        require(lasted_ms >= least, f"the lease ended {lasted_ms} ms after the last sign of life")


@clause("7.1", "A sign of life is not answered, and makes the lease live for a second, no longer.")
def lease(at: Examiner) -> None:
    at.live()
    at.silence("a sign of life", 0.05)
    require(bool(at.settled().flags & Flag.LEASE_LIVE), "the lease is not live")
    before = at.status()
    at.live()
    _bounded(at, at.settled(), before)


@clause("7.2", "A sign of life whose number does not rise is ignored.")
def rising(at: Examiner) -> None:
    at.live(number=10)
    since = at.settled()
    for number in (10, 9, 1, 10, 0, 10):
        at.hear(0.12)
        at.live(number=number)
    at.status()
    _bounded(at, since)


@clause("7.3", "Nothing but a sign of life renews the lease: no command, no stop, no hello.")
def nothing_else(at: Examiner) -> None:
    at.live()
    since = at.settled()
    for _ in range(7):
        at.ask(at.make(SettleNumber))
        at.stop()
        at.hello(at.token)
        at.hear(0.1)
    _bounded(at, since)


@clause(
    "7.4",
    "A number may leave gaps and begin anywhere above 0, up to the highest that its field holds.",
)
def gaps(at: Examiner) -> None:
    for number in (3, 0x7FFF_FFFF, 0x8000_0000, 0x9000_0000, 0xA000_0000, 0xF000_0000, 0xFFFF_FFFF):
        at.live(number=number)
        at.hear(0.3)
    require(bool(at.settled().flags & Flag.LEASE_LIVE), "number 4294967295 was not taken")


@clause("8.1", "A status comes by itself, at least twice a second.")
def by_itself(at: Examiner) -> None:
    _enough(at, LISTEN_S)


def _enough(at: Examiner, span_s: float) -> None:
    from_ns = at.clock.now_ns()
    at.statuses.clear()
    at.hear(span_s)
    heard = len(at.statuses)
    require(heard >= LEAST_A_SECOND * span_s, f"{heard} came in {span_s:g} s")
    times = [from_ns, *(ns for ns, _ in at.statuses), at.clock.now_ns()]
    gap_s = max((b - a for a, b in itertools.pairwise(times))) / 1e9
    require(gap_s <= 1.0, f"none came for {gap_s:.2f} s")


@clause("8.2", "So it does while the line is full of commands.")
def under_traffic(at: Examiner) -> None:
    at.status()
    foreign = pack(at.make(SettleNumber, token=at.fresh_number()))
    flood = encode_frame(LAYOUT_OF[SettleNumber].kind, 1, foreign)

    due_ns = at.clock.now_ns()

    def push() -> None:
        nonlocal due_ns
        now_ns = at.clock.now_ns()
        if now_ns >= due_ns:
            due_ns = now_ns + FLOOD_NS
            at.say(flood)

    at.beside = push
    try:
        _enough(at, LISTEN_S)
    finally:
        at.beside = None
    at.hear(0.5)


@clause("8.3", "`uptime_ms` goes with the time, within 5 %; `boot` is the welcome's.")
def uptime(at: Examiner) -> None:
    for _ in range(CLOCK_TRIES - 1):
        if not _clock_is_off(at):
            break
    else:
        require(not (off := _clock_is_off(at)), off)
    assert at.welcome is not None and at.newest is not None
    boot, said = at.welcome.boot, at.newest.boot
    require(said == boot, f"the status says boot {said}, the welcome {boot}")


def _clock_is_off(at: Examiner) -> str:
    """How far the board's clock is off the link's; "": it is not.

    What is heard is heard late, never early, so of the first and the last quarter the status counts that is the least
    late. A computer that was busy all the time makes any board look slow: therefore it is tried again.
    """
    at.statuses.clear()
    at.hear(LISTEN_S)
    require(len(at.statuses) > 1, "no status came")
    first = at.statuses[0][1]
    heard = [(ns / 1e6, _passed_ms(first, status)) for ns, status in at.statuses]
    some = max(len(heard) // 4, 1)
    (from_ms, from_own), (to_ms, to_own) = (
        min(part, key=lambda one: one[0] - one[1]) for part in (heard[:some], heard[-some:])
    )
    truly, own = to_ms - from_ms, to_own - from_own
    if abs(own - truly) <= TIMES_SHARE * truly + ADAPTER_MS:
        return ""
    return f"{own} ms of its own passed in {truly:.0f} ms"


@clause("8.4", "At rest without a wind the status says so: STILL, no leg, no plan, nothing driven.")
def at_rest(at: Examiner) -> None:
    status = at.settled()
    for field, due in (("state", State.STILL), ("trip", Trip.NONE), ("leg", NO_LEG)):
        said = getattr(status, field)
        require(said == due, f"`{field}` is {name(said)}, not {name(due)}")
    require(status.generation == 0, f"`generation` is {status.generation}")
    require(status.wind == NO_WIND, f"`wind` is {status.wind}")
    require(not status.flags & Flag.DRIVEN, "the flag DRIVEN is set")
    require(not status.flags & ~sum(Flag), f"flags {status.flags:#x} have bits without a meaning")
    require(isinstance(status.reason, Reason), f"`reason` is {status.reason}")


@clause("8.5", "What is not there is told as it must be: wire, guard, brake, guide.")
def absent(at: Examiner) -> None:
    status = at.settled()
    assert at.welcome is not None
    has, flags = at.welcome.has, status.flags
    require(
        bool(has & Has.WIRE_SENSOR or flags & Flag.WIRE_PRESENT),
        "WIRE_PRESENT is not set, and there is no wire sensor",
    )
    require(
        bool(has & Has.GUARD or not flags & Flag.GUARD_OPEN),
        "GUARD_OPEN is set, and there is no guard",
    )
    require(
        bool(has & Has.BRAKE or not flags & Flag.BRAKE_ON), "BRAKE_ON is set, and there is no brake"
    )
    guide = at.has(Group.TRAVERSE)
    require(guide or status.traverse_um == 0, "`traverse_um` is not 0, and there is no TRAVERSE")
    require(guide or not flags & Flag.REFERENCED, "REFERENCED is set, and there is no TRAVERSE")


@clause(
    "8.6", "A board without MOTOR is STILL whatever its wind, and doubts no edge.", Group.COUNTING
)
def only_counts(at: Examiner) -> None:
    at.open_wind()
    at.statuses.clear()
    at.hear(1.0)
    for _, status in at.statuses:
        _look_at_counter(at, status)
    at.expect(at.make(SettleNumber), Verdict.DONE)


def _look_at_counter(at: Examiner, status: Status) -> None:
    if at.has(Group.MOTOR):
        return
    require(status.state is State.STILL, f"the state is {name(status.state)}")
    require(status.reason is Reason.NONE, f"the reason is {name(status.reason)}")
    require(status.unattributed == 0, f"`unattributed` is {status.unattributed}")
    require(not status.flags & Flag.DRIVEN, "the flag DRIVEN is set")
