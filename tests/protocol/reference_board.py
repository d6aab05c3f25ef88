"""The reference device end with the tests' scripted body, as a board to be examined."""

from __future__ import annotations

from pair import COUNTER_BOARD, FULL_BOARD, ScriptedBody

from firmware_protocol.body import Drive, Identity, Order
from firmware_protocol.device import DeviceEnd


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


__all__ = ["COUNTER_BOARD", "FULL_BOARD", "CarefulBody", "ReferenceBoard"]
