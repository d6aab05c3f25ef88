"""What can be wrong with the emulated sensor: wires, contacts, geometry, interference. Times are microseconds."""

from __future__ import annotations

import ctypes
from collections.abc import Sequence
from enum import IntEnum

from .library import DOUBLE

A, B, BOTH = 1, 2, 3  # channels, as bits
RISING, FALLING = 1, 2  # edges, as bits
CYCLES_A_US = 16


class Wire(IntEnum):
    """What the chip reads of a channel."""

    THERE = 0
    STAYS = 1  # the level that it had
    HIGH = 2  # a wire that is off, by the pull-up
    LOW = 3


class SensorFaults:
    """Of one chip. A call replaces what the same call said before."""

    def __init__(self, library: ctypes.CDLL, chip: int) -> None:
        self._c = library
        self._chip = chip

    def lose(self, channels: int, wire: Wire = Wire.HIGH) -> None:
        """These channels read so from now on; ``Wire.THERE`` gives them back."""
        for index in range(2):
            if channels >> index & 1:
                self._c.sensor_lose(self._chip, index, wire)

    def exchange(self, exchanged: bool = True) -> None:
        """A on the pin of B, and the other way round."""
        self._c.sensor_exchange(self._chip, int(exchanged))

    def bounce(
        self, times: int, width_us: float, edges: int = RISING | FALLING, *, scattered: bool = False
    ) -> None:
        """After each edge of these kinds the level goes back and forth so often, each time so long."""
        self._c.sensor_bounce(
            self._chip, times, round(width_us * CYCLES_A_US), edges, int(scattered)
        )

    def disturb(
        self,
        width_us: float,
        period_us: float = 0.0,
        *,
        channels: int = A,
        after_us: float | None = None,
        times: int = -1,
        scattered: bool = False,
    ) -> None:
        """Pulses against the level: the first after so long, then one a period; ``times`` negative: without end.

        Scattered: widths and distances between a tenth and twice theirs, on either channel or on both.
        """
        after = period_us if after_us is None else after_us
        cycles = [round(us * CYCLES_A_US) for us in (after, width_us, max(period_us, width_us + 1))]
        self._c.sensor_disturb(self._chip, channels, *cycles, times, int(scattered))

    def calm(self) -> None:
        """No disturbance any more."""
        self.disturb(0.0, times=0)

    def bend(self, offsets: Sequence[float]) -> None:
        """How far each border of a turn lies behind its even place, in phases (two a count; four edges: one)."""
        self._c.sensor_bend(self._chip, (DOUBLE * len(offsets))(*offsets), len(offsets))

    def seed(self, number: int) -> None:
        """Of all that is scattered."""
        self._c.sensor_seed(self._chip, number)
