"""The deeds that change an account: plain values, one for everything that can be said of a count.

``Opens``, ``Says``, ``Drives`` and ``Keeps`` are the board's; the rest are statements, each with a name (a statement
replaces its namesake) and a place.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass

from .truth import OPEN

COMMIT_GAP_S = 0.5  # no sign of life is sent while the newest count on record is older
LEASE_S = 1.0  # the board's, after the last sign of life
TOUCH_TURNS = 1  # a spindle left alone, when nobody counted: so far either way (no source)
SPEED_OVERSHOOT = 1.15  # a loop on one edge a turn was seen 14 % off its speed
RUNS_AWAY_S = (
    2.0  # a drive that sees no edge reaches its full speed in no less (our judgement, no source)
)
OVERRUN_TURNS = 1  # past a leg's end that stops, at most
HAND_RPM = 6000.0  # nobody turns a bobbin faster by hand or drill (common practice, no source)
UNDRIVEN_MAX = 0xFFFF  # the status counts edges that nothing drove up to here
SLOWEST = 1e-6  # counts/s2: nothing is divided by nought, whatever a record says
PERSON = "operator"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A leg in force, as far as a bound needs it: counts of the wind, counts/s, counts/s2."""

    end_count: int
    stops: bool
    speed_cps: float
    slowing_cps2: float


@dataclass(frozen=True, slots=True)
class Drive:
    """How far a motor can go without being heard. ``rest_s``: the board's own bound to rest; 0: not told;
    ``most_cps``: of a drive that nothing holds back."""

    stretches: tuple[Stretch, ...] = ()
    coasting_cps2: float = 1.0
    rest_s: float = 0.0
    most_cps: float = 0.0

    def reach(self, count: int, per_turn: int, unseen_s: float, *, blind: bool = False) -> int:
        """Most counts after ``count``: the unseen time, coming to rest, coasting; no further than the next end that stops.

        ``blind``: the board does not see its edges either, so nothing holds the drive back."""
        if blind:
            told = max((leg.speed_cps for leg in self.stretches), default=0.0) * SPEED_OVERSHOOT
            loose = told + max(self.most_cps - told, 0.0) * min(1.0, unseen_s / RUNS_AWAY_S)
            return _whole(loose * (unseen_s + max(self.rest_s, LEASE_S))) + per_turn
        most = coasting = 0.0
        for place, leg in enumerate(self.stretches):
            if leg.end_count <= count:
                continue
            if place and most and count + most < self.stretches[place - 1].end_count:
                break
            most = max(most, self._driven(leg, unseen_s))
            coasting = max(coasting, self._coasting(leg))  # of a board that was reset
            if leg.stops:
                most = min(most, leg.end_count - count + OVERRUN_TURNS * per_turn)
                break
        return _whole(most + coasting) + 1 if most else OVERRUN_TURNS * per_turn

    def reach_back(self, per_turn: int, unseen_s: float) -> int:
        """Most counts back, where the motor was asked to turn back."""
        most = max(
            (self._driven(leg, unseen_s) + self._coasting(leg) for leg in self.stretches),
            default=0.0,
        )
        return _whole(most) + per_turn

    def _driven(self, leg: Stretch, unseen_s: float) -> float:
        speed = leg.speed_cps * SPEED_OVERSHOOT
        return speed * (unseen_s + (self.rest_s or speed / max(leg.slowing_cps2, SLOWEST)))

    def _coasting(self, leg: Stretch) -> float:
        speed = leg.speed_cps * SPEED_OVERSHOOT
        return speed * speed / (2 * max(self.coasting_cps2, SLOWEST))


def _whole(counts: float) -> int:
    """So many and a part is one more; what is no number is open."""
    return math.ceil(counts) if counts < OPEN else OPEN


@dataclass(frozen=True, slots=True)
class Word:
    """What the board said last of a wind. ``moving``: the spindle turned, or may have been about to."""

    count: int = 0
    undriven: int = 0  # edges that nothing drove and nobody knows the direction of
    sooner: int = 0  # edges that came too soon to be true, and pulses that were too short
    uptime_ms: int = (
        -1
    )  # of the board, when it said so; below zero: it has not been heard in this wind
    moving: bool = False
    back: bool = False  # the motor was asked to turn back


def comes_after(uptime_ms: int, before_ms: int) -> bool:
    """By a clock that wraps; below zero nothing came before."""
    return before_ms < 0 or (uptime_ms - before_ms) & 0xFFFF_FFFF < 1 << 31


@dataclass(frozen=True, slots=True)
class Entry:
    """One wind number: its facts, and the board's latest word."""

    wind: int
    boot: int
    per_turn: int  # counts a turn
    sense: bool  # the sensor knows which way it turns
    driven: bool  # by a motor; else by a hand
    word: Word = Word()
    drive: Drive = Drive()
    final: bool = False  # closed: this was the last word
    kept: tuple[int, bool] | None = None  # count, and whether it was at rest; evidence

    @property
    def by_hand(self) -> bool:
        """A hand turns it, under a sensor that cannot tell the direction: every edge counts."""
        return not self.driven and not self.sense

    def counted(self, word: Word | Place | None = None) -> int:
        said = self.word if word is None else word
        return said.count + said.undriven if self.by_hand else said.count

    def saying(self, word: Word, *, final: bool) -> Entry:
        """The same wind with another word; every status makes one."""
        facts = (self.wind, self.boot, self.per_turn, self.sense, self.driven)
        return Entry(*facts, word, self.drive, final, self.kept)

    def may_follow(self, uptime_ms: int) -> bool:
        return comes_after(uptime_ms, self.word.uptime_ms)


@dataclass(frozen=True, slots=True)
class Place:
    """Where something was said: a wind and what the board had counted then."""

    wind: int
    count: int
    undriven: int = 0
    sooner: int = 0


# --- deeds -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Opens:
    """A wind number is drawn and opened, once; its facts."""

    wind: int
    boot: int
    per_turn: int
    sense: bool
    driven: bool


@dataclass(frozen=True, slots=True)
class Says:
    """The board's word for a wind. ``final``: the wind is closed."""

    wind: int
    word: Word
    final: bool = False


@dataclass(frozen=True, slots=True)
class Drives:
    """The legs in force, by which is bounded what nobody hears."""

    wind: int
    drive: Drive


@dataclass(frozen=True, slots=True)
class Keeps:
    """What a board that forgot the wind kept of its last rest in it."""

    wind: int
    count: int
    at_rest: bool


@dataclass(frozen=True, slots=True)
class Doubt:
    """True counts may be ``down`` fewer or ``up`` more, for what came between two places of one wind.

    ``unmoved``: a person who saw the spindle stand can settle it. ``of_wire``: a wire found whole takes it back.
    """

    why: str
    start: Place
    end: Place
    down: int
    up: int
    unmoved: bool = False
    of_wire: bool = False
    key: str = ""  # which of several for one reason; a doubt that grows keeps it

    @property
    def name(self) -> tuple[object, ...]:
        return self.why, self.start, self.key


@dataclass(frozen=True, slots=True)
class Brought:
    """What was known of the coil before there was an account of it: a logbook of an older version, or another's."""

    low: int
    best: int
    high: int
    per_turn: int
    by: str
    why: str

    @property
    def name(self) -> tuple[object, ...]:
        return ("brought",)


@dataclass(frozen=True, slots=True)
class Vouch:
    """So many counts are on the coil, says a person. ``place`` None: at the first word heard from now on."""

    counts: int
    per_turn: int
    by: str
    why: str
    place: Place | None
    number: int = 0  # of its kind in the account

    @property
    def name(self) -> tuple[object, ...]:
        return "vouch", self.number


@dataclass(frozen=True, slots=True)
class TakenOff:
    """So many counts came off and the board did not count them; ``explains``: undriven edges that came of it."""

    counts: int
    by: str
    place: Place
    explains: int = 0
    number: int = 0  # of its kind in the account: two of the same size at one place are two

    @property
    def name(self) -> tuple[object, ...]:
        return "off", self.number


@dataclass(frozen=True, slots=True)
class Unmoved:
    """A person saw that the spindle was not turned while nobody counted."""

    by: str
    place: Place
    uptime_ms: int = -1  # of the word after which it was said: what comes later nobody has seen

    @property
    def name(self) -> tuple[object, ...]:
        return "unmoved", self.place


@dataclass(frozen=True, slots=True)
class WireWhole:
    """A person looked and found the wire whole."""

    place: Place

    @property
    def name(self) -> tuple[object, ...]:
        return "whole", self.place


Statement = Brought | Doubt | Vouch | TakenOff | Unmoved | WireWhole
Deed = Opens | Says | Drives | Keeps | Statement
