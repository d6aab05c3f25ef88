"""Links to a machine that lives in this process: in virtual time, or in real time.

``read`` is what moves the machine on. It runs the machine until bytes come out of the line or the
timeout of the link's own clock is over; the virtual link then sets the clock to that moment, the
paced one sleeps until the clock gets there. Nothing can be written during a read, so running ahead
and then sleeping gives the same as running along. The link also models the line between host and
board: byte time, latency, loss and bent bytes by seed, and the pulling of the cable.
"""

from __future__ import annotations

import copy
from typing import Protocol, Self

from firmware_protocol.seam import LinkLost
from winder.clock import NS_PER_S, HandClock, HurriedClock, SystemClock
from winder.links.line import LineFaults, LinkFaults

__all__ = ["HurriedLink", "LineFaults", "LinkFaults", "Machine", "PacedLink", "SimulatedLink"]


class Machine(Protocol):
    """What a link needs of a simulated machine. Times are whole nanoseconds of its own."""

    @property
    def now_ns(self) -> int: ...

    def run_until(self, time_ns: int) -> None:
        """Live on until then; returns early as soon as the board has bytes."""

    def receive(self, data: bytes) -> None:
        """Bytes arrive at the board now."""

    def take_bytes(self) -> bytes:
        """What the board has sent since the last time."""

    def reset(self, watchdog: bool = False) -> None: ...


class _MachineLink:
    """The reading loop that both kinds share; they differ in how the clock gets to a moment."""

    def __init__(self, machine: Machine, clock_ns: int, faults: LinkFaults | None) -> None:
        self._faults = faults = faults or LinkFaults()
        self._machine = machine
        # The machine's time less the clock's: both begin where they like.
        self._offset_ns = machine.now_ns - clock_ns
        self._to_board, self._to_host = faults.lines()
        self._cut_ns = (
            None if faults.cut_at_s is None else round(faults.cut_at_s * NS_PER_S) + self._offset_ns
        )
        self._lost = ""  # why the link is gone; once set it stays

    def read(self, timeout_s: float) -> bytes:
        self._check()
        end_ns = self._clock_ns() + self._offset_ns + round(timeout_s * NS_PER_S)
        while True:
            self._deliver()
            now_ns = self._machine.now_ns
            data = self._to_host.take(now_ns)
            if data or now_ns >= end_ns:
                self._reach(now_ns - self._offset_ns)
                return data
            self._check_cut(now_ns)
            self._run(now_ns, end_ns)

    def write(self, data: bytes) -> None:
        self._check()
        now_ns = self._clock_ns() + self._offset_ns
        while self._machine.now_ns < now_ns:  # what is written now must not arrive in the past
            self._deliver()
            self._run(self._machine.now_ns, now_ns)
        self._check_cut(self._machine.now_ns)
        self._to_board.send(data, self._machine.now_ns)
        self._deliver()

    def close(self) -> None:
        self._lost = self._lost or "the link was closed"

    def plugged_in_again(self) -> Self:
        """A fresh link to the same machine on an uncut cable, by the same clock.

        The machine lives through the time that has passed; what it said meanwhile is lost.
        """
        fresh = copy.copy(self)
        fresh._to_board, fresh._to_host = self._faults.lines()
        fresh._cut_ns, fresh._lost = None, ""
        while self._machine.now_ns < (now_ns := self._clock_ns() + self._offset_ns):
            self._machine.take_bytes()
            self._machine.run_until(now_ns)
        self._machine.take_bytes()
        return fresh

    def _run(self, now_ns: int, end_ns: int) -> None:
        """Run the machine to the next thing that happens on the line, at most to ``end_ns``."""
        for stop_ns in (self._to_board.next_ns(), self._to_host.next_ns(), self._cut_ns):
            if stop_ns is not None and now_ns < stop_ns < end_ns:
                end_ns = stop_ns
        self._machine.run_until(end_ns)

    def _deliver(self) -> None:
        """Hand over what the line has carried, both ways."""
        now_ns = self._machine.now_ns
        if data := self._to_board.take(now_ns):
            self._machine.receive(data)
        if data := self._machine.take_bytes():
            self._to_host.send(data, now_ns)

    def _check(self) -> None:
        if self._lost:
            raise LinkLost(self._lost)

    def _check_cut(self, now_ns: int) -> None:
        if self._cut_ns is not None and now_ns >= self._cut_ns:
            self._lost = "the cable was pulled"
            self._reach(now_ns - self._offset_ns)
            raise LinkLost(self._lost)

    def _clock_ns(self) -> int:
        raise NotImplementedError

    def _reach(self, clock_ns: int) -> None:
        """Have the link's clock show at least this moment."""
        raise NotImplementedError


class SimulatedLink(_MachineLink):
    """Virtual time: ``read`` sets the clock. A machine-hour takes what its events take to compute."""

    def __init__(
        self, machine: Machine, clock: HandClock, faults: LinkFaults | None = None
    ) -> None:
        self._clock = clock
        super().__init__(machine, clock.now_ns(), faults)

    def _clock_ns(self) -> int:
        return self._clock.now_ns()

    def _reach(self, clock_ns: int) -> None:
        if clock_ns > self._clock.now_ns():
            self._clock.move_to(clock_ns)


class PacedLink(_MachineLink):
    """Real time, times the clock's pace: ``read`` sleeps, and the machine follows the clock."""

    def __init__(
        self, machine: Machine, clock: SystemClock, faults: LinkFaults | None = None
    ) -> None:
        self._clock = clock
        super().__init__(machine, clock.now_ns(), faults)

    def _clock_ns(self) -> int:
        return self._clock.now_ns()

    def _reach(self, clock_ns: int) -> None:
        ahead_ns = clock_ns - self._clock.now_ns()
        if ahead_ns > 0:
            self._clock.sleep_s(ahead_ns / NS_PER_S)


class HurriedLink(SimulatedLink):
    """Faster than the world: virtual time that ``read`` moves, kept to the clock's pace by sleeping."""

    def __init__(
        self, machine: Machine, clock: HurriedClock, faults: LinkFaults | None = None
    ) -> None:
        self._hurried = clock
        super().__init__(machine, clock, faults)

    def _reach(self, clock_ns: int) -> None:
        super()._reach(clock_ns)
        self._hurried.keep_pace()
