"""Section 22: a foot pedal goes only while a person at the host has armed it, and a wired stop switch trips.

Three of the clauses need somebody's foot or hand: what to do is said before each, and a clause for which nobody did
it was not tested. Plans are the slow ones of the other clauses.
"""

from __future__ import annotations

from typing import Any

from ..messages import LEASE_MS, ClearTrip, Flag, Reason, Start, State, Status, Trip, Verdict
from ..pedal import ArmPedal, PedalStatus
from ..vocabulary import Has, PedalFlag
from ..wire import Group
from .clauses import Breach, Unready, clause, require
from .examiner import Examiner, name, verdict_words
from .motion import LONG_MOVE_S, alive, move, rest_bound_s, rests, watch
from .plans import load, slow_rate_mcps, two_legs

FOOT_WAIT_S = 10.0  # for a person to do what was said
HELD_S = 15.0  # for a person to let go again
NOTHING = "nothing, as long as you keep off the pedal"


def _pedal(at: Examiner) -> PedalStatus:
    """The newest pedal status, behind a status that was sent after all that was asked."""
    at.settled()
    at.pedals.clear()
    at.status()
    at.hear(0.1)
    if not at.pedals:
        raise Unready("no pedal status came (see 22.1)")
    return at.pedals[-1]


def _armed(at: Examiner) -> bool:
    return bool(_pedal(at).flags & PedalFlag.ARMED)


def _loaded(at: Examiner) -> None:
    """A plan that lasts, in force."""
    at.open_wind()
    counts = max(40, round(slow_rate_mcps(at) / 1000 * LONG_MOVE_S))
    load(at, two_legs(at, counts, 2 * counts))


def _arm(at: Examiner) -> Any:
    at.status()
    return at.expect(at.make(ArmPedal, generation=1), Verdict.DONE)


def _ready(at: Examiner) -> None:
    """Loaded, a live lease, and all there that a start needs."""
    _loaded(at)
    alive(at)
    status = at.settled()
    if not status.flags & Flag.WIRE_PRESENT:
        raise Unready("the wire sensor sees no wire: lay one in and check again")
    if status.flags & Flag.STOP_PRESSED:
        raise Unready("the stop switch is pressed: pull it out and check again")


def _off_the_pedal(at: Examiner) -> None:
    if _pedal(at).flags & PedalFlag.PRESSED:
        raise Unready("the pedal is pressed: take your foot off it and check again")


@clause("22.1", "Behind every status comes a pedal status with its revision.", Group.PEDAL)
def told(at: Examiner) -> None:
    at.settled()
    at.hear(0.1)
    at.statuses.clear()
    at.pedals.clear()
    at.hear(0.5)
    require(bool(at.pedals), "none came in half a second")
    behind = len(at.statuses) - len(at.pedals)
    require(abs(behind) <= 1, f"{len(at.pedals)} came behind {len(at.statuses)} statuses")
    revision = at.settled().revision
    require(
        all(told.revision == revision for told in at.pedals),
        f"one says revision {at.pedals[-1].revision} where the status says {revision}",
    )


@clause(
    "22.2",
    "ArmPedal is judged as a start is, in that order; refused, it arms nothing.",
    Group.PEDAL,
    Group.LEGS,
    motion=NOTHING,
)
def refuses_to_arm(at: Examiner) -> None:
    at.open_wind()
    at.status()
    at.expect(at.make(ArmPedal, generation=1), Verdict.WRONG_STATE)
    at.close_wind()
    _loaded(at)
    at.status()
    at.expect(at.make(ArmPedal, generation=2), Verdict.BAD_VALUE, 4)
    at.expect(at.make(ArmPedal, generation=1), Verdict.NO_LEASE)
    require(not _armed(at), "it is armed all the same")


@clause(
    "22.3",
    "Arming moves nothing and leaves the revision; a stop and the end of the lease end it.",
    Group.PEDAL,
    Group.LEGS,
    motion=NOTHING,
)
def arms(at: Examiner) -> None:
    _ready(at)
    _off_the_pedal(at)
    before = at.settled()
    answer = _arm(at)
    require(answer.revision == before.revision, "it raised the revision")
    require(_armed(at), "the pedal status does not say ARMED")
    at.stop()
    require(not _armed(at), "it is still armed after a stop")
    _arm(at)
    at.beside = None
    at.hear(LEASE_MS * 1.05 / 1000 + 0.2)
    require(not _armed(at), "it is still armed after the lease ended")
    alive(at)
    require(not _armed(at), "it is armed again as the lease came back")


@clause(
    "22.4",
    "A press winds by the plan; letting go slows to rest: PAUSED, reason PEDAL_RELEASED, and armed still.",
    Group.PEDAL,
    Group.LEGS,
    motion="the spindle, slowly: press the pedal within ten seconds, hold it for a second, let it go",
)
def goes_and_rests(at: Examiner) -> None:
    _ready(at)
    _off_the_pedal(at)
    _arm(at)
    _until_winding(at)
    slow = watch(at, lambda s: s.state is not State.WINDING, HELD_S, "it winds on")
    require(slow.reason is Reason.PEDAL_RELEASED, f"the reason is {name(slow.reason)}")
    end = watch(at, rests, rest_bound_s(at), "it does not come to rest")
    require(end.state is State.PAUSED, f"it ended in {name(end.state)}")
    require(_armed(at), "it is not armed any more")
    at.expect(at.make(Start, generation=1), Verdict.DONE)
    watch(at, lambda s: s.state is State.WINDING, LONG_MOVE_S, "a start does not wind")
    require(not _armed(at), "a start did not end it")


def _until_winding(at: Examiner) -> Status:
    end_s = at.now_s + FOOT_WAIT_S
    while at.now_s < end_s:
        status = at.status()
        if status.state is State.WINDING:
            return status
        if status.trip is not Trip.NONE:
            raise Breach(f"the board tripped ({name(status.trip)})")
    if any(told.flags & PedalFlag.PRESSED for told in at.pedals):
        raise Breach("the pedal was pressed, and it does not wind")
    raise Unready("nobody pressed the pedal")


@clause(
    "22.5",
    "A pedal that is held down as it is armed moves nothing.",
    Group.PEDAL,
    Group.LEGS,
    motion="nothing, unless the board is wrong: press the pedal now and hold it for ten seconds",
)
def held_as_it_is_armed(at: Examiner) -> None:
    _ready(at)
    end_s = at.now_s + FOOT_WAIT_S
    while not _pedal(at).flags & PedalFlag.PRESSED:
        if at.now_s >= end_s:
            raise Unready("nobody pressed the pedal")
    _arm(at)
    end_s = at.now_s + 1.0
    while at.now_s < end_s:
        require(at.status().state is State.ARMED, "it winds, though nobody let go of the pedal")
    if not _pedal(at).flags & PedalFlag.PRESSED:
        raise Unready("the pedal was let go too soon")


@clause(
    "22.6",
    "The stop switch pressed in motion trips STOP_PRESSED; until it is out, nothing clears it and nothing moves.",
    Group.MOTOR,
    motion="the spindle, slowly: press the stop switch while it turns, pull it out five seconds later",
    wired=Has.STOP_INPUT,
)
def stop_switch_trips(at: Examiner) -> None:
    at.open_wind()
    alive(at)
    answer = at.ask(move(at, LONG_MOVE_S))
    if answer.verdict is not Verdict.DONE:
        raise Unready(f"Move was answered {verdict_words(answer)} (see 13.1)")
    status = at.status()
    end_s = at.now_s + FOOT_WAIT_S
    while status.trip is Trip.NONE and status.state is not State.STILL and at.now_s < end_s:
        status = at.status()
        if status.flags & Flag.STOP_PRESSED and status.state is State.SETTING_UP:
            raise Breach("the stop switch is pressed, and it turns on")
    if status.trip is Trip.NONE:
        raise Unready("nobody pressed the stop switch")
    require(status.trip is Trip.STOP_PRESSED, f"it tripped {name(status.trip)}")
    require(status.state is State.TRIPPED, f"the state is {name(status.state)}")
    _cleared(at)
    require(rests(at.status()), "it moves after the trip was cleared")


def _cleared(at: Examiner) -> None:
    """Clear it as soon as it is out, and not before."""
    end_s = at.now_s + FOOT_WAIT_S + rest_bound_s(at)
    while at.now_s < end_s:
        status = at.settled()
        answer = at.ask(at.make(ClearTrip, trip=int(Trip.STOP_PRESSED)))
        if answer.verdict is Verdict.DONE:
            require(not status.flags & Flag.STOP_PRESSED, "it was cleared while it was pressed")
            return
        require(answer.verdict is Verdict.CAUSE_REMAINS, f"ClearTrip: {verdict_words(answer)}")
    raise Unready("the stop switch was not pulled out again")
