"""The words of a wind under way: truth about the count, intents in, events out, and the view.

Everything is a frozen dataclass, so that threads may hand them to each other freely.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from winder.plan.model import Plan

    from .setting_up import SetUpLine

Ohms = tuple[float, float, float]  # nominal, low, high, at 20 C


class Certainty(enum.Enum):
    EXACT = "exact"
    VOUCHED = "vouched"
    BETWEEN = "between"


@dataclass(frozen=True, slots=True)
class CountTruth:
    """Counts of the coil and how sure they are. ``low == high`` unless BETWEEN."""

    certainty: Certainty
    low: int
    high: int
    by: str = ""  # who vouched
    why: str = ""  # reason for vouching or doubt, plain words
    last_sure: int | None = None  # with BETWEEN after a break: the coil's count last on record


class Intent(enum.Enum):
    """What a person may ask of a wind. Screens and commands send these and nothing else."""

    START = "start"  # from ready
    PAUSE = "pause"  # a stop: at any time
    CONTINUE = "continue"  # from paused
    END_HERE = "end here"  # at rest: closes the wind short of its target
    CLEAR_TRIP = "clear trip"
    SETTLE_COUNT = "settle count"  # value: the turns the operator vouches for
    VOUCH_UNMOVED = "vouch unmoved"  # the spindle was not turned meanwhile
    SLOWER = "slower"
    FASTER = "faster"
    NOTE = "note"  # text
    ACCEPT_CAUTIONS = "accept cautions"
    LEAVE = "leave"  # stop if moving, journal, and end the run
    # The list before the wind.
    DECLARE_TOP = "declare top"  # text: "operator" or "chuck", where the coil's top faces
    CONFIRM = "confirm"  # text: the item that is done
    SET_TENSION = "set tension"  # value: cN
    STEP_GUIDE = "step guide"  # value: mm, one finite move; below zero to the left
    GUIDE_TO_START = "guide to start"  # one finite move back to the left flange
    TOUCH_LEFT = "touch left"  # the guide touches this flange now
    TOUCH_RIGHT = "touch right"
    SET_UP_DONE = "set-up done"  # every item is
    DECLARE_SET_UP = "declare set-up"  # the same, without going through the list
    # When the coil is wound, or at a pause.
    MEASURED = (
        "measured"  # value: ohms, at_c: the wire's temperature; or text: a reading as one writes it
    )
    ADOPT_TURNS = "adopt turns"  # the turns that follow from what was measured become the target
    # The wire, and turns that come off again.
    WIRE_BROKE = "wire broke"  # stops, if anything moves
    WIRE_JOINED = "wire joined"  # a splice at the turn where the coil stands now
    WIRE_WHOLE = "wire whole"  # it did not break after all
    TURNS_OFF = "turns off"  # value: turns that were taken off without the machine counting them
    TAKE_OFF = "take off"  # value: turns to turn back, slowly, by the motor


@dataclass(frozen=True, slots=True)
class Asked:
    """An intent with what goes with it."""

    intent: Intent
    text: str = ""
    value: float | None = None
    by: str = "operator"
    at_c: float | None = None  # with MEASURED; None: not known


class Phase(enum.Enum):
    """Where the host stands with this wind. The keys of the session's transition table."""

    CONNECTING = "connecting"  # no welcome yet
    SETTING_UP = "setting up"  # the list at the machine, before anything is armed
    PREPARING = "preparing"  # opening the wind, marking the traverse, loading the plan
    READY = "ready"  # armed, waiting for the person
    STARTING = "starting"
    WINDING = "winding"
    SLOWING = "slowing"
    PAUSED = "paused"
    TAKING_OFF = "taking off"  # at rest beyond what the coil shall have; the wind is still open
    COMPLETE = "complete"
    TRIPPED = "tripped"
    UNHEARD = "unheard"  # the link is silent or gone; the board is coming to rest by itself
    BROKEN_OFF = "broken off"  # the board was reset or taken by another host: this wind is over
    ENDED = "ended"  # closed here or complete and closed


@dataclass(frozen=True, slots=True)
class SessionEvent:
    """Something worth a line in the journal. ``kind`` is a stable word, ``facts`` plain values."""

    kind: str  # "intent", "opened", "started", "at rest", "count", "doubt", "trip", "complete", ...
    at_ns: int
    text: str  # plain words for people
    counts: int | None = None
    facts: tuple[tuple[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """What follows from one reading."""

    reading: str  # as one writes it, complete: it can be read again
    learnt: bool  # False: it contradicts what is known, and nothing was figured from it
    words: str  # for people: what follows, or the likely causes in order
    wanted_turns: (
        int | None
    )  # that the target takes by all that is known now, if others than planned
    ohm: tuple[float, float | None] | None = None  # with degrees C, where it was the coil's ohms


class Estimate(Protocol):
    """What is known of the coil's ohms, narrowed by readings. Whoever opens a wind hands it in."""

    def resistance(self, turns: float) -> Ohms: ...

    def objection(self, text: str, turns: float) -> str:
        """Why this is no reading of a coil with so many turns; "" if it is one."""

    def read(self, text: str, turns: float, *, finished: bool) -> Finding:
        """Learn a reading that has no objection; ``finished``: nothing more is wound on."""

    def wanted_turns(self) -> int | None:
        """Turns that the target takes by all that is known now, where they are others than planned."""

    def turns_left(self) -> int | None:
        """Turns that the target leaves on a coil that was wound long and measured; None: not known."""

    def replan(self, target_turns: int) -> Plan:
        """The plan of this wind to another end; same machine, same first turn."""


@dataclass(frozen=True, slots=True)
class LanePlace:
    """Where the hand should guide the wire now. Shares: 0 at the left flange, 1 at the right."""

    share: float
    left_share: float  # turning points
    right_share: float
    rightward: bool
    turns_to_edge: float  # until it turns round
    layer: int  # from 1


@dataclass(frozen=True, slots=True)
class WindView:
    """All a screen needs to know, newest moment. Turns are of the coil, not of this wind."""

    phase: Phase
    headline: str  # one or two plain words: "winding", "paused"
    advice: str  # one sentence: what happens next, or what to do
    recipe_name: str
    direction: str
    truth: CountTruth
    counts_per_turn: int
    turns: float  # newest count over counts per turn, of the coil
    target_turns: int
    remaining_turns: float
    speed_rpm: float
    planned_rpm: float
    seconds_to_go: float | None
    next_stop_turns: float | None  # turns until the next planned pause or the end
    next_stop_is: str  # "pause", "end" or ""
    ohm_now: tuple[float, float, float] | None  # nominal, low, high at 20 C
    ohm_end: tuple[float, float, float] | None
    layer: int
    layers: int
    guide_share: float | None  # 0 left turning point, 1 right; None: no traverse
    guide_rightward: bool
    link_age_s: float | None  # since the last whole frame; None before the first
    pace_permille: int
    trip: str  # plain words, or ""
    trip_advice: str
    may: frozenset[Intent]  # what may be asked now
    lines: tuple[str, ...]  # newest events in words, newest last, at most 50
    # Winding window in mm: between the flanges, height of the flange above the core, build at the end.
    window_mm: tuple[float, float, float] | None = None  # None: not told, nothing is drawn to scale
    set_up: tuple[SetUpLine, ...] = ()  # the list, while it is gone through
    guide_mm: float | None = None  # where the board believes the guide to be; None: no traverse
    guide_moves: bool = False  # a step that was asked for is under way
    measured: tuple[float, float | None] | None = None  # ohms and degrees C, of the finished coil
    # Heights between the flanges, left to right, as shares of the flange's; empty: not known.
    lay: tuple[float, ...] = ()
    lay_span: tuple[float, float] = (0.0, 1.0)  # where the winding is, shares of the bobbin's width
    lane: LanePlace | None = (
        None  # for a hand that guides the wire; None: a guide does, or nothing is known
    )
    wire_broke_at: float | None = None  # turns, until it is joined or found whole
    off_turns: float | None = None  # still to be taken off; below zero: taken off too many
    unwinds: bool = False  # the motor turns back, as was asked
    finding: str = ""  # what follows from the newest reading, in words
    offered_turns: int | None = None  # the target that follows from it, to be adopted
