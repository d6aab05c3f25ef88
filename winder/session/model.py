"""The words of a wind under way: truth about the count, intents in, events out, and the view.

Everything is a frozen dataclass, so that threads may hand them to each other freely.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import Any


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


@dataclass(frozen=True, slots=True)
class Asked:
    """An intent with what goes with it."""

    intent: Intent
    text: str = ""
    value: float | None = None
    by: str = "operator"


class Phase(enum.Enum):
    """Where the host stands with this wind. The keys of the session's transition table."""

    CONNECTING = "connecting"  # no welcome yet
    PREPARING = "preparing"  # opening the wind, marking the traverse, loading the plan
    READY = "ready"  # armed, waiting for the person
    STARTING = "starting"
    WINDING = "winding"
    SLOWING = "slowing"
    PAUSED = "paused"
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
