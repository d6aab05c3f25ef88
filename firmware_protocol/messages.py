"""THE definition: every message, every vocabulary, every time limit of the protocol.

The board is the authority: it counts, it stops, it reports. Its ``Status`` is complete, so a host
that missed everything else still knows where the wind stands. The host asks; whatever it asks that
could move something carries the boot, the wind and the board's revision of its own state, and is
refused when any of them is stale. The board never learns what a turn is: it counts sensor counts,
and speeds are thousandths of a count per second.

Everything that other languages, the documents and the simulated board need is derived from here.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import Annotated

from .wire import GROUPS6, I8, I32, TEXT10, U8, U16, U32, Group, Sender, message

BASE_VERSION = 1  # of the base set
GROUP_VERSIONS = {Group.COUNTING: 1, Group.MOTOR: 1, Group.TRAVERSE: 1, Group.LEGS: 1}
# PEDAL and SETTINGS have their numbers and their kind ranges, and no messages yet.

STATUS_PERIOD_MS = 50  # 20 a second
ALIVE_PERIOD_MS = 200  # five a second
LEASE_MS = 1000  # silence of this length means: slow down, come to rest, keep the count
ANSWER_WAIT_MS = 200  # after this the host sends the same command again
SENDINGS_MAX = 10  # of one command, before the host calls the board silent
STOP_REPEAT_MS = 100  # the host repeats a stop until a status shows no motion
WELCOME_WAIT_MS = 3000  # boards that reset on opening need up to this long
EVENT_RING = 8  # newest events a board keeps
COUNT_MAX = 1 << 30  # a target beyond this is refused
LEGS_MAX_LEAST = 8  # a board with LEGS holds at least this many
CREEP_RATE_LEAST_MCPS = 4000  # edges at least four times a second while creeping


class State(enum.IntEnum):
    STILL = 0  # at rest, no wind open or no plan loaded
    ARMED = 1  # at rest, plan loaded and checked, ready for a start
    WINDING = 2
    SLOWING = 3  # on the way to rest
    PAUSED = 4  # at rest within a wind; a start continues it
    COMPLETE = 5  # at rest at the end of the plan
    TRIPPED = 6  # a protective stop, latched until cleared
    SETTING_UP = 7  # a finite move asked for at the bench


class Reason(enum.IntEnum):
    """Why the newest slowing or rest came about."""

    NONE = 0
    STOP = 1
    LEASE_LOST = 2
    LEG_PAUSE = 3  # the plan asked for it
    TARGET = 4  # the plan's last leg ended
    MOVE_DONE = 5
    TRIP = 6
    CLEARED = 7  # a trip was cleared


class Trip(enum.IntEnum):
    NONE = 0
    WIRE_LOST = 1
    GUARD_OPENED = 2
    OVERSPEED = 3
    SENSOR_IMPLAUSIBLE = 4
    STALLED = 5
    TRAVERSE_LIMIT = 6
    WATCHDOG = 7


class Verdict(enum.IntEnum):
    DONE = 0
    UNSUPPORTED = 1  # this board does not know the kind
    NO_SESSION = 2  # the token is not the open session's
    HELD = 3  # another host's session is alive
    CONFLICT = 4  # this number was used with other content, or is out of turn
    STALE = 5  # boot, wind or revision is not the board's any more
    WRONG_STATE = 6
    BAD_VALUE = 7  # detail: index of the field in the payload
    NO_LEASE = 8  # nothing moves before the first sign of life
    GUARD_OPEN = 9
    WIRE_LOST = 10
    NOT_REFERENCED = 11
    PLAN_INCOMPLETE = 12
    WRONG_CHECKSUM = 13  # detail: the board's checksum
    CAUSE_REMAINS = 14
    GONE = 15  # the event is no longer in the ring, or never was
    MALFORMED = 16  # payload shorter than the kind needs


class EndAction(enum.IntEnum):
    CONTINUE = 0  # into the next leg, without a stop
    PAUSE = 1
    COMPLETE = 2


class Side(enum.IntEnum):
    LEFT = 0
    RIGHT = 1


class EventKind(enum.IntEnum):
    """``value`` of the event record in brackets."""

    BOOTED = 1  # [1 if by the watchdog]
    SESSION_OPENED = 2  # [low 31 bits of the token]
    WIND_OPENED = 3
    PLAN_LOADED = 4  # [generation]
    STARTED = 5  # [leg]
    LEG_BEGUN = 6  # [leg]
    SLOWING = 7  # [Reason]
    AT_REST = 8  # [counts overrun beyond the planned end; 0 elsewhere]
    TRIPPED = 9  # [Trip]
    CLEARED = 10  # [Trip]
    NUDGED = 11  # came to rest short of the end; one gentle push
    WIND_CLOSED = 12
    TARGET_SEEN = 13  # counter-only boards: the count reached the target
    EDGE_UNDRIVEN = 14  # [unattributed so far] first edge since rest with nothing driving


class Flag(enum.IntFlag):
    """Bits of ``Status.flags``."""

    LEASE_LIVE = 1 << 0
    DRIVEN = 1 << 1  # the drive may be on: moving, or about to
    GUARD_OPEN = 1 << 2
    WIRE_PRESENT = 1 << 3
    REFERENCED = 1 << 4
    TRAVERSE_RIGHTWARD = 1 << 5
    BRAKE_ON = 1 << 6


class Has(enum.IntFlag):
    """Bits of ``Welcome.has``: what is wired to this board."""

    DIRECTION_SENSE = 1 << 0
    BRAKE = 1 << 1
    GUARD = 1 << 2
    WIRE_SENSOR = 1 << 3


class Kept(enum.IntFlag):
    """Bits of ``Welcome.kept_flags``: the record of the last rest, from non-volatile memory."""

    VALID = 1 << 0
    AT_REST = 1 << 1  # the record was written at a rest and nothing was started since


Token = Annotated[int, U32, "", "the session's token"]
Boot = Annotated[int, U16, "", "boot number the host believes in"]
WindNumber = Annotated[int, U32, "", "wind number the host believes in"]
Revision = Annotated[int, U16, "", "board's revision the host believes in"]
Generation = Annotated[int, U8, "", "generation of the plan, 1 to 255, chosen by the host"]

# --- base set, frozen ------------------------------------------------------------------------


@message(0x01, Group.BASE, Sender.HOST)
@dataclass(frozen=True, slots=True)
class Hello:
    """Opens a session, or asks again for the welcome of the one that this token opened."""

    base_version: Annotated[int, U8, "", "version of the base set the host speaks"]
    token: Annotated[int, U32, "", "chosen by the host at random, not 0"]


@message(0x02, Group.BASE, Sender.HOST)
@dataclass(frozen=True, slots=True)
class Alive:
    """The only thing that renews the lease. Sent while the operator's screen is alive. No answer."""

    token: Token
    number: Annotated[int, U32, "", "rises with every sign of life of the session"]


@message(0x03, Group.BASE, Sender.HOST)
@dataclass(frozen=True, slots=True)
class Stop:
    """Slow down and come to rest. Needs no session; may be repeated; never queued."""


@message(0x81, Group.BASE, Sender.BOARD)
@dataclass(frozen=True, slots=True)
class Welcome:
    """The answer to a hello: who the board is, what it can, what it kept. Carries the hello's token."""

    base_version: Annotated[int, U8, "", "version of the base set the board speaks"]
    token: Token
    boot: Annotated[int, U16, "", "rises by one with every boot"]
    uptime_ms: Annotated[int, U32, "ms", "since this boot"]
    board: Annotated[str, TEXT10, "", "board name"]
    groups: Annotated[
        bytes, GROUPS6, "", "version of COUNTING, MOTOR, TRAVERSE, LEGS, PEDAL, SETTINGS; 0: absent"
    ]
    has: Annotated[int, U8, "bits", "what is wired to the board", Has]
    legs_max: Annotated[int, U8, "", "legs a plan may have; 0 without LEGS"]
    rate_max_mcps: Annotated[int, U32, "0.001 counts/s", "fastest the board will drive"]
    edge_rate_max_cps: Annotated[int, U32, "counts/s", "fastest it counts without loss, as claimed"]
    settings_hash: Annotated[int, U32, "", "CRC-32 of the settings that bear on counting"]
    kept_wind: Annotated[int, U32, "", "wind of the kept record"]
    kept_count: Annotated[int, I32, "counts", "count of the kept record"]
    kept_flags: Annotated[int, U8, "bits", "what the kept record says", Kept]


@message(0x82, Group.BASE, Sender.BOARD)
@dataclass(frozen=True, slots=True)
class Status:
    """The whole truth of the board, 20 times a second, asked for by nobody."""

    state: Annotated[State, U8, "", ""]
    reason: Annotated[Reason, U8, "", "why the newest slowing or rest came about"]
    trip: Annotated[Trip, U8, "", "latched protective stop"]
    flags: Annotated[int, U8, "bits", "what is so at this moment", Flag]
    count: Annotated[int, I32, "counts", "of this wind"]
    unattributed: Annotated[
        int,
        U16,
        "counts",
        "edges of this wind that nothing drove and no direction sense explains; stays at 65535",
    ]
    rate_mcps: Annotated[int, I32, "0.001 counts/s", "as seen by the sensor; negative: unwinding"]
    traverse_um: Annotated[int, I32, "um", "guide's place, from the left mark; 0 without TRAVERSE"]
    leg: Annotated[int, U8, "", "index of the current leg; 255 without one"]
    generation: Annotated[int, U8, "", "of the loaded plan; 0 without one"]
    wind: Annotated[int, U32, "", "open wind; 0 without one"]
    boot: Annotated[int, U16, "", ""]
    uptime_ms: Annotated[int, U32, "ms", "since this boot"]
    revision: Annotated[
        int,
        U16,
        "",
        "rises by one, wrapping, with every change of state, trip, wind, plan or session",
    ]
    newest_event: Annotated[int, U16, "", "number of the newest event of this boot; wraps"]


@message(0x83, Group.BASE, Sender.BOARD)
@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a numbered command (same sequence), or to a stop (sequence 0)."""

    to: Annotated[int, U8, "", "kind that is answered"]
    verdict: Annotated[Verdict, U8, "", ""]
    revision: Annotated[int, U16, "", "board's revision after the command"]
    detail: Annotated[int, U32, "", "per verdict; else 0"]


# --- counting: 0x10.. ------------------------------------------------------------------------


@message(0x10, Group.COUNTING, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class OpenWind:
    """Begins a wind: a new number, count and unattributed at zero. At rest, no wind open."""

    token: Token
    boot: Boot
    revision: Revision
    wind: Annotated[int, U32, "", "new wind's number, random, not 0"]


@message(0x11, Group.COUNTING, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class SetTarget:
    """Tells a counter where to call out. Moves nothing; a plan on the board takes no notice of it."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    count: Annotated[int, I32, "counts", "target, 1 to COUNT_MAX"]
    warn_before: Annotated[int, U32, "counts", "warn this long before the target"]


@message(0x12, Group.COUNTING, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class CloseWind:
    """Ends the wind at rest; the plan is dropped. The count stays readable until the next wind."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision


@message(0x13, Group.COUNTING, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class ReadEvent:
    """Asks for one event of the ring; answered by an ``Event`` or, if it is gone, an ``Answer``."""

    token: Token
    number: Annotated[int, U16, "", "event number"]


@message(0x14, Group.COUNTING, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class ClearTrip:
    """Unlatches a trip whose cause is gone. Moves nothing."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    trip: Annotated[Trip, U8, "", "the trip the operator saw"]


@message(0x90, Group.COUNTING, Sender.BOARD)
@dataclass(frozen=True, slots=True)
class Event:
    """One event of the ring, as the answer to ``ReadEvent`` (same sequence)."""

    number: Annotated[int, U16, "", ""]
    event: Annotated[EventKind, U8, "", ""]
    uptime_ms: Annotated[int, U32, "ms", "when"]
    count: Annotated[int, I32, "counts", "where"]
    value: Annotated[int, I32, "", "see EventKind"]


# --- motor: 0x20.. ---------------------------------------------------------------------------


@message(0x20, Group.MOTOR, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class Start:
    """Winds on from armed or paused by the loaded plan. Needs a live lease, guard shut, wire there."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    generation: Generation


@message(0x21, Group.MOTOR, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class Move:
    """One finite spindle move at the bench, from still, armed, paused or complete. Needs a live lease."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    counts: Annotated[int, I32, "counts", "how far; negative: unwind; not 0"]
    rate_mcps: Annotated[int, U32, "0.001 counts/s", "how fast"]
    accel_mcps2: Annotated[int, U32, "0.001 counts/s2", "how hard"]


@message(0x22, Group.MOTOR, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class Pace:
    """Slower, or back to the leg's speed, within the plan. Holds until the next pace or wind."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    permille: Annotated[int, U16, "0.001", "share of each leg's speed, 100 to 1000"]


# --- traverse: 0x30.. ------------------------------------------------------------------------


@message(0x30, Group.TRAVERSE, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class TraverseStep:
    """One finite move of the guide at rest. Needs a live lease."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    distance_um: Annotated[int, I32, "um", "positive: rightward; at most 100 mm"]


@message(0x31, Group.TRAVERSE, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class TraverseMark:
    """Says where the guide stands: it touches this side, which is at this place. Moves nothing.

    The left mark references the traverse; only then may a plan drive it.
    """

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    side: Annotated[Side, U8, "", ""]
    at_um: Annotated[int, I32, "um", "place of that side; the left mark is 0"]


# --- legs: 0x40.. ----------------------------------------------------------------------------


@message(0x40, Group.LEGS, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class PlanBegin:
    """Starts to load a plan beside the current one. At rest, with a wind open."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    generation: Generation
    legs: Annotated[int, U8, "", "how many, 1 to the board's legs_max"]


@message(0x41, Group.LEGS, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class PlanLeg:
    """One leg of the plan that is being loaded, in order."""

    token: Token
    generation: Generation
    index: Annotated[int, U8, "", "0 first"]
    end_action: Annotated[
        EndAction, U8, "", "what to do at the end; COMPLETE on the last leg and only there"
    ]
    spindle: Annotated[
        int, I8, "", "+1 or -1: which way the motor turns to wind; the same in every leg"
    ]
    end_count: Annotated[int, I32, "counts", "of the wind, rising from leg to leg"]
    rate_mcps: Annotated[int, U32, "0.001 counts/s", "speed"]
    accel_mcps2: Annotated[int, U32, "0.001 counts/s2", "for speeding up and slowing down"]
    creep_mcps: Annotated[int, U32, "0.001 counts/s", "speed of the last approach before a stop"]
    coast_counts: Annotated[
        int,
        U16,
        "counts",
        "cut the drive this long before a stop and nudge from rest (few counts a turn, no brake); 0: drive up to the count",
    ]
    pitch_nm: Annotated[int, U32, "nm", "guide's advance per pitch_counts; 0: the guide stands"]
    pitch_counts: Annotated[int, U16, "counts", "counts of one turn, not 0"]
    left_um: Annotated[int, I32, "um", "left turning point"]
    right_um: Annotated[int, I32, "um", "right turning point"]
    dwell_counts: Annotated[int, U16, "counts", "wait at a turning point"]
    scatter_seed: Annotated[int, U16, "", "0: even lay; else seeds the board's scatter"]


@message(0x42, Group.LEGS, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class PlanCommit:
    """Puts the loaded plan in force if the board's checksum of it is the host's. At rest."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    generation: Generation
    checksum: Annotated[
        int, U32, "", "CRC-32 over the legs' payloads without their tokens, in order"
    ]


NO_LEG = 255  # in place of a leg's index: none
NO_WIND = 0  # in place of a wind's number: none
