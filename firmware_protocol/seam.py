"""The seam every machine hangs on: bytes and a clock.

A real board on a serial port, a simulated machine and a recording are bodies behind the same two
protocols. Whoever drives a connection reads bytes with a timeout, writes bytes and asks the clock;
with a simulated body the *read* is what moves virtual time on, so one driving loop serves real
time and rehearsal alike.
"""

from __future__ import annotations

from typing import Protocol


class Clock(Protocol):
    """Monotonic time in whole nanoseconds; the origin means nothing."""

    def now_ns(self) -> int: ...

    def sleep_s(self, seconds: float) -> None: ...


class Link(Protocol):
    """Bytes to and from one board. Not safe for several threads.

    ``read`` returns as soon as at least one byte is there, or ``b""`` after ``timeout_s`` of the
    link's own clock. ``write`` takes everything or raises. After ``close`` both raise. A link that
    is gone raises ``LinkLost`` (an ``OSError``) from then on.
    """

    def read(self, timeout_s: float) -> bytes: ...

    def write(self, data: bytes) -> None: ...

    def close(self) -> None: ...


class LinkLost(OSError):
    """The other end is gone: cable out, process ended, port closed. ``str`` says how."""
