"""Boards that break a clause of the protocol, one class for each way, on top of an honest one.

Each says its ``name``, what it does (``sentence``) and what of that a host can see (``sees``). It goes wrong once the
spindle has truly made ``at_counts``, or, where it ``rests``, at the first rest of the wind after that. ``amount`` is
how far it goes wrong, in counts.
"""

from __future__ import annotations

import dataclasses
from typing import Any, ClassVar

from firmware_protocol.device_plan import checksum_of
from firmware_protocol.messages import Flag, PlanBegin, PlanCommit, PlanLeg, State, Status
from firmware_protocol.records import dataclass

from .between import Between
from .machine import SimulatedMachine

AFTER_REST_S = 0.4  # a rest that lasts so long is one that everybody has seen
NS = 1_000_000_000
RESTS = (State.STILL, State.ARMED, State.PAUSED, State.COMPLETE)


@dataclass(frozen=True, slots=True)
class Wrong:
    """When and how far a board goes wrong."""

    at_counts: int
    amount: int  # counts, above 0


class WrongBoard(Between):
    name: ClassVar[str]
    sentence: ClassVar[str]
    sees: ClassVar[str]
    needs_motor: ClassVar[bool] = False
    rests: ClassVar[bool] = False  # goes wrong at a rest, so somebody must pause
    drives_on: ClassVar[bool] = False  # the motor turns where it should not: a host must stop it

    def __init__(self, machine: SimulatedMachine, wrong: Wrong) -> None:
        super().__init__(machine)
        self.wrong = wrong
        self._rest_ns: int | None = None  # when the rest began that is under way

    @property
    def due(self) -> bool:
        """Now is the time to go wrong, and it has not yet."""
        if self.struck or self.machine.edges < self.wrong.at_counts:
            return False
        if not self.rests:
            return self.status is not None and self.status.wind != 0
        since = self._rest_ns
        return since is not None and self.now_ns - since >= AFTER_REST_S * NS

    def tells(self, status: Status) -> Status | None:
        self._watch_rest(status)
        if self.due:
            self.struck = self.strike(status)
        return self.alters(status)

    def _watch_rest(self, status: Status) -> None:
        rests = status.wind != 0 and status.count != 0 and status.rate_mcps == 0
        rests = rests and status.state in RESTS and not status.flags & Flag.DRIVEN
        if not rests:
            self._rest_ns = None
        elif self._rest_ns is None:
            self._rest_ns = self.now_ns

    def strike(self, status: Status) -> bool:
        """Go wrong now; False: not yet, ask again with the next status."""
        return True

    def alters(self, status: Status) -> Status | None:
        """What the host is told of a status; honest before the strike."""
        return status


class OtherPlan(WrongBoard):
    """The plan on its way into a board that shifts every leg's end by ``sign`` times the amount."""

    needs_motor = True
    sign: ClassVar[int] = 1

    def __init__(self, machine: SimulatedMachine, wrong: Wrong) -> None:
        super().__init__(machine, wrong)
        self._legs: list[PlanLeg] = []
        self.end = 0  # of the plan as the host meant it

    def hears(self, message: Any) -> Any:
        if isinstance(message, PlanBegin):
            self._legs.clear()
        elif isinstance(message, PlanLeg):
            self.end = message.end_count
            end = message.end_count + self.sign * self.wrong.amount
            message = dataclasses.replace(message, end_count=end if end > 0 else self.end)
            if len(self._legs) == message.index:
                self._legs.append(message)
        elif isinstance(message, PlanCommit):
            return dataclasses.replace(message, checksum=checksum_of(tuple(self._legs)))
        return message
