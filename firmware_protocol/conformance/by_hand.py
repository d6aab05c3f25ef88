"""The machine on a board: what a person's hands do at it, as the board's statuses show it.

The clauses judge what a board says; this judges what it sees. Nothing here drives anything: the spindle is turned by
hand, with the motor's power off, and guard, wire and stop switch are moved by hand; the pedal is never armed. Each thing that is wired is asked for by itself,
watched until it has come or its time is over, and told with what was found. Without hands only the rest is watched.
"""

from __future__ import annotations

import contextlib
import enum
import math
from collections.abc import Callable, Iterator
from typing import Protocol

from firmware_protocol.records import dataclass

from ..messages import ClearTrip, Flag, Has, State, Status
from ..seam import Clock, Link, LinkLost
from ..vocabulary import PedalFlag
from .clauses import Breach, Outcome, Unready
from .examiner import Examiner, name

TURNS = 5  # of each stretch
HAND_DEGREES = 5.0  # by which a hand misses the mark, at each end
REST_WATCHED_S = 5.0
SETTLED_S = (
    4.0  # no edge for so long: the hand has let go. One count a turn, turned slowly, is quicker
)
TURN_WAIT_S = 60.0  # for the first edge
TURN_MOST_S = 180.0
SWITCH_WAIT_S = 30.0
WATCH_S = 0.1


class Deed(enum.Enum):
    """What a person is asked to do, as the question has it."""

    CLOCKWISE = (
        f"turn the spindle {TURNS} whole turns by hand, slowly, clockwise seen from its free end, "
        "from a mark to the same mark, then let go"
    )
    BACK = f"turn the same {TURNS} turns back"
    OPEN_GUARD = "open the guard"
    SHUT_GUARD = "shut the guard"
    TAKE_WIRE = "take the wire out of its sensor"
    PUT_WIRE = "put the wire back into its sensor"
    PRESS_PEDAL = "press the foot pedal and keep your foot on it"
    LIFT_PEDAL = "take your foot off the pedal"
    PRESS_STOP = "press the stop switch"
    PULL_STOP = "pull the stop switch out again"


class Hands(Protocol):
    """A person at the machine."""

    def ready(self, deed: Deed) -> bool:
        """Asks for it; False: it is left out. What is done before the answer is not looked at."""

    def act(self, deed: Deed) -> None:
        """The watching has begun. A person does it now; a simulated one has to."""


@dataclass(frozen=True, slots=True)
class Look:
    """One thing looked at. ``sentence`` says what a good machine does."""

    name: str
    sentence: str


REST = Look("rest", "Nothing is counted while nothing turns.")
SENSOR = Look("sensor", "Turned by hand, every channel of the sensor is seen.")
DIRECTION = Look("direction", "Turned back, the count comes back.")
BOUNCE = Look("bounce", "The same turns give the same edges, and none comes too soon.")
GUARD = Look("guard", "The guard is seen to open and to shut.")
WIRE = Look("wire", "The wire is seen to go and to come.")
PEDAL = Look("pedal", "The pedal is seen pressed and let go.")
STOP = Look("stop", "The stop switch is seen pressed and pulled out.")
LOOKS = (REST, SENSOR, DIRECTION, BOUNCE, GUARD, WIRE, PEDAL, STOP)


@dataclass(frozen=True, slots=True)
class Seen:
    """What became of a look, and what was found, or why not."""

    look: Look
    outcome: Outcome
    found: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """Between a rest and the next, with turns by hand between them. ``path``: every step of the count, unsigned."""

    net: int
    path: int
    unattributed: int
    implausible: int

    @property
    def edges(self) -> int:
        """As many as are known of, whichever way they went."""
        return max(abs(self.net), self.unattributed)


def look_at_machine(
    link: Link, clock: Clock, first_token: int, hands: Hands | None
) -> Iterator[Seen]:
    """One ``Seen`` for each look, as they come. The link is closed at the end. Raises ``LinkLost``."""
    at = Examiner(link, clock, first_token)
    try:
        yield from _looked(at, hands)
    except LinkLost as lost:
        raise LinkLost(f"the port closed during the check ({lost})") from None
    finally:
        at.link.close()


def _looked(at: Examiner, hands: Hands | None) -> Iterator[Seen]:
    try:
        met = at.first_welcome()
        at.begin()
        at.open_wind()
    except (Breach, Unready) as trouble:
        yield from (Seen(look, Outcome.NOT_TESTED, str(trouble)) for look in LOOKS)
        return
    yield _tried(at, REST, _rests)
    if hands is None:
        left = "it takes your hands"
        yield from (Seen(look, Outcome.NOT_TESTED, left) for look in LOOKS if look is not REST)
    else:
        yield from _turned(at, hands)
        for look, has, deeds, sees in SWITCHES:
            if met.has & has:
                yield _tried(at, look, _Switched(hands, deeds, sees))
            else:
                yield Seen(look, Outcome.NOT_TESTED, "the board has none")
    _leave(at)


def _leave(at: Examiner) -> None:
    """No wind is left open."""
    with contextlib.suppress(Breach, Unready):
        at.close_wind()


def _tried(at: Examiner, look: Look, trial: Callable[[Examiner], str]) -> Seen:
    try:
        return Seen(look, Outcome.PASSED, trial(at))
    except Breach as breach:
        return Seen(look, Outcome.FAILED, str(breach))
    except Unready as unready:
        return Seen(look, Outcome.NOT_TESTED, str(unready))


# --- the rest and the spindle -----------------------------------------------------------------------


def _rests(at: Examiner) -> str:
    before = at.status()
    at.statuses.clear()
    at.hear(REST_WATCHED_S)
    seen = _stretch(before, [status for _, status in at.statuses])
    edges = max(seen.path, seen.unattributed) + seen.implausible
    if edges:
        raise Breach(
            f"{edges} edges in {REST_WATCHED_S:.0f} s; if nothing turned it is noise: look at screen, pull-up, capacitor"
        )
    return f"no edge in {REST_WATCHED_S:.0f} s"


def _turned(at: Examiner, hands: Hands) -> Iterator[Seen]:
    """Both stretches, then what they say of sensor, direction and bounce."""
    try:
        first = _by_hand(at, hands, Deed.CLOCKWISE)
    except Unready as unready:
        yield from (
            Seen(look, Outcome.NOT_TESTED, str(unready)) for look in (SENSOR, DIRECTION, BOUNCE)
        )
        return
    has_sense = bool(at.welcome and at.welcome.has & Has.DIRECTION_SENSE)
    sensor = _tried(at, SENSOR, lambda _: _sensor(first, has_sense))
    yield sensor
    if sensor.outcome is not Outcome.PASSED:
        why = "see the sensor"
        yield from (Seen(look, Outcome.NOT_TESTED, why) for look in (DIRECTION, BOUNCE))
        return
    try:
        second = _by_hand(at, hands, Deed.BACK)
    except Unready as unready:
        yield from (Seen(look, Outcome.NOT_TESTED, str(unready)) for look in (DIRECTION, BOUNCE))
        return
    if has_sense:
        yield _tried(at, DIRECTION, lambda _: _direction(first, second))
    else:
        why = "a sensor of one channel does not know which way it turns"
        yield Seen(DIRECTION, Outcome.NOT_TESTED, why)
    yield _tried(at, BOUNCE, lambda _: _bounce(first, second))


def _by_hand(at: Examiner, hands: Hands, deed: Deed) -> Stretch:
    """What came while it was done. ``Unready`` where it was left out or a trip came in between."""
    if not hands.ready(deed):
        raise Unready("you left it out")
    before = at.status()
    at.statuses.clear()
    hands.act(deed)
    begun_s = quiet_s = at.now_s
    came, newest = False, before
    while at.now_s - begun_s < TURN_MOST_S:
        at.hear(WATCH_S)
        if at.newest is not None and _differs(at.newest, newest):
            came, quiet_s, newest = True, at.now_s, at.newest
        if at.now_s - quiet_s >= (SETTLED_S if came else TURN_WAIT_S):
            break
    if newest.state is State.TRIPPED:
        _clear(at, newest)
        raise Unready(f"the board tripped ({name(newest.trip)}): turn it more slowly")
    return _stretch(before, [status for _, status in at.statuses])


def _differs(one: Status, other: Status) -> bool:
    return _edges_of(one) != _edges_of(other) or one.state != other.state


def _edges_of(status: Status) -> tuple[int, int, int]:
    return status.count, status.unattributed, status.implausible


def _stretch(before: Status, heard: list[Status]) -> Stretch:
    last, path = before, 0
    for status in heard:
        path += abs(status.count - last.count)
        last = status
    return Stretch(
        last.count - before.count,
        path,
        last.unattributed - before.unattributed,
        last.implausible - before.implausible,
    )


def _clear(at: Examiner, tripped: Status) -> None:
    """A trip that a fast hand set off; the spindle rests by now."""
    with contextlib.suppress(Breach, Unready):
        at.ask(at.make(ClearTrip, trip=tripped.trip))
        at.status()


def _sensor(first: Stretch, has_sense: bool) -> str:
    if not first.path and not first.unattributed:
        raise Breach(
            "no edge came: is the sensor wired, powered, and near enough to what passes it?"
        )
    if has_sense and first.unattributed:
        raise Breach(
            f"{first.unattributed} counts were jumped over: turn more slowly; if that is no help, a channel drops edges"
        )
    if has_sense and 2 * abs(first.net) < first.path:
        raise Breach("the count only goes to and fro: one of the two channels is not seen")
    if first.edges < TURNS - 1:
        raise Breach(
            f"only {first.edges} edges in {TURNS} turns: a sensor gives at least one a turn"
        )
    channels = "both channels are" if has_sense else "its channel is"
    return f"{channels} seen: {first.edges} edges in {TURNS} turns"


def _slack(first: Stretch) -> int:
    """By which two stretches of a good sensor may differ: the hand, and an edge at each end."""
    a_turn = first.edges / TURNS
    return 2 + math.ceil(4 * HAND_DEGREES / 360 * a_turn)


def _direction(first: Stretch, second: Stretch) -> str:
    if first.net * second.net >= 0:
        raise Breach(
            f"the count went {first.net:+d} one way and {second.net:+d} the other: the channels do not tell the direction"
        )
    if abs(first.net + second.net) > _slack(first):
        raise Breach(f"the count went {first.net:+d} and came back {second.net:+d}")
    if first.net > 0:
        return "clockwise counts up"
    return 'clockwise counts down: right for a machine file with plus = "counter-clockwise"'


def _bounce(first: Stretch, second: Stretch) -> str:
    soon = first.implausible + second.implausible
    if soon:
        raise Breach(
            f"{soon} edges came too soon to be true: contacts bounce, or sparks come in; look at capacitor, screen, pull-up"
        )
    if abs(first.edges - second.edges) > _slack(first):
        raise Breach(
            f"the same turns gave {first.edges} and {second.edges} edges: some bounce or are missed, or a turn was miscounted"
        )
    return f"{first.edges} and {second.edges} edges in {TURNS} turns each, none too soon"


# --- what is a switch to the board ------------------------------------------------------------------


def _guard_open(at: Examiner) -> bool:
    return bool(at.status().flags & Flag.GUARD_OPEN)


def _wire_gone(at: Examiner) -> bool:
    return not at.status().flags & Flag.WIRE_PRESENT


def _stop_pressed(at: Examiner) -> bool:
    return bool(at.status().flags & Flag.STOP_PRESSED)


def _pedal_pressed(at: Examiner) -> bool:
    """By the pedal status behind the next status. ``Breach`` where none comes."""
    at.pedals.clear()
    at.settled()
    if not at.pedals:
        raise Breach("no pedal status comes behind the board's statuses (see 22.1)")
    return bool(at.pedals[-1].flags & PedalFlag.PRESSED)


SWITCHES: tuple[tuple[Look, Has, tuple[Deed, Deed], Callable[[Examiner], bool]], ...] = (
    (GUARD, Has.GUARD, (Deed.OPEN_GUARD, Deed.SHUT_GUARD), _guard_open),
    (WIRE, Has.WIRE_SENSOR, (Deed.TAKE_WIRE, Deed.PUT_WIRE), _wire_gone),
    (PEDAL, Has.PEDAL, (Deed.PRESS_PEDAL, Deed.LIFT_PEDAL), _pedal_pressed),
    (STOP, Has.STOP_INPUT, (Deed.PRESS_STOP, Deed.PULL_STOP), _stop_pressed),
)


@dataclass(frozen=True, slots=True)
class _Switched:
    """A switch that a person moves one way and back."""

    hands: Hands
    deeds: tuple[Deed, Deed]
    sees: Callable[[Examiner], bool]

    def __call__(self, at: Examiner) -> str:
        if self.sees(at):
            self._moved(at, self.deeds[1], False)
        self._moved(at, self.deeds[0], True)
        self._moved(at, self.deeds[1], False)
        return "seen both ways"

    def _moved(self, at: Examiner, deed: Deed, due: bool) -> None:
        if not self.hands.ready(deed):
            raise Unready("you left it out")
        self.hands.act(deed)
        end_s = at.now_s + SWITCH_WAIT_S
        while self.sees(at) is not due:
            if at.now_s >= end_s:
                raise Breach(f"the board did not see it within {SWITCH_WAIT_S:.0f} s: {deed.value}")
