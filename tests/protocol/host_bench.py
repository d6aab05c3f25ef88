"""A host end on a bench of its own: the board's words in by hand, what it sends read back."""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.connection import NS_PER_MS, HostEnd
from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import (
    Answer,
    Move,
    Reason,
    Start,
    State,
    Status,
    Trip,
    Verdict,
    Welcome,
)
from firmware_protocol.wire import LAYOUT_OF, unpack

TOKEN = 77
WELCOME = Welcome(
    1, TOKEN, 3, 0, "bench", b"\1\1\1\1\0\0", 0, 8, 1000, 1000, 1, 0, 0, 0, 2000, 5000
)
STATUS = Status(State.ARMED, Reason.NONE, Trip.NONE, 1, 5, 0, 0, 0, 0, 1, 9, 3, 100, 5, 0)
START = Start(0, 3, 9, 5, 1)
MOVE = Move(0, 3, 9, 5, -4, 1000, 1000)


class HostBench:
    """A host end, its clock in milliseconds, and what it sent, read back."""

    def __init__(self, opened: bool = True) -> None:
        self.host = HostEnd(TOKEN)
        self.now_ms = 0
        self.uptime_ms = 100
        self.boot = 3
        if opened:
            self.host.open(0)
            self.sent()
            assert self.hear(WELCOME) == [WELCOME]

    @property
    def now_ns(self) -> int:
        return self.now_ms * NS_PER_MS

    def sent_bytes(self) -> bytes:
        return self.host.data_to_send(self.now_ns)

    def sent(self) -> list:
        """Messages with their numbers, as they went out."""
        frames = FrameReader().feed(self.sent_bytes())
        return [(frame.sequence, unpack(frame.kind, frame.payload)) for frame in frames]

    def hear(self, message, sequence: int = 0) -> list:
        return self.host.receive(encode_message(message, sequence), self.now_ns)

    def answer(self, command, verdict: Verdict, sequence: int) -> list:
        kind = LAYOUT_OF[type(command)].kind
        return self.hear(Answer(kind, verdict, 6, 0), sequence)

    def hear_status(self, state: State = State.ARMED, **changes) -> list:
        self.uptime_ms += 50
        return self.hear(replace(STATUS, state=state, uptime_ms=self.uptime_ms, **changes))

    def later(self, span_ms: int) -> list:
        self.now_ms += span_ms
        return self.host.receive(b"", self.now_ns)

    def send(self, command):
        return self.host.send(command, self.now_ns)

    def stop(self) -> list:
        self.host.stop(self.now_ns)
        return self.later(0)

    def cut(self) -> list:
        self.host.cut(self.now_ns)
        return self.later(0)
