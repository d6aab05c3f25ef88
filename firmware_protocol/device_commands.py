"""What each numbered command needs, and what it brings about.

One function a command, found by its class in ``COMMANDS``: it is called when session, number, boot,
wind, revision and state are in order, looks at the values first, then at the conditions in the order of
``Verdict``, and either refuses or carries out. A refusal changes nothing.

| command | current leg (first whose end is beyond the count) | outcome |
|---|---|---|
| Start from armed or paused | one is there | winds on from it |
| Start from armed or paused | none: count at or past the plan's end | WRONG_STATE |
| PlanCommit from still, armed | any | armed; a plan that the count has passed cannot be started |
| PlanCommit from paused, complete | any | paused; the wind goes on with the new plan |
| Pace from winding | | same order again with the new share |
| Pace from armed, paused | | kept for the next start |

An open guard refuses start and every move: nothing turns or travels past fingers. Missing wire refuses
a start only.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .body import Identity
from .device_board import PACE_FULL_PERMILLE, Board
from .device_plan import PlanLoading, checksum_of, field_index
from .far import TraverseHome, TraverseMove
from .messages import (
    COUNT_MAX,
    NO_LEG,
    NO_WIND,
    RATE_LEAST_MCPS,
    ClearTrip,
    CloseWind,
    Move,
    OpenWind,
    Pace,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    SetTarget,
    SettleNumber,
    Side,
    Start,
    TraverseMark,
    TraverseStep,
    Trip,
    Verdict,
)
from .pedal import ArmPedal
from .records import dataclass
from .settings import WriteSettings, fault_in
from .wire import Group

PACE_LEAST_PERMILLE = 100
TRAVERSE_STEP_MAX_UM = 100_000
FAR_MAX_UM = 1_000_000


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an answer says."""

    verdict: Verdict
    detail: int = 0


DONE = Outcome(Verdict.DONE)


def _bad(command: Any, field: str) -> Outcome:
    return Outcome(Verdict.BAD_VALUE, field_index(type(command), field))


def _open_wind(board: Board, identity: Identity, lease_live: bool, ask: OpenWind) -> Outcome:
    if ask.wind == NO_WIND:
        return _bad(ask, "wind")
    board.open_wind(ask.wind)
    return DONE


def _set_target(board: Board, identity: Identity, lease_live: bool, ask: SetTarget) -> Outcome:
    if not 1 <= ask.count <= COUNT_MAX:
        return _bad(ask, "count")
    if ask.warn_before > ask.count:
        return _bad(ask, "warn_before")
    board.target = ask.count
    board.warn_before = ask.warn_before
    return DONE


def _close_wind(board: Board, identity: Identity, lease_live: bool, ask: CloseWind) -> Outcome:
    board.close_wind()
    return DONE


def _settle_number(
    board: Board, identity: Identity, lease_live: bool, ask: SettleNumber
) -> Outcome:
    return DONE


def _clear_trip(board: Board, identity: Identity, lease_live: bool, ask: ClearTrip) -> Outcome:
    facts = board.facts
    if ask.trip != board.trip:
        return _bad(ask, "trip")
    remains = (
        not facts.at_rest
        or facts.trip == board.trip
        or (board.trip == Trip.GUARD_OPENED and facts.guard_open)
        or (board.trip == Trip.WIRE_LOST and not facts.wire_present)
        or (board.trip == Trip.STOP_PRESSED and facts.stop_pressed)
    )
    if remains:
        return Outcome(Verdict.CAUSE_REMAINS)
    board.clear_trip()
    return DONE


def _write_settings(
    board: Board, identity: Identity, lease_live: bool, ask: WriteSettings
) -> Outcome:
    fault = fault_in(ask, identity.edge_rate_max_cps, identity.pins)
    if fault is not None:
        return _bad(ask, fault)
    board.renews = ask.content
    return DONE


def _hindrance(board: Board, lease_live: bool) -> Verdict | None:
    """What keeps anything at all from moving."""
    if not lease_live:
        return Verdict.NO_LEASE
    if board.facts.guard_open:
        return Verdict.GUARD_OPEN
    return Verdict.STOP_PRESSED if board.facts.stop_pressed else None


def _fault_of_start(board: Board, lease_live: bool, ask: Start | ArmPedal) -> Outcome | None:
    if board.leg == NO_LEG:
        return Outcome(Verdict.WRONG_STATE)
    if ask.generation != board.generation:
        return _bad(ask, "generation")
    hindrance = _hindrance(board, lease_live)
    if hindrance is not None:
        return Outcome(hindrance)
    if not board.facts.wire_present:
        return Outcome(Verdict.WIRE_LOST)
    if not board.referenced and any(leg.pitch_nm for leg in board.plan):
        return Outcome(Verdict.NOT_REFERENCED)
    return None


def _start(board: Board, identity: Identity, lease_live: bool, ask: Start) -> Outcome:
    fault = _fault_of_start(board, lease_live, ask)
    if fault is None:
        board.start()
    return fault or DONE


def _arm_pedal(board: Board, identity: Identity, lease_live: bool, ask: ArmPedal) -> Outcome:
    fault = _fault_of_start(board, lease_live, ask)
    if fault is None:
        board.pedal.arm()
    return fault or DONE


def _move(board: Board, identity: Identity, lease_live: bool, ask: Move) -> Outcome:
    end = board.facts.count + ask.counts
    if ask.counts == 0 or not -COUNT_MAX <= end <= COUNT_MAX:
        return _bad(ask, "counts")
    if not RATE_LEAST_MCPS <= ask.rate_mcps <= identity.rate_max_mcps:
        return _bad(ask, "rate_mcps")
    if ask.accel_mcps2 == 0:
        return _bad(ask, "accel_mcps2")
    hindrance = _hindrance(board, lease_live)
    if hindrance is not None:
        return Outcome(hindrance)
    board.begin_move(ask)
    return DONE


def _pace(board: Board, identity: Identity, lease_live: bool, ask: Pace) -> Outcome:
    if not PACE_LEAST_PERMILLE <= ask.permille <= PACE_FULL_PERMILLE:
        return _bad(ask, "permille")
    board.set_pace(ask.permille)
    return DONE


def _traverse_step(
    board: Board, identity: Identity, lease_live: bool, ask: TraverseStep
) -> Outcome:
    if not 0 < abs(ask.distance_um) <= TRAVERSE_STEP_MAX_UM:
        return _bad(ask, "distance_um")
    hindrance = _hindrance(board, lease_live)
    if hindrance is not None:
        return Outcome(hindrance)
    board.begin_traverse_step(ask.distance_um)
    return DONE


def _fault_of_far(
    board: Board, lease_live: bool, ask: TraverseHome | TraverseMove, um: str
) -> Outcome | None:
    if not -FAR_MAX_UM <= getattr(ask, um) <= FAR_MAX_UM:
        return _bad(ask, um)
    if ask.rate_um_s == 0:
        return _bad(ask, "rate_um_s")
    if ask.accel_um_s2 == 0:
        return _bad(ask, "accel_um_s2")
    hindrance = _hindrance(board, lease_live)
    return None if hindrance is None else Outcome(hindrance)


def _traverse_home(
    board: Board, identity: Identity, lease_live: bool, ask: TraverseHome
) -> Outcome:
    fault = _fault_of_far(board, lease_live, ask, "at_um")
    if fault is None:
        board.begin_far(ask)
    return fault or DONE


def _traverse_move(
    board: Board, identity: Identity, lease_live: bool, ask: TraverseMove
) -> Outcome:
    if ask.distance_um == 0:
        return _bad(ask, "distance_um")
    fault = _fault_of_far(board, lease_live, ask, "distance_um")
    if fault is None and not board.referenced:
        fault = Outcome(Verdict.NOT_REFERENCED)
    if fault is None:
        board.begin_far(ask)
    return fault or DONE


def _traverse_mark(
    board: Board, identity: Identity, lease_live: bool, ask: TraverseMark
) -> Outcome:
    if ask.side not in (Side.LEFT, Side.RIGHT):
        return _bad(ask, "side")
    if ask.at_um < 0 or (ask.side == Side.LEFT) != (ask.at_um == 0):
        return _bad(ask, "at_um")
    if ask.side == Side.RIGHT and not board.referenced:
        return Outcome(Verdict.NOT_REFERENCED)
    board.mark_traverse(ask)
    return DONE


def _plan_begin(board: Board, identity: Identity, lease_live: bool, ask: PlanBegin) -> Outcome:
    if ask.generation in (0, board.generation):
        return _bad(ask, "generation")
    if not 1 <= ask.legs <= identity.legs_max:
        return _bad(ask, "legs")
    board.loading = PlanLoading(ask.generation, ask.legs)
    return DONE


def _plan_leg(board: Board, identity: Identity, lease_live: bool, ask: PlanLeg) -> Outcome:
    if board.loading is None:
        return Outcome(Verdict.PLAN_INCOMPLETE)
    has_traverse = identity.groups[Group.TRAVERSE - 1] > 0
    fault = board.loading.fault_of(ask, identity.rate_max_mcps, has_traverse)
    if fault is not None:
        return _bad(ask, fault)
    board.loading.add(ask)
    return DONE


def _plan_commit(board: Board, identity: Identity, lease_live: bool, ask: PlanCommit) -> Outcome:
    loading = board.loading
    if loading is not None and ask.generation != loading.generation:
        return _bad(ask, "generation")
    if loading is None or not loading.complete:
        return Outcome(Verdict.PLAN_INCOMPLETE)
    checksum = checksum_of(loading.legs)
    if ask.checksum != checksum:
        return Outcome(Verdict.WRONG_CHECKSUM, checksum)
    board.put_plan_in_force(loading)
    return DONE


COMMANDS: dict[type, Callable[[Board, Identity, bool, Any], Outcome]] = {
    OpenWind: _open_wind,
    SetTarget: _set_target,
    CloseWind: _close_wind,
    SettleNumber: _settle_number,
    ClearTrip: _clear_trip,
    Start: _start,
    Move: _move,
    Pace: _pace,
    TraverseStep: _traverse_step,
    TraverseMark: _traverse_mark,
    TraverseHome: _traverse_home,
    TraverseMove: _traverse_move,
    PlanBegin: _plan_begin,
    PlanLeg: _plan_leg,
    PlanCommit: _plan_commit,
    ArmPedal: _arm_pedal,
    WriteSettings: _write_settings,
}
