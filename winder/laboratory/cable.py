"""A simulated cable that can be out and in again, in virtual time: what the reopening serial link is at a real bench.

While it is out, the port is not open and what the board says is lost; once it is in again, the port is opened by
itself, never before the host's own ``not_before_ns``, and that opening resets the boards that are reset so.
"""

from __future__ import annotations

from firmware_protocol.seam import LinkLost
from winder.clock import NS_PER_S, HandClock
from winder.links.line import LinkFaults
from winder.links.simulated_link import SimulatedLink
from winder.simulator.between import Between

PULLED = "the cable was pulled"


class HeldUp:
    """A link on whose bytes a driver or a hub sits for a while; none is lost, and then they come in one go."""

    def __init__(self, link: SimulatedLink, clock: HandClock, *, both_ways: bool) -> None:
        self._link, self._clock, self._both_ways = link, clock, both_ways
        self._holds = True
        self._heard, self._said = bytearray(), bytearray()

    def read(self, timeout_s: float) -> bytes:
        if not self._holds:
            heard, self._heard = bytes(self._heard), bytearray()
            return heard or self._link.read(timeout_s)
        end_ns = self._clock.now_ns() + round(timeout_s * NS_PER_S)
        while (left_ns := end_ns - self._clock.now_ns()) > 0:
            self._heard += self._link.read(left_ns / NS_PER_S)
        return b""

    def write(self, data: bytes) -> None:
        if self._holds and self._both_ways:
            self._said += data
        else:
            self._link.write(data)

    def let_go(self) -> None:
        self._holds = False
        self._link.write(bytes(self._said))


class Cable:
    """A link that opens again by itself (``winder.service.wind.Reopening``)."""

    def __init__(self, bench: Between, clock: HandClock, line: LinkFaults, *, resets: bool) -> None:
        self.not_before_ns: int | None = None
        self.why_closed = ""
        self.reopened = 0
        self._bench, self._clock, self._line, self._resets = bench, clock, line, resets
        self._in = True
        self._closed = False
        self._link: SimulatedLink | HeldUp | None = SimulatedLink(bench, clock, line)

    @property
    def open(self) -> bool:
        return self._link is not None

    def pull(self) -> None:
        self._in, self._link, self.why_closed = False, None, PULLED

    def plug_in(self) -> None:
        """In again; or what was held up comes now."""
        self._in = True
        if isinstance(self._link, HeldUp):
            self._link.let_go()

    def hold_up(self, *, both_ways: bool) -> None:
        if isinstance(self._link, SimulatedLink):
            self._link = HeldUp(self._link, self._clock, both_ways=both_ways)

    def read(self, timeout_s: float) -> bytes:
        self._check()
        if self._link is None:
            self._try()
        if self._link is not None:
            return self._link.read(timeout_s)
        let_pass(self._bench, self._clock, timeout_s)
        return b""

    def write(self, data: bytes) -> None:
        self._check()
        if self._link is not None:
            self._link.write(data)

    def catch_up(self) -> None:
        """The bench lives on to now; what its board says waits in the computer's buffers, to be read at once."""
        if self._link is not None:
            self._link.write(b"")

    def close(self) -> None:
        self._closed = True

    def _try(self) -> None:
        due_ns = self.not_before_ns
        if not self._in or due_ns is None or self._clock.now_ns() < due_ns:
            return
        if self._resets:
            self._bench.reset()
        self._link, self.why_closed = SimulatedLink(self._bench, self._clock, self._line), ""
        self.reopened += 1

    def _check(self) -> None:
        if self._closed:
            raise LinkLost("the port was closed")


def let_pass(bench: Between, clock: HandClock, seconds: float) -> None:
    """Time in which nobody listens; what the board says is lost."""
    clock.move_to(clock.now_ns() + round(seconds * NS_PER_S))
    while bench.now_ns < clock.now_ns():
        bench.take_bytes()
        bench.run_until(clock.now_ns())
    bench.take_bytes()
