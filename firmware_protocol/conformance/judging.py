"""The whole examination: who is there, every clause in its order, what became of it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator

from firmware_protocol.records import dataclass

from ..framing import encode_message
from ..messages import NO_WIND, State, Status, Stop, Welcome
from ..seam import Clock, Link, LinkLost
from ..vocabulary import Has
from . import (  # noqa: F401
    far,
    framed,
    kept_settings,
    motion,
    numbers,
    pedal,
    plans,
    restarting,
    sessions,
    telling,
)
from .clauses import CLAUSES, Breach, Clause, Finding, Outcome, Unready, clause
from .examiner import Examiner, name

GREETING = "2.1"
TOKEN = "4.1"
WHOLE = "3.1"
FULL_LENGTH = "3.11"
STATUS = "8.1"


@clause(GREETING, "A hello is answered by a welcome within 3 seconds of the port's opening.")
def answers(at: Examiner) -> None:
    at.first_welcome()


@dataclass(frozen=True, slots=True)
class Permission:
    """``moves`` is asked before each clause that moves, with what will move; ``again`` opens the port anew."""

    moves: Callable[[str], bool] | None = None
    again: Callable[[], Link] | None = None


NO_PERMISSION = Permission()


def by_number() -> list[Clause]:
    return sorted(CLAUSES.values(), key=lambda c: [int(n) for n in c.number.split(".")])


def judge(
    link: Link,
    clock: Clock,
    first_token: int,
    permission: Permission = NO_PERMISSION,
    sections: Collection[int] = (),
) -> Iterator[Finding]:
    """One finding for every clause, as they come; with ``sections`` for theirs and the greeting alone.

    The link is closed at the end, or the one that took its place.
    """
    at = Examiner(link, clock, first_token)
    try:
        yield from _judged(at, permission, sections)
    except LinkLost as lost:
        raise LinkLost(f"the port closed during the check ({lost})") from None
    finally:
        at.link.close()


def _judged(at: Examiner, permission: Permission, sections: Collection[int]) -> Iterator[Finding]:
    clauses = [c for c in by_number() if not sections or c.section in {*sections, 2}]
    greeting = CLAUSES[GREETING]
    try:
        met = at.first_welcome()
    except Breach as breach:
        yield from _nobody(at, clauses, str(breach))
        return
    yield Finding(greeting, Outcome.PASSED)
    try:
        reason = _unfit(at.status())
    except Unready:
        yield from _no_status(at, clauses)
        return
    for one in clauses:
        if one is greeting or one.section == 10:
            continue
        yield _one(at, one, met, reason, permission)
    if last := [c for c in clauses if c.section == 10]:
        yield from _over_a_restart(at, last, reason, permission)


def _nobody(at: Examiner, clauses: list[Clause], why: str) -> Iterator[Finding]:
    """No welcome of ours: that clause fails, and the one that the bytes that came point to."""
    failed = {GREETING}
    if at.welcome is not None:
        failed.add(TOKEN)
    else:
        why += f"; {framed.remark_on_bytes(bytes(at.raw))}"
        if at.raw and not at.reader.counts.good:
            failed.add(WHOLE)
    for one in clauses:
        broken = one.number in failed
        outcome = Outcome.FAILED if broken else Outcome.NOT_TESTED
        yield Finding(one, outcome, why if broken else f"no welcome (see {GREETING})")


def _no_status(at: Examiner, clauses: list[Clause]) -> Iterator[Finding]:
    """A welcome and never a status: nothing can be asked, but why can be looked at."""
    for one in clauses:
        if one.number in (WHOLE, FULL_LENGTH, STATUS):
            try:
                one.trial(at)
                yield Finding(one, Outcome.PASSED)
            except (Breach, Unready) as trouble:
                yield Finding(one, Outcome.FAILED, str(trouble))
        elif one.number != GREETING:
            yield Finding(one, Outcome.NOT_TESTED, f"no status came (see {STATUS})")


def _unfit(status: Status) -> str:
    """Why this board is left alone; "": it is not."""
    if status.wind != NO_WIND:
        return f"wind {status.wind} is open on the board: finish it, or switch the board off and on"
    if status.state is not State.STILL:
        trip = f" ({name(status.trip)})" if status.state is State.TRIPPED else ""
        return f"the board is {name(status.state)}{trip}: clear that first"
    return ""


def _one(at: Examiner, one: Clause, met: Welcome, reason: str, permission: Permission) -> Finding:
    absent = [group.name for group in one.needs if not met.groups[group - 1]]
    if absent:
        return Finding(one, Outcome.NOT_TESTED, f"the board has no {' and no '.join(absent)}")
    if one.wired & ~met.has:
        what = "stop switch" if one.wired & Has.STOP_INPUT else "limit switch"
        return Finding(one, Outcome.NOT_TESTED, f"no {what} is wired to this board")
    if reason:
        return Finding(one, Outcome.NOT_TESTED, reason)
    if one.motion:
        if permission.moves is None:
            return Finding(one, Outcome.NOT_TESTED, "it may move the machine, and may not")
        if not permission.moves(one.motion):
            return Finding(one, Outcome.NOT_TESTED, "you did not agree to it")
    return _tried(at, one)


def _tried(at: Examiner, one: Clause) -> Finding:
    try:
        if one.number != STATUS:  # without it nothing else can begin
            at.begin()
        one.trial(at)
    except Breach as breach:
        return Finding(one, Outcome.FAILED, str(breach))
    except Unready as unready:
        return Finding(one, Outcome.NOT_TESTED, str(unready))
    finally:
        at.beside = None
        if one.motion:
            _still(at)
    return Finding(one, Outcome.PASSED)


def _still(at: Examiner) -> None:
    """Whatever happened in a clause that moves: nothing moves after it."""
    for _ in range(3):
        at.say(b"\0", encode_message(Stop()))
        at.hear(0.1)
    rest_s = at.welcome.rest_ms / 1000 if at.welcome else 0.0
    end_s = at.now_s + rest_s
    while at.now_s < end_s and at.newest is not None and not motion.rests(at.newest):
        at.hear(0.1)


def _over_a_restart(
    at: Examiner, clauses: list[Clause], reason: str, permission: Permission
) -> Iterator[Finding]:
    if reason or permission.again is None:
        why = reason or "the board would have to be switched off and on"
        yield from (Finding(one, Outcome.NOT_TESTED, why) for one in clauses)
        return
    try:
        told = restarting.restart(at, permission.again, permission.moves)
    except (Breach, Unready) as trouble:
        yield from (Finding(one, Outcome.NOT_TESTED, str(trouble)) for one in clauses)
        return
    if told is None:
        why = "opening the port does not reset this board"
        yield from (Finding(one, Outcome.NOT_TESTED, why) for one in clauses)
        return
    at.restarted = told
    for one in clauses:
        try:
            one.trial(at)
        except Breach as breach:
            yield Finding(one, Outcome.FAILED, str(breach))
        except Unready as unready:
            yield Finding(one, Outcome.NOT_TESTED, str(unready))
        else:
            yield Finding(one, Outcome.PASSED)
