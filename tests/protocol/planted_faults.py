"""Ends with one fault each, as a slip of the pen would make them. Every proof of the pair must meet them."""

from __future__ import annotations

import dataclasses

from pair_walk import WalkHost

from firmware_protocol.device import DeviceEnd
from firmware_protocol.device_commands import Outcome
from firmware_protocol.framing import Frame
from firmware_protocol.heard import Heard
from firmware_protocol.host_command import Outstanding
from firmware_protocol.messages import Start, State, Status, Verdict

fields_of_outstanding = dataclasses.fields(Outstanding)


class ForgetsTheLease(DeviceEnd):
    def _look(self, now_ms: int) -> None:
        self.board.look(now_ms, lease_live=True)


class StartsWithoutLease(DeviceEnd):
    def _judge(self, command) -> Outcome:
        alive_ms, self._alive_ms = self._alive_ms, self.board.now_ms
        outcome = super()._judge(command)
        self._alive_ms = alive_ms
        return outcome


class LeaseByAnyNumber(DeviceEnd):
    """A repeated sign of life renews the lease."""

    def _take_alive(self, alive) -> None:
        if self._is_open(alive.token):
            self._alive_ms = self.board.now_ms


class ExecutesAgain(DeviceEnd):
    def _take_numbered(self, frame: Frame, layout, command) -> None:
        self._last_sequence = (frame.sequence - 2) % 255 + 1
        self._last_content = None
        super()._take_numbered(frame, layout, command)


class ExecutesAgainWhatIsStale(ExecutesAgain):
    def _is_stale(self, command) -> bool:
        return False


class TakesStale(DeviceEnd):
    def _is_stale(self, command) -> bool:
        return False


class DropsStops(DeviceEnd):
    def _take(self, frame: Frame) -> None:
        if frame.kind != 0x03:
            super()._take(frame)


class ForgetsTheTrip(DeviceEnd):
    def _look(self, now_ms: int) -> None:
        super()._look(now_ms)
        if self.board.state is State.TRIPPED and self.board.facts.at_rest:
            self.board.clear_trip()


class StartsByItself(DeviceEnd):
    """Winds on when the sign of life comes back."""

    def _take_alive(self, alive) -> None:
        was_live = self.lease_live
        super()._take_alive(alive)
        if self.lease_live and not was_live and self.board.state is State.PAUSED:
            self.board.start()


class ServesAnySession(DeviceEnd):
    """A start of a host whose session is over is as good as any."""

    def _take_numbered(self, frame: Frame, layout, command) -> None:
        if isinstance(command, Start) and not self._is_open(command.token):
            self._answer(frame, self._judge(command))
        else:
            super()._take_numbered(frame, layout, command)


class SaysDoneToEverything(DeviceEnd):
    def _judge(self, command) -> Outcome:
        return dataclasses.replace(super()._judge(command), verdict=Verdict.DONE)


class Obstinate(Outstanding):
    """A command that goes on being sent after it was withdrawn."""

    __slots__ = ()

    def withdraw(self, now_ns: int) -> None:
        pass


class ResendsAfterStop(WalkHost):
    def _advance(self, now_ns: int) -> None:
        super()._advance(now_ns)
        if type(self._out) is Outstanding:
            self._out = Obstinate(*(getattr(self._out, f.name) for f in fields_of_outstanding))


class DropsTheNumber(WalkHost):
    """Forgets the command that a stop overtook, instead of settling its number."""

    def stop(self, now_ns: int) -> None:
        super().stop(now_ns)
        self._out = None


class BelievesTheFirstRest(WalkHost):
    def _hear_status(self, status: Status, heard: list[Heard]) -> None:
        super()._hear_status(status, heard)
        if status.state in (State.ARMED, State.PAUSED):
            self._stopping.end()


class StopsOnce(WalkHost):
    def data_to_send(self, now_ns: int) -> bytes:
        if self._stopping.sent and self.stopping:
            self._stopping.due_ns = now_ns + 1_000_000_000_000
        return super().data_to_send(now_ns)
