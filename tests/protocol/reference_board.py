"""The reference device end with the tests' scripted body, as a board to be examined."""

from __future__ import annotations

from pair import COUNTER_BOARD, FULL_BOARD, PEDAL_BOARD, ScriptedBody

from firmware_protocol.body import Drive, Identity, Order
from firmware_protocol.device import DeviceEnd
from firmware_protocol.messages import State


class CarefulBody(ScriptedBody):
    """Turns as slowly as it was asked to, and a spindle that rests stays at rest."""

    rate_cpms = 0.5
    _part = 0.0

    def obey(self, drive: Drive) -> None:
        super().obey(drive)
        if drive.order is Order.MOVE and drive.move is not None:
            self.rate_cpms = drive.move.rate_mcps / 1e6
        elif drive.order is Order.WIND:
            self.rate_cpms = drive.legs[0].rate_mcps / 1e6

    def advance(self, span_ms: int = 1) -> None:
        for _ in range(span_ms):
            turning = self.drives and self.drive.order in (Order.WIND, Order.MOVE)
            if turning and not self.seen.arrived and not self.seen.at_rest:
                self._part += self.rate_cpms
                if self._part < 2:  # the scripted body makes two counts at once
                    continue
                self._part -= 2
            self._advance_1_ms()


class ReferenceBoard:
    """``end`` may be a class of its own that goes wrong."""

    def __init__(
        self,
        identity: Identity = FULL_BOARD,
        end: type[DeviceEnd] = DeviceEnd,
        body: CarefulBody | None = None,
    ) -> None:
        self.body = body or CarefulBody()
        self.device = end(self.body, identity, 5, 1000)

    def receive(self, data: bytes, now_ms: int) -> None:
        self.device.receive(data, now_ms)

    def tick(self, now_ms: int) -> None:
        if self.body.drives:
            self.body.advance()
        if not self.body.seen.at_rest or now_ms >= self.device.next_tick_ms() or self.body.drives:
            self.device.tick(now_ms)

    def data_to_send(self) -> bytes:
        return self.device.data_to_send()


class AttendedBoard(ReferenceBoard):
    """Somebody sits at it who does with foot and hand what the examiner announces."""

    def __init__(self, identity: Identity = PEDAL_BOARD, end: type[DeviceEnd] = DeviceEnd) -> None:
        super().__init__(identity, end)
        self.announced = ""
        self._since_ms = 0  # something has been so for as long

    def listens(self, what: str) -> bool:
        self.announced = what
        self.body.seen.pedal_pressed = self.body.seen.stop_pressed = False
        self._since_ms = 0
        return True

    def tick(self, now_ms: int) -> None:
        seen, board = self.body.seen, self.device.board
        if "press the pedal within" in self.announced:
            self._since_ms += 1 if board.pedal.armed else 0
            seen.pedal_pressed = 300 < self._since_ms < 1500
        elif "press the pedal now" in self.announced:
            seen.pedal_pressed = True
        elif "press the stop switch" in self.announced:
            turns = board.state is State.SETTING_UP
            self._since_ms += 1 if turns or self._since_ms else 0
            seen.stop_pressed = 1000 < self._since_ms < 6000
        super().tick(now_ms)


__all__ = [
    "COUNTER_BOARD",
    "FULL_BOARD",
    "PEDAL_BOARD",
    "AttendedBoard",
    "CarefulBody",
    "ReferenceBoard",
]
