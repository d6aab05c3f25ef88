"""Section 4: who is there, sessions, and what a welcome says."""

from __future__ import annotations

from ..messages import (
    BASE_VERSION,
    LEGS_MAX_LEAST,
    Answer,
    Flag,
    Has,
    Kept,
    SettleNumber,
    Verdict,
    Welcome,
)
from ..wire import LAYOUT_OF, Group
from .clauses import Breach, clause, require
from .examiner import Examiner, verdict_words

OTHER_VERSIONS = (0, 2, 255)


def _welcome(at: Examiner, token: int, version: int = BASE_VERSION) -> Welcome:
    met = at.hello(token, version)
    if not isinstance(met, Welcome):
        raise Breach(f"a hello was answered {verdict_words(met)}")
    return met


@clause("4.1", "The welcome carries the hello's token and the base version 1.")
def carries_token(at: Examiner) -> None:
    token = at.fresh_number()
    met = _welcome(at, token)
    require(met.token == token, f"token {token:#x} was answered with {met.token:#x}")
    require(met.base_version == BASE_VERSION, f"it says base version {met.base_version}")


@clause("4.2", "The open token again: the same welcome again, and nothing changes.")
def same_token(at: Examiner) -> None:
    first = at.welcome
    at.status()
    at.expect(at.make(SettleNumber), Verdict.DONE)
    revision = at.status().revision
    again = _welcome(at, at.token)
    assert first is not None
    differing = [n for n in LAYOUT_OF[Welcome].names if getattr(first, n) != getattr(again, n)]
    differing = [n for n in differing if n != "uptime_ms"]
    require(not differing, f"the second welcome differs in {', '.join(differing)}")
    require(at.status().revision == revision, "the revision rose")
    at.expect(at.make(SettleNumber), Verdict.DONE)


@clause(
    "4.3",
    "A new token opens a new session: numbers begin at 1, the revision rises by one, the old token is done with.",
)
def new_token(at: Examiner) -> None:
    at.status()
    at.expect(at.make(SettleNumber), Verdict.DONE)
    revision, old = at.status().revision, at.token
    at.open_session()
    new = at.status().revision
    require(new == (revision + 1) & 0xFFFF, f"the revision went from {revision} to {new}")
    at.expect(at.make(SettleNumber), Verdict.DONE)
    answer = at.ask(at.make(SettleNumber, token=old), at.next_sequence)
    require(answer.verdict is Verdict.NO_SESSION, f"the old token got {verdict_words(answer)}")


@clause(
    "4.4",
    "A hello with another base version is answered by a welcome with the board's own, opens nothing and changes nothing.",
)
def other_version(at: Examiner) -> None:
    revision = at.status().revision
    for version in OTHER_VERSIONS:
        token = at.fresh_number()
        met = _welcome(at, token, version)
        require(met.token == token, "the welcome does not carry that hello's token")
        require(met.base_version == BASE_VERSION, f"it says base version {met.base_version}")
    require(at.status().revision == revision, "the revision rose")
    at.expect(at.make(SettleNumber), Verdict.DONE)


@clause("4.5", "Token 0 is answered BAD_VALUE with detail 1, number 0, and changes nothing.")
def token_zero(at: Examiner) -> None:
    revision = at.status().revision
    answer = at.hello(0)
    good = isinstance(answer, Answer) and (answer.verdict, answer.detail) == (Verdict.BAD_VALUE, 1)
    require(good, f"it was answered {verdict_words(answer)}")
    require(at.status().revision == revision, "the revision rose")
    at.expect(at.make(SettleNumber), Verdict.DONE)


@clause(
    "4.6", "While a lease is live another token is answered HELD, number 0, and changes nothing."
)
def held(at: Examiner) -> None:
    at.live()
    revision = at.settled().revision
    at.live()
    answer = at.hello(at.fresh_number())
    good = isinstance(answer, Answer) and answer.verdict is Verdict.HELD
    require(good, f"it was answered {verdict_words(answer)}")
    require(at.status().revision == revision, "the revision rose")
    at.expect(at.make(SettleNumber), Verdict.DONE)


@clause("4.7", "The lease of a new session is not live, and signs of life count from 1 again.")
def fresh_lease(at: Examiner) -> None:
    at.live(number=500)
    require(bool(at.settled().flags & Flag.LEASE_LIVE), "a sign of life made no lease")
    at.begin()
    require(not at.settled().flags & Flag.LEASE_LIVE, "the new session's lease is live at once")
    at.live(number=1)
    require(bool(at.settled().flags & Flag.LEASE_LIVE), "its first sign of life was not taken")


@clause("4.8", "A new session leaves wind and count alone.", Group.COUNTING)
def leaves_wind(at: Examiner) -> None:
    wind = at.open_wind()
    count = at.status().count
    at.open_session()
    status = at.status()
    require(status.wind == wind, f"the wind went from {wind} to {status.wind}")
    require(status.count == count or not at.has(Group.MOTOR), "the count changed")


@clause("4.9", "The welcome does not contradict itself: groups, limits, told times, what is wired.")
def consistent(at: Examiner) -> None:
    met = at.welcome
    assert met is not None
    motor, legs = at.has(Group.MOTOR), at.has(Group.LEGS)
    require(at.has(Group.COUNTING), "the group COUNTING is not listed")
    require(met.board.isprintable(), f"the board's name {met.board!r} is not printable")
    require(motor or not (met.cut_ms or met.rest_ms), "it tells times of a stop and has no MOTOR")
    require(
        not motor or 0 < met.cut_ms <= met.rest_ms, f"cut {met.cut_ms} ms, rest {met.rest_ms} ms"
    )
    most = met.rate_max_mcps
    require(motor or most == 0, "it says how fast it drives and has no MOTOR")
    require(
        most <= met.edge_rate_max_cps * 1000,
        f"it drives {most} mcps and counts only {met.edge_rate_max_cps} a second",
    )
    require(met.edge_rate_max_cps > 0, "it claims to count nothing")
    least = LEGS_MAX_LEAST if legs else 0
    held_legs = met.legs_max
    require(held_legs >= least and (legs or held_legs == 0), f"legs_max is {held_legs}")
    require(not met.has & ~sum(Has), f"`has` is {met.has:#x}, which has bits without a meaning")
    bits = met.kept_flags
    require(not bits & ~sum(Kept), f"`kept_flags` is {bits:#x}, which has bits without a meaning")


@clause("4.10", "A sign of life with another session's token does nothing.")
def foreign_life(at: Examiner) -> None:
    at.live(number=1, token=at.fresh_number())
    at.live(number=2, token=0)
    require(not at.settled().flags & Flag.LEASE_LIVE, "it made the lease live")
