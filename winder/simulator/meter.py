"""An ohmmeter with ranges, digits and leads, and the thermometer beside it; by seed.

Every range has a gain of its own, half of it common to all, and a nought that stands for the sitting; limits are rectangular. The
thermometer has one error for the sitting. Copper is taken by its inferred zero, R proportional to 234.5 + T (IEEE and IEC
practice), not by the coefficient that the coil model uses. A coil just wound is warmer than the room, which the thermometer does not see.
"""

from __future__ import annotations

import math
import random

INFERRED_ZERO_C = 234.5  # below zero, where copper's resistance would vanish if it went on straight
ROOM_C = (17.0, 27.0)  # the bench's room, evenly
LEADS_OHM = (0.1, 0.3)  # test leads of hand meters, evenly
LEADS_LEFT_OHM = 0.05  # left either way when they were shorted and deducted
FIRST_STEP_OHM = 0.1
COOLS_S = 1200.0  # time in which the warmth falls to 37 %


class BenchOhmmeter:
    """One meter with its thermometer; the room is what it is on that day."""

    def __init__(
        self,
        seed: int,
        *,
        counts: int = 2000,
        gain_share: float = 0.008,
        digits: float = 3.0,
        leads_ohm: float | None = None,
        kelvin: float = 2.0,
    ) -> None:
        """Limits as its manual states them; ``leads_ohm`` as a person found them shorted, None: nobody did."""
        self._chance = random.Random(f"ohmmeter {seed}")
        self._counts, self._gain_share, self._digits = counts, gain_share, digits
        self._common = self._chance.gauss(0.0, 1.0)
        self._gains: dict[float, float] = {}  # by a digit of the range, so far as it was used
        self._noughts: dict[float, float] = {}
        self._kelvin = kelvin
        if leads_ohm is None:
            self._leads_ohm = self._chance.uniform(*LEADS_OHM)
        else:
            self._leads_ohm = leads_ohm + self._chance.uniform(-LEADS_LEFT_OHM, LEADS_LEFT_OHM)
        self._room_c = self._chance.uniform(*ROOM_C)
        self._noted_c = self._room_c + self._chance.uniform(-kelvin, kelvin)

    def next_sitting(self) -> None:
        """Another day: the room, the thermometer's error and the noughts of the ranges are others, gain and leads the same."""
        self._room_c = self._chance.uniform(*ROOM_C)
        self._noted_c = self._room_c + self._chance.uniform(-self._kelvin, self._kelvin)
        self._noughts.clear()

    def read(self, true_ohm_20c: float, warm_k: float = 0.0) -> tuple[float, float]:
        """What is shown of something with so many ohms at 20 C, and the temperature noted beside it.

        ``warm_k``: how much warmer than the room the wire is.
        """
        celsius = self._room_c + warm_k
        ohm = true_ohm_20c * (INFERRED_ZERO_C + celsius) / (INFERRED_ZERO_C + 20) + self._leads_ohm
        step = self.step_ohm(ohm)
        if step not in self._gains:
            own = math.sqrt(0.5) * (self._common + self._chance.gauss(0.0, 1.0))
            even = math.erf(own / math.sqrt(2))  # evenly between -1 and 1
            self._gains[step] = even * self._gain_share
        if step not in self._noughts:
            self._noughts[step] = self._chance.uniform(-self._digits, self._digits) * step
        gain, nought = self._gains[step], self._noughts[step]
        return round((ohm * (1 + gain) + nought) / step) * step, round(self._noted_c, 1)

    def step_ohm(self, ohm: float) -> float:
        """One digit of the range that ``ohm`` is shown on."""
        step = FIRST_STEP_OHM
        while self._counts * step <= ohm:
            step *= 10
        return step


def warmth_left(warm_k: float, since_s: float) -> float:
    """Of the warmth of a coil just wound, after so many seconds at rest."""
    return warm_k * math.exp(-since_s / COOLS_S)
