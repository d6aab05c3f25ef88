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

ADAPTER_MS = 150  # statuses come every 50 ms, adapters gather bytes
TIMES_SHARE = 0.05  # a board keeps its times within this
LISTEN_S = 2.0
LEAST_A_SECOND = 2
FLOOD_NS = 2_000_000  # from frame to frame: a line of 115200 baud is full of them
LOST_S = 2 * LEASE_MS / 1000


def _lease_ends_ms(at: Examiner) -> int:
    """How long after now, by the host's clock, the lease was last seen live."""
    from_ns = at.clock.now_ns()
    at.statuses.clear()
    at.hear(LOST_S)
    live = [ns for ns, status in at.statuses if status.flags & Flag.LEASE_LIVE]
    return (live[-1] - from_ns) // 1_000_000 if live else 0


def _bounded(lasted_ms: int) -> None:
    most = LEASE_MS * (1 + TIMES_SHARE) + ADAPTER_MS
    least = LEASE_MS * (1 - TIMES_SHARE) - ADAPTER_MS
    require(lasted_ms <= most, f"the lease was live {lasted_ms} ms after the last sign of life")
    require(lasted_ms >= least, f"the lease ended {lasted_ms} ms after the last sign of life")


@clause("7.1", "A sign of life is not answered, and makes the lease live for a second, no longer.")
def lease(at: Examiner) -> None:
    at.live()
    at.silence("a sign of life", 0.05)
    require(bool(at.settled().flags & Flag.LEASE_LIVE), "the lease is not live")
    at.live()
    _bounded(_lease_ends_ms(at))


@clause("7.2", "A sign of life whose number does not rise is ignored.")
def rising(at: Examiner) -> None:
    at.live(number=10)
    at.settled()
    from_ns = at.clock.now_ns()
    for number in (10, 9, 1, 10, 0, 10):
        at.hear(0.12)
        at.live(number=number)
    passed_ms = (at.clock.now_ns() - from_ns) // 1_000_000
    lasted_ms = _lease_ends_ms(at) + passed_ms
    most = LEASE_MS * (1 + TIMES_SHARE) + ADAPTER_MS
    require(lasted_ms <= most, f"they kept the lease live for {lasted_ms} ms")


@clause("7.3", "Nothing but a sign of life renews the lease: no command, no stop, no hello.")
def nothing_else(at: Examiner) -> None:
    at.live()
    at.settled()
    from_ns = at.clock.now_ns()
    for _ in range(7):
        at.ask(at.make(SettleNumber))
        at.stop()
        at.hello(at.token)
        at.hear(0.1)
    passed_ms = (at.clock.now_ns() - from_ns) // 1_000_000
    lasted_ms = _lease_ends_ms(at) + passed_ms
    most = LEASE_MS * (1 + TIMES_SHARE) + ADAPTER_MS
    require(lasted_ms <= most, f"the lease was live for {lasted_ms} ms")


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
    at.statuses.clear()
    at.hear(LISTEN_S)
    require(len(at.statuses) > 1, "no status came")
    (from_ns, first), (to_ns, last) = at.statuses[0], at.statuses[-1]
    passed = (last.uptime_ms - first.uptime_ms) & 0xFFFF_FFFF
    truly = (to_ns - from_ns) / 1e6
    slack = TIMES_SHARE * truly + ADAPTER_MS
    require(abs(passed - truly) <= slack, f"{passed} ms of its own passed in {truly:.0f} ms")
    assert at.welcome is not None
    boot = at.welcome.boot
    require(last.boot == boot, f"the status says boot {last.boot}, the welcome {boot}")


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
