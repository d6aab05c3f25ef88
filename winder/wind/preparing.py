"""What has to be asked of the board before a start: nothing of it moves anything.

The steps follow from what the board says it is: a wind of somebody else's that is still open is closed,
ours is opened, the guide's place is marked, the plan is loaded and put in force by its checksum. So
a preparation that was interrupted anywhere is taken up by looking at the next status.

The mark says that the guide stands at the left flange. It is the person who put it there; a coil that goes on
in a new wind keeps the guide where the board knows it to be.
"""

from __future__ import annotations

from typing import Any

from firmware_protocol.messages import (
    NO_WIND,
    CloseWind,
    Flag,
    OpenWind,
    PlanBegin,
    PlanCommit,
    SetTarget,
    Side,
    Status,
    TraverseMark,
    TraverseStep,
)
from winder.plan.model import Plan

from .board import Board
from .commands import Build
from .loading import LoadedLeg, checksum, drives_traverse, leg_message, legs_of_wind
from .schedule import Schedule
from .wire_place import NUDGE_UM, WirePlace

WARN_BEFORE_TURNS = 10  # counter-only boards call out this long before the target


class Preparation:
    """The steps of one wind, and what they loaded."""

    def __init__(self, plan: Plan, wind: int, board: Board, *, motor: bool, goes_on: bool) -> None:
        self._plan = plan
        self._wind = wind
        self._board = board
        self._motor = motor
        self._goes_on = goes_on  # the coil has turns from an earlier wind
        self.wire: WirePlace | None = None  # where it is, on a coil that goes on
        self.marked = not (motor and drives_traverse(plan))
        self.generation = 0
        self.in_force = False  # plan committed, or target set
        self.stranger: int | None = None  # another wind that is being closed
        self.offset = 0  # with which the legs were loaded
        self.loaded: tuple[LoadedLeg, ...] = ()
        self.stops: tuple[int, ...] = ()  # ends of those that stop, counts of the wind
        self.schedule = Schedule((), plan.counts_per_turn)

    def turn(self, plan: Plan) -> None:
        """The same plan, turning the other way perhaps."""
        self._plan = plan

    def steps(self, status: Status, offset: int) -> list[Build]:
        """The commands to build next. Where nothing of the coil is left to wind, the wind is open and that is all."""
        board, wind = self._board, self._wind
        if status.wind not in (NO_WIND, wind):
            stranger = self.stranger = status.wind
            return [lambda: CloseWind(0, board.boot, stranger, board.revision)]
        count = status.count if status.wind == wind else 0
        loaded = legs_of_wind(self._plan, offset, count)
        self.in_force = not loaded and status.wind == wind
        self.offset = offset
        self.loaded = loaded
        self.stops = tuple(leg.end_count for leg in loaded if leg.stops)
        self.schedule = Schedule(loaded, self._plan.counts_per_turn)
        steps: list[Build] = []
        if status.wind == NO_WIND:
            steps.append(lambda: OpenWind(0, board.boot, board.revision, wind))
        if not loaded:
            return steps
        if not self.marked and self._goes_on and status.flags & Flag.REFERENCED:
            self.marked = True
        if not self.marked and self.wire is not None:
            return steps + self.at_wire(status, self.wire, wind)
        if not self.marked:
            steps.append(lambda: self._mark(wind, Side.LEFT, 0))
        return steps + (self._load_plan(status) if self._motor else [self._set_target])

    def at_wire(self, status: Status, wire: WirePlace, wind: int) -> list[Build]:
        """The guide stands where the wire is: the marks that say so, and its direction.

        A leg begins in the direction that the guide had last: where that is the other one, a step too small to be
        seen gives it.
        """
        nudge_um = 0
        if bool(status.flags & Flag.TRAVERSE_RIGHTWARD) != wire.rightward:
            nudge_um = NUDGE_UM if wire.rightward else -NUDGE_UM
        steps: list[Build] = []
        before_um = wire.place_um - nudge_um
        if not status.flags & Flag.REFERENCED:
            steps.append(lambda: self._mark(wind, Side.LEFT, 0))
            if before_um > 0:
                steps.append(lambda: self._mark(wind, Side.RIGHT, before_um))
        if nudge_um:
            board = self._board
            steps.append(lambda: TraverseStep(0, board.boot, wind, board.revision, nudge_um))
        return steps

    def _mark(self, wind: int, side: Side, at_um: int) -> TraverseMark:
        board = self._board
        return TraverseMark(0, board.boot, wind, board.revision, side, at_um=at_um)

    def _load_plan(self, status: Status) -> list[Build]:
        board, wind, plan = self._board, self._wind, self._plan
        generation = max(self.generation, status.generation) % 255 + 1
        self.generation = generation
        legs = [
            leg_message(loaded, index, plan, generation) for index, loaded in enumerate(self.loaded)
        ]

        def begin() -> Any:
            return PlanBegin(0, board.boot, wind, board.revision, generation, len(legs))

        def commit() -> Any:
            return PlanCommit(0, board.boot, wind, board.revision, generation, checksum(legs))

        return [begin, *((lambda leg=leg: leg) for leg in legs), commit]

    def _set_target(self) -> Any:
        board, target = self._board, self.loaded[-1].end_count
        warn = min(WARN_BEFORE_TURNS * self._plan.counts_per_turn, target)
        return SetTarget(0, board.boot, self._wind, board.revision, target, warn)

    @property
    def target_count(self) -> int:
        """Count of this wind at which the coil is done."""
        return self.loaded[-1].end_count if self.loaded else self._plan.target_counts

    @property
    def nothing_left(self) -> bool:
        """The coil has all its turns, or more, and the wind is open."""
        return self.in_force and not self.loaded
