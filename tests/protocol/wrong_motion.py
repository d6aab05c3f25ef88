"""Boards that go wrong with signs of life, statuses, plans and motion: sections 7 to 13."""

from __future__ import annotations

from dataclasses import replace

from reference_board import CarefulBody
from wrong_frames import COUNTER, Ends, Tells

from firmware_protocol.body import Drive, Order
from firmware_protocol.device_commands import Outcome
from firmware_protocol.messages import (
    Alive,
    Move,
    PlanLeg,
    SettleNumber,
    Start,
    TraverseStep,
    Verdict,
)


class LongLease(Ends):
    clause = "7.1"

    def _look(self, now_ms: int) -> None:
        alive, self._alive_ms = self._alive_ms, None
        if alive is not None and now_ms - alive < 1600:
            self._alive_ms = now_ms
        super()._look(now_ms)
        if self._alive_ms is not None:
            self._alive_ms = alive


class TakesOldLife(Ends):
    clause = "7.2"

    def _take_alive(self, alive: Alive) -> None:
        self._alive_number = 0
        super()._take_alive(alive)


class CommandsAreLife(Ends):
    clause = "7.3"

    def _take_numbered(self, frame, layout, command) -> None:
        super()._take_numbered(frame, layout, command)
        if isinstance(command, SettleNumber) and self._alive_ms is not None:
            self._alive_ms = self.board.now_ms


class SignedLife(Ends):
    """Compares the numbers of signs of life as if they had a sign."""

    clause = "7.4"

    def _take_alive(self, alive: Alive) -> None:
        if alive.number < 0x8000_0000:
            super()._take_alive(alive)


class RestartsWithLease(Ends):
    """Goes on by itself as the lease comes back."""

    clause = "7.5"
    ended = False

    def _take_alive(self, alive: Alive) -> None:
        was_live = self.lease_live
        super()._take_alive(alive)
        board = self.board
        if not was_live and board.reason == 2 and board._move is not None and board.state == 0:
            board.begin_move(board._move)


class IgnoresLease(Ends):
    clause = "7.5"

    def _look(self, now_ms: int) -> None:
        super()._look(now_ms)
        self.board.look(now_ms, True)

    def tick(self, now_ms: int) -> None:
        live = self._alive_ms
        if self.board.in_motion:
            self._alive_ms = now_ms
        super().tick(now_ms)
        self._alive_ms = live if live is not None and now_ms - live < 1000 else None


class FallsSilent(Ends):
    """Speaks when spoken to, and never of itself after the first second."""

    clause = "8.1"

    def tick(self, now_ms: int) -> None:
        if now_ms > 1200:
            self._status_due_ms = now_ms + 50
        super().tick(now_ms)


class SaysLittle(Ends):
    """A status every 700 ms."""

    clause = "8.1"

    def tick(self, now_ms: int) -> None:
        due = self._status_due_ms
        super().tick(now_ms)
        if self._status_due_ms != due:
            self._status_due_ms = due + 700


class FastClock(Tells):
    clause = "8.3"

    def told(self, status):
        return replace(status, uptime_ms=status.uptime_ms * 5 // 4)


class SaysLegZero(Tells):
    clause = "8.4"

    def told(self, status):
        return replace(status, leg=0 if status.leg == 255 else status.leg)


class SeesNoWire(Tells):
    clause = "8.5"
    identity_of = COUNTER

    def told(self, status):
        return replace(status, flags=status.flags & ~8)


class Doubts(Tells):
    clause = "8.6"
    identity_of = COUNTER

    def told(self, status):
        return replace(status, unattributed=2)


class TakesLegsInAnyOrder(Ends):
    clause = "11.4"

    def _judge(self, command) -> Outcome:
        loading = self.board.loading
        if isinstance(command, PlanLeg) and loading is not None and not loading.complete:
            command = replace(command, index=len(loading.legs))
        return super()._judge(command)


class TrustsSums(Ends):
    clause = "11.5"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if outcome.verdict is Verdict.WRONG_CHECKSUM:
            return replace(outcome, detail=0)
        return outcome


class KeepsHalfPlan(Ends):
    clause = "11.7"

    def _open_session(self, token: int) -> None:
        loading = self.board.loading
        super()._open_session(token)
        self.board.loading = loading


class MovesWithoutLease(Ends):
    clause = "13.2"

    def _judge(self, command) -> Outcome:
        if isinstance(command, Move | Start | TraverseStep) and not self.lease_live:
            self._alive_ms = self.board.now_ms
        return super()._judge(command)


class ShortOfTheCount(CarefulBody):
    """Arrives one count early."""

    clause = "12.1"

    def _wind_1_ms(self) -> None:
        super()._wind_1_ms()
        if self.seen.arrived:
            self.seen.count -= 1


class CutsGently(CarefulBody):
    """Does not stop at a cut."""

    clause = "6.5"

    def obey(self, drive: Drive) -> None:
        if drive.order is not Order.CUT:
            super().obey(drive)
