"""What the device end asks of the thing it drives: one order at a time, and facts.

The device end decides *whether* something may move; the body decides *how*: it keeps the count, runs
the trapezoid, creeps, stops on the count by itself (at the very edge, not at the next tick) and says
what is so. The simulated machine, the scripted bodies of the tests and, in C, the ports implement
this. A body that changes ``at_rest``, ``arrived``, ``leg`` or ``trip`` has the device end ticked at once.
"""

from __future__ import annotations

import dataclasses
import enum
from typing import Protocol

from .far import TraverseHome, TraverseMove
from .messages import Move, PlanLeg, Side, Trip
from .records import dataclass
from .settings import ALL_PINS, UNTAUGHT, Settings


class Order(enum.Enum):
    OFF = "off"  # nothing drives, brake off
    WIND = "wind"  # follow the legs from the current count
    REST = "rest"  # slow down at the current leg's or move's rate, then hold nothing
    MOVE = "move"  # one finite spindle move
    CUT = "cut"  # drive off at once, brake on where there is one
    ISOLATE = "isolate"  # drive and brake off, the contactor of the motor's supply open until OFF


@dataclass(frozen=True, slots=True)
class Drive:
    """The order in force. ``legs`` with WIND and REST, ``move`` with MOVE (and its REST)."""

    order: Order
    legs: tuple[PlanLeg, ...] = ()
    pace_permille: int = 1000
    move: Move | None = None


@dataclasses.dataclass(slots=True)
class Facts:
    """What the body knows, from its sensors alone (never the true angle)."""

    count: int = 0
    # Counts whose way nobody knows: no order in force and no sense of direction, or jumped over.
    unattributed: int = 0
    implausible: int = 0  # edges that came too soon to be true, and pulses that were too short
    rate_mcps: int = 0
    at_rest: bool = True  # nothing drives and the sensor has been quiet for the rest time
    arrived: bool = False  # this order ended where it was meant to: a leg's end, or a move's
    leg: int = 255  # leg the count is in, 255 without a plan
    guard_open: bool = False
    wire_present: bool = True
    stop_pressed: bool = False  # the wired stop switch; False without one
    pedal_pressed: bool = False  # the contact as it is, not yet settled
    traverse_um: int = 0
    traverse_rightward: bool = True
    brake_on: bool = False
    # A cause that is present now and calls for a trip: while driven, or with the drive off those that isolate.
    trip: Trip = Trip.NONE


@dataclass(frozen=True, slots=True)
class KeptRecord:
    """Non-volatile memory: survives reset and power loss."""

    wind: int = 0
    count: int = 0
    valid: bool = False
    at_rest: bool = False


class DeviceBody(Protocol):
    def obey(self, drive: Drive) -> None:
        """Take an order; it replaces the one before and works from now on."""

    def facts(self) -> Facts: ...

    def zero_count(self) -> None:
        """A new wind opens: count, unattributed and implausible to nought."""

    def mark_traverse(self, side: Side, at_um: int) -> None: ...

    def step_traverse(self, distance_um: int) -> None:
        """Begin one finite move of the guide; ``arrived`` at its end."""

    def lead_far(self, ask: TraverseHome | TraverseMove) -> None:
        """The same with a ramp, or to the limit switch and off it; asked only of a board that has one."""

    def keep(self, record: KeptRecord) -> None: ...

    def kept(self) -> KeptRecord: ...

    def keep_motion(self, moving: bool) -> None:
        """Remember in non-volatile memory that something is set in motion, or rests; nothing moves before."""

    def kept_motion(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Identity:
    """What a board says of itself in the welcome."""

    board: str
    groups: tuple[int, int, int, int, int, int]  # versions, in the order of Group
    has: int
    legs_max: int
    rate_max_mcps: int
    edge_rate_max_cps: int
    settings_hash: int
    cut_ms: int  # after a stop, a lost lease or the end the drive is cut by then; 0 without a motor
    rest_ms: int  # and the spindle rests by then
    settings: Settings = UNTAUGHT  # in force
    pins: int = ALL_PINS  # of inputs, as bits of ``Wired``
