"""THE definition: every message, every vocabulary, every time limit of the protocol.

The board is the authority: it counts, it stops, it reports. Its ``Status`` is complete, so a host that missed
everything else still knows where the wind stands. The host asks; whatever it asks that could move something carries
the boot, the wind and the board's revision of its own state, and is refused when any of them is stale. The board never
learns what a turn is: it counts sensor counts; speeds are thousandths of one per second. All else is derived from here.
"""

from typing import Annotated

from . import far as far  # TRAVERSE in version 2
from . import pedal as pedal  # the group PEDAL
from . import settings as settings  # the group SETTINGS
from .records import dataclass
from .vocabulary import (
    ALIVE_PERIOD_MS as ALIVE_PERIOD_MS,
)
from .vocabulary import (
    ANSWER_WAIT_MS as ANSWER_WAIT_MS,
)
from .vocabulary import (
    BASE_VERSION as BASE_VERSION,
)
from .vocabulary import (
    COUNT_MAX as COUNT_MAX,
)
from .vocabulary import (
    CREEP_RATE_LEAST_MCPS as CREEP_RATE_LEAST_MCPS,
)
from .vocabulary import (
    GROUP_VERSIONS as GROUP_VERSIONS,
)
from .vocabulary import (
    LEASE_MS as LEASE_MS,
)
from .vocabulary import (
    LEGS_MAX_LEAST as LEGS_MAX_LEAST,
)
from .vocabulary import (
    NO_LEG as NO_LEG,
)
from .vocabulary import (
    NO_WIND as NO_WIND,
)
from .vocabulary import (
    RATE_LEAST_MCPS as RATE_LEAST_MCPS,
)
from .vocabulary import (
    SENDINGS_MAX as SENDINGS_MAX,
)
from .vocabulary import (
    STATUS_PERIOD_MS as STATUS_PERIOD_MS,
)
from .vocabulary import (
    STOP_REPEAT_MS as STOP_REPEAT_MS,
)
from .vocabulary import (
    WELCOME_WAIT_MS as WELCOME_WAIT_MS,
)
from .vocabulary import (
    EndAction as EndAction,
)
from .vocabulary import (
    Flag as Flag,
)
from .vocabulary import (
    Has as Has,
)
from .vocabulary import (
    Kept as Kept,
)
from .vocabulary import (
    Reason as Reason,
)
from .vocabulary import (
    Side as Side,
)
from .vocabulary import (
    State as State,
)
from .vocabulary import (
    Trip as Trip,
)
from .vocabulary import (
    Verdict as Verdict,
)
from .wire import GROUPS6, I8, I32, TEXT10, U8, U16, U32, Group, Sender, message

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
    settings_hash: Annotated[
        int, U32, "", "stands for the settings that bear on counting; compared, never computed"
    ]
    kept_wind: Annotated[int, U32, "", "wind of the kept record"]
    kept_count: Annotated[int, I32, "counts", "count of the kept record"]
    kept_flags: Annotated[int, U8, "bits", "what the kept record says", Kept]
    cut_ms: Annotated[
        int,
        U16,
        "ms",
        "after a stop, a lost lease or the end the drive is cut by then; 0 without a motor",
    ]
    rest_ms: Annotated[int, U16, "ms", "and the spindle rests by then; 0 without a motor"]


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
    implausible: Annotated[
        int,
        U16,
        "counts",
        "edges of this wind that came sooner than any true one can, and pulses that were too short; stays at 65535",
    ]


@message(0x83, Group.BASE, Sender.BOARD)
@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a numbered command (same sequence), or to a stop or cut (sequence 0)."""

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
class SettleNumber:
    """Does nothing but use up its number: so a host learns whether a command in doubt had arrived."""

    token: Token


@message(0x14, Group.COUNTING, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class ClearTrip:
    """Unlatches a trip whose cause is gone. Moves nothing."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    trip: Annotated[Trip, U8, "", "the trip the operator saw"]


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


@message(0x23, Group.MOTOR, Sender.HOST)
@dataclass(frozen=True, slots=True)
class Cut:
    """Drive off and brake on, now. Needs no session; may be repeated; never queued."""


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
