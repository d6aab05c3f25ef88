"""A serial line as a body: how long a byte takes, how late it comes, what is lost or bent.

One ``Line`` is one direction. Bytes go in at a time and come out at a later one, in order: each takes
its time on the wire, then the latency of adapters and drivers is added, which differs from burst to
burst. Lost bytes never come out; a bent byte comes out with one bit turned. All chances come from the
seed that the caller's ``random.Random`` was made with, so the same wind has the same faults again.
"""

from __future__ import annotations

import random
from collections import deque
from dataclasses import field

from firmware_protocol.records import dataclass

_NS_PER_S = 1_000_000_000


@dataclass(frozen=True, slots=True)
class LineFaults:
    """One direction. The default is a perfect line that takes no time."""

    byte_time_s: float = 0.0  # ten bits: 20 us at 500000 baud
    latency_s: float = 0.0
    jitter_s: float = 0.0  # at most this much more latency, drawn for each burst
    loss: float = 0.0  # chance of a byte to be lost, 0 to 1
    corruption: float = 0.0  # chance of a byte to have one bit turned, 0 to 1


@dataclass(frozen=True, slots=True)
class LinkFaults:
    """Both directions of a link, and the moment its cable is pulled."""

    seed: int = 0
    to_board: LineFaults = field(default_factory=LineFaults)
    to_host: LineFaults = field(default_factory=LineFaults)
    cut_at_s: float | None = None  # of the link's own clock; None: never

    def lines(self) -> tuple[Line, Line]:
        """The line to the board and the line to the host, both fresh."""
        # A source each: how the two directions interleave must not change either's faults.
        return (
            Line(self.to_board, random.Random(2 * self.seed)),
            Line(self.to_host, random.Random(2 * self.seed + 1)),
        )


class Line:
    """One direction of a serial line. Times are whole nanoseconds and never run backwards."""

    def __init__(self, faults: LineFaults, chance: random.Random) -> None:
        self._faults = faults
        self._chance = chance
        self._perfect = faults == LineFaults()
        self._byte_ns = round(faults.byte_time_s * _NS_PER_S)
        self._latency_ns = round(faults.latency_s * _NS_PER_S)
        self._jitter_ns = round(faults.jitter_s * _NS_PER_S)
        self._wire_free_ns = 0  # when the wire has carried all that went in
        self._last_ns = 0  # nothing overtakes
        self._under_way: deque[tuple[int, bytes]] = deque()

    def send(self, data: bytes, now_ns: int) -> None:
        """One burst goes in now."""
        if not data:
            return
        if self._perfect:
            self._under_way.append((now_ns, data))
            return
        late_ns = self._latency_ns
        if self._jitter_ns:
            late_ns += self._chance.randrange(self._jitter_ns + 1)
        for byte in data:
            self._wire_free_ns = max(self._wire_free_ns, now_ns) + self._byte_ns
            if self._faults.loss and self._chance.random() < self._faults.loss:
                continue
            if self._faults.corruption and self._chance.random() < self._faults.corruption:
                byte ^= 1 << self._chance.randrange(8)
            self._last_ns = max(self._last_ns, self._wire_free_ns + late_ns)
            self._under_way.append((self._last_ns, bytes((byte,))))

    def take(self, now_ns: int) -> bytes:
        """All that has come out by now."""
        waiting = self._under_way
        if not waiting or waiting[0][0] > now_ns:
            return b""
        if len(waiting) == 1:
            return waiting.popleft()[1]
        parts = []
        while waiting and waiting[0][0] <= now_ns:
            parts.append(waiting.popleft()[1])
        return b"".join(parts)

    def next_ns(self) -> int | None:
        """When the next byte comes out; None: nothing is under way."""
        return self._under_way[0][0] if self._under_way else None
