"""The words of a wind under way: intents in, events out, phases, and what a screen is shown.

Everything is a frozen dataclass or an enumeration, so that threads may hand them to each other freely. What goes with
an intent travels as one value of the type that the intent takes, read once where a person typed it.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import field
from typing import TYPE_CHECKING, Any, Protocol

from firmware_protocol.records import dataclass
from winder.plan.facing import Top

from .deeds import Deed
from .truth import Certainty as Certainty
from .truth import CountTruth as CountTruth

if TYPE_CHECKING:
    from winder.plan.model import Plan
    from winder.recipe.observations import Observation

Ohms = tuple[float, float, float]  # nominal, low, high, at 20 C


class Intent(enum.Enum):
    """What a person may ask of a wind; beside each the value that goes with it. Screens and commands send nothing else."""

    __hash__ = object.__hash__  # by identity: it is looked up in tables at every status

    START = "start"  # from ready
    PAUSE = "pause"  # a stop: at any time
    CUT = "cut the power"  # a second stop: the drive goes off at once
    CONTINUE = "continue"  # from paused
    PEDAL = "wind by foot pedal"  # from ready or paused: it goes while the pedal is pressed
    END_HERE = "end here"  # at rest: closes the wind short of its target
    CLEAR_TRIP = "clear trip"
    ACKNOWLEDGE = "acknowledge"  # an alarm was seen and its cause looked for
    SETTLE_COUNT = "set the count"  # float: turns on the coil, as the person counted them
    VOUCH_UNMOVED = "vouch unmoved"  # the spindle was not turned meanwhile
    SLOWER = "slower"
    FASTER = "faster"
    NOTE = "note"  # str
    ACCEPT_CAUTIONS = "accept cautions"
    LEAVE = "leave"  # stop if moving, journal, and end the run
    # The list before the wind.
    DECLARE_TOP = "declare top"  # Top: where the coil's top faces
    CONFIRM = "confirm"  # Item: the one that is done
    SET_TENSION = "set tension"  # float: cN
    STEP_GUIDE = "step guide"  # float: mm, one finite move; below zero to the left
    GUIDE_TO_START = "guide to start"  # one finite move back to the left flange
    HOME_GUIDE = "find the guide's home"  # to its limit switch, and from there to the left flange
    TOUCH_LEFT = "touch left"  # the guide touches this flange now
    TOUCH_RIGHT = "touch right"
    WIRE_HERE = "wire here"  # the guide stands where the wire is: the layer goes on from there
    SET_UP_DONE = "set-up done"  # every item is
    DECLARE_SET_UP = "declare set-up"  # the same, without going through the list
    # When the coil is wound, or at a pause.
    MEASURED = "measured"  # Reading
    ADOPT_TURNS = "adopt turns"  # the turns that follow from what was measured become the target
    # The wire, and turns that come off again.
    WIRE_BROKE = "wire broke"  # stops, if anything moves
    WIRE_JOINED = "wire joined"  # a splice at the turn where the coil stands now
    WIRE_WHOLE = "wire whole"  # it did not break after all
    TURNS_OFF = "turns off"  # TurnsOff: taken off without the machine counting them
    TAKE_OFF = "take off"  # float: turns to turn back, slowly, by the motor


class Item(enum.Enum):
    """The lines of the list before a wind, in the order in which a person goes through them."""

    BOBBIN = "bobbin"
    LEAD = "lead"
    TENSION = "tension"
    GUIDE = "guide"
    GUARD = "guard"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class TurnsOff:
    """``besides``: these are others than the turns that the sensor saw come off."""

    turns: float
    besides: bool = False


@dataclass(frozen=True, slots=True)
class Reading:
    """What was measured, and as it was written; ``at_turns``: the text says where, else it is the coil as it stands."""

    text: str
    observation: Observation
    at_turns: bool = False


Value = float | str | Top | Item | TurnsOff | Reading | None


@dataclass(frozen=True, slots=True)
class Asked:
    """An intent with what goes with it."""

    intent: Intent
    value: Value = None
    by: str = "operator"


class Phase(enum.Enum):
    """Where the host stands with this wind: the keys of the one table. Each says whether the spindle moves or may move,
    whether a person is waited for, and whether the wind is over."""

    __hash__ = object.__hash__  # by identity: it is looked up in tables at every status

    moves: bool
    waits: bool
    over: bool

    def __new__(cls, word: str, kind: str = "") -> Phase:
        phase = object.__new__(cls)
        phase._value_ = word
        phase.moves, phase.waits, phase.over = kind == "moves", kind == "waits", kind == "over"
        return phase

    CONNECTING = "connecting"  # the board is asked who it is: at first, and when its port is back
    SETTING_UP = "setting up", "waits"  # the list at the machine, before anything is armed
    PREPARING = "preparing"  # opening the wind, marking the traverse, loading the plan
    READY = "ready", "waits"  # armed
    STARTING = "starting", "moves"
    PEDAL = "foot pedal", "moves"  # armed and at rest: it goes as soon as the pedal is pressed
    WINDING = "winding", "moves"
    SLOWING = "slowing", "moves"
    PAUSED = "paused", "waits"
    TAKING_OFF = (
        "taking off",
        "waits",
    )  # at rest at the end, with turns too many or a count in doubt
    COMPLETE = "complete", "over"
    TRIPPED = "tripped", "waits"
    ALARM = (
        "alarm",
        "waits",
    )  # the board did what it was not told; the stop is sent, and no sign of life
    UNHEARD = "no signal"  # the link is silent or gone; the board is coming to rest by itself
    LOST = "lost", "over"  # the board was reset or taken by another host: this wind is over
    ENDED = "ended", "over"  # closed here, or left


class How(enum.Enum):
    """How a run ended: one vocabulary, from here to the shelf."""

    COMPLETE = "complete"
    HERE = "here"  # a person ended it short, or kept what was too much
    LEFT = "left"  # the wind may go on
    LOST = "lost"  # the board forgot the wind, or was not heard any more


@dataclass(frozen=True, slots=True)
class SessionEvent:
    """Something worth a line in the journal. ``kind`` is a stable word, ``facts`` plain values."""

    kind: str  # one of ``events.KINDS``
    at_ns: int
    text: str  # plain words for people
    counts: int | None = None  # of this wind, as the board counts
    facts: Mapping[str, Any] = field(default_factory=dict)
    deeds: tuple[Deed, ...] = ()  # what it did to the account


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

    def objection(self, reading: Reading, turns: float) -> str:
        """Why this is no reading of a coil with so many turns; "" if it is one."""

    def read(self, said: Reading, turns: float, *, finished: bool) -> Finding:
        """Learn a reading that has no objection; ``finished``: nothing more is wound on."""

    def set_tension(self, tension_n: float | None) -> None:
        """The wire is held so at the machine, whatever the recipe says; None: by feel. What it may stretch follows."""

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
class SetUpLine:
    """One item of the list as a screen shows it."""

    item: Item
    what: str
    done: bool
    said: str  # what was found or declared, or what to do


@dataclass(frozen=True, slots=True)
class CoilView:
    """What is wound. ``window_mm``: between the flanges, height of the flange above the core, build at the end."""

    name: str
    direction: str
    counts_per_turn: int
    target_turns: int
    layers: int
    window_mm: tuple[float, float, float] | None = None  # None: not told, nothing is drawn to scale


@dataclass(frozen=True, slots=True)
class CountView:
    """How far, and how sure that is. Turns are of the coil, not of this wind."""

    truth: CountTruth
    turns: float  # the best guess
    remaining_turns: float
    off_turns: float | None = None  # still to be taken off; below zero: taken off too many
    wire_broke_at: float | None = None  # turns, until it is joined or found whole


@dataclass(frozen=True, slots=True)
class MotionView:
    speed_rpm: float = 0.0
    planned_rpm: float = 0.0
    pace_permille: int = 1000
    seconds_to_go: float | None = None
    next_stop_turns: float | None = None  # turns until the next planned pause or the end
    next_stop_is: str = ""  # "pause", "end" or ""
    early_turns: float = 0.0  # by which a hand drill is called to stop, for it runs on
    pauses_here: str | None = None  # a planned pause is here: what for, "" where that is not said
    unwinds: bool = False  # the motor turns back, as was asked
    guide_moves: bool = False  # a step that was asked for is under way
    guide_homes: bool = False  # it is on its way to its limit switch, or from there to the flange


@dataclass(frozen=True, slots=True)
class OhmView:
    """Ohms at 20 C, and what readings say of them."""

    now: Ohms | None = None
    end: Ohms | None = None
    measured: tuple[float, float | None] | None = None  # ohms and degrees C, of the finished coil
    finding: str = ""  # what follows from the newest reading, in words
    offered_turns: int | None = None  # the target that follows from it, to be adopted


@dataclass(frozen=True, slots=True)
class LayView:
    """Where the wire is. Heights are shares of the flange's, from left to right; empty: not known."""

    layer: int = 0
    guide_share: float | None = None  # 0 left turning point, 1 right; None: no traverse
    guide_rightward: bool = True
    guide_mm: float | None = None  # where the board believes the guide to be; None: no traverse
    heights: tuple[float, ...] = ()
    span: tuple[float, float] = (0.0, 1.0)  # where the winding is, shares of the bobbin's width
    lane: LanePlace | None = None  # for a hand that guides the wire
    wire_mm: float | None = None  # at rest, by the record: where the wire is; None: not on record
    wire_rightward: bool = True  # which way its layer goes on
    wire_open: bool = False  # somebody has to say where it is before it is wound on


@dataclass(frozen=True, slots=True)
class TroubleView:
    """What is wrong. Plain words, or ""."""

    alarm: str = ""
    trip: str = ""
    advice: str = ""  # what to do about it
    link_age_s: float | None = None  # since the last whole frame; None before the first


@dataclass(frozen=True, slots=True)
class WireView:
    """What is on the spool; ``until_turns``: turns until it may be empty, None where it lasts for sure."""

    left_m: float
    until_turns: float | None


@dataclass(frozen=True, slots=True)
class WindView:
    """All a screen needs to know, newest moment."""

    phase: Phase
    headline: str  # one or two plain words: "winding", "paused"
    advice: str  # one sentence: what happens next, or what to do
    coil: CoilView
    count: CountView
    motion: MotionView
    ohm: OhmView
    lay: LayView
    trouble: TroubleView
    may: frozenset[Intent]  # what may be asked now
    lines: tuple[str, ...]  # newest events in words, newest last, at most 50
    set_up: tuple[SetUpLine, ...] = ()  # the list, while it is gone through
    board_stops: bool = True  # False: a counter, which stops nothing
    wire: WireView | None = None  # None: nobody told of a spool
