"""Wrong boards that miscount: fast or by a turn, in motion or at rest, or not at all any more."""

from __future__ import annotations

import dataclasses
from typing import ClassVar

from firmware_protocol.messages import Has, Status, Welcome

from .wrong_board import OtherPlan, WrongBoard

STATUS_S = 0.05


class CountsBackInMotion(WrongBoard):
    name = "count back in motion"
    sentence = "While winding, the board's count falls at once by several turns."
    sees = "a count that falls while the spindle winds forward"
    sign: ClassVar[int] = -1

    def strike(self, status: Status) -> bool:
        counts = min(self.wrong.amount, self._most(status))
        if counts < self.wrong.amount or not self._shows(status, counts):
            return False
        self.miscount(self.sign * counts)
        return True

    def _most(self, status: Status) -> int:
        """So far that it is no cut missed: a board that jumps past its stop is another's story."""
        control = self.machine.body.control
        return max(0, control.to_cut - 2 if self.sign > 0 else status.count)

    def _shows(self, status: Status, counts: int) -> bool:
        return status.rate_mcps != 0


class CountsForwardInMotion(CountsBackInMotion):
    name = "count forward in motion"
    sentence = "While winding, the board's count rises at once by several turns."
    sees = "a count that rises faster than the spindle can turn"
    sign = 1


class CountsATurnBackInMotion(CountsBackInMotion):
    name = "one turn back in motion"
    sentence = "While winding, the board's count falls at once by one turn."
    sees = "a count that falls, or lags behind the speed it tells"

    def _shows(self, status: Status, counts: int) -> bool:
        """Slow enough that a turn stands out between two statuses (50 ms)."""
        return status.rate_mcps != 0 and abs(status.rate_mcps) * STATUS_S / 1000 < counts / 2


class CountsATurnForwardInMotion(CountsATurnBackInMotion):
    name = "one turn forward in motion"
    sentence = "While winding, the board's count rises at once by one turn more than was made."
    sees = "a count that rises faster than the speed it tells"
    sign = 1


class CountsBackAtRest(WrongBoard):
    name = "count back at rest"
    sentence = "At rest, the board's count falls at once by several turns."
    sees = "a count that changes at rest faster than a hand can turn"
    rests = True
    sign: ClassVar[int] = -1

    def strike(self, status: Status) -> bool:
        self.miscount(self.sign * self.wrong.amount)
        return True


class CountsForwardAtRest(CountsBackAtRest):
    name = "count forward at rest"
    sentence = "At rest, the board's count rises at once by several turns."
    sign = 1


class CountsATurnBackAtRest(CountsBackAtRest):
    name = "one turn back at rest"
    sentence = "At rest, the board's count falls by one turn."
    sees = "a count that changes at rest"


class CountsATurnForwardAtRest(CountsForwardAtRest):
    name = "one turn forward at rest"
    sentence = "At rest, the board's count rises by one turn."
    sees = "a count that changes at rest"


class FrozenCount(WrongBoard):
    name = "frozen count"
    sentence = "The board goes on winding, and the count and the speed it tells stand still."
    sees = "driven without an edge for longer than a board takes to call it stalled"
    needs_motor = True
    drives_on = True
    _frozen: Status | None = None

    def alters(self, status: Status) -> Status | None:
        if not self.struck:
            return status
        if self._frozen is None:
            self._frozen = status
        return dataclasses.replace(status, count=self._frozen.count, rate_mcps=0)


class FrozenStatus(WrongBoard):
    name = "frozen status"
    sentence = "The board sends one and the same status for ever, and winds on."
    drives_on = True
    sees = "an uptime that does not move though statuses come"
    _frozen: Status | None = None

    def alters(self, status: Status) -> Status | None:
        if not self.struck:
            return status
        self._frozen = self._frozen or status
        return self._frozen


class OverrunsInSecret(OtherPlan):
    name = "overrun with a false count"
    sentence = "The board winds on past the end, tells the end's count, and that it is winding."
    sees = "driven without an edge for longer than a board takes to call it stalled"
    drives_on = True

    def alters(self, status: Status) -> Status | None:
        if not self.end or status.count < self.end:
            return status
        self.struck = True
        return dataclasses.replace(status, count=self.end, rate_mcps=0)


class KeepsAFalseRecord(WrongBoard):
    name = "false record of a rest"
    sentence = "After a reset at rest, the kept record says several turns more than there were."
    sees = "a kept count other than the one that was on record at rest"
    rests = True

    def strike(self, status: Status) -> bool:
        self.machine.reset()
        return True

    def welcomes(self, welcome: Welcome) -> Welcome:
        if not self.struck:
            return welcome
        return dataclasses.replace(welcome, kept_count=welcome.kept_count + self.wrong.amount)


class BoastsOfDirection(WrongBoard):
    name = "boasts of a sense of direction"
    sentence = (
        "The board says that its sensor knows the direction, and it does not; a hand turns it back."
    )
    sees = "edges without a direction from a board that claims to know it"
    needs_motor = True
    rests = True

    def strike(self, status: Status) -> bool:
        if self.machine.moving:
            return False
        per_turn = self.machine.build.counts_per_turn
        self.machine.turn_by_hand(-(self.wrong.amount + 0.5) / per_turn)
        return True

    def welcomes(self, welcome: Welcome) -> Welcome:
        return dataclasses.replace(welcome, has=welcome.has | int(Has.DIRECTION_SENSE))


COUNT_KINDS: tuple[type[WrongBoard], ...] = (
    CountsBackInMotion,
    CountsForwardInMotion,
    CountsATurnBackInMotion,
    CountsATurnForwardInMotion,
    CountsBackAtRest,
    CountsForwardAtRest,
    CountsATurnBackAtRest,
    CountsATurnForwardAtRest,
    FrozenCount,
    FrozenStatus,
    OverrunsInSecret,
    KeepsAFalseRecord,
    BoastsOfDirection,
)
