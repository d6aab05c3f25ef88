"""A board of this process behind the seam, in virtual time: reading is what moves it on."""

from __future__ import annotations

import math
from typing import Protocol

NS_PER_MS = 1_000_000


class AnyBoard(Protocol):
    """Whatever speaks: bytes and milliseconds in, bytes out."""

    def receive(self, data: bytes, now_ms: int) -> None: ...

    def tick(self, now_ms: int) -> None: ...

    def data_to_send(self) -> bytes: ...


class VirtualClock:
    def __init__(self) -> None:
        self.ms = 1000

    def now_ns(self) -> int:
        return self.ms * NS_PER_MS

    def sleep_s(self, seconds: float) -> None:
        self.ms += round(seconds * 1000)


class BoardLink:
    """A ``Link`` whose reads give the board a tick every millisecond."""

    def __init__(self, board: AnyBoard, clock: VirtualClock) -> None:
        self.board = board
        self.clock = clock
        self.written = bytearray()

    def read(self, timeout_s: float) -> bytes:
        end_ms = self.clock.ms + math.ceil(timeout_s * 1000)
        while True:
            data = self.board.data_to_send()
            if data or self.clock.ms >= end_ms:
                return data
            self.clock.ms += 1
            self.board.tick(self.clock.ms)

    def write(self, data: bytes) -> None:
        self.written += data
        self.board.receive(data, self.clock.ms)

    def close(self) -> None:
        pass
