"""What the bench measures with: an ohmmeter and its leads, a thermometer, a caliper, a scale.

The defaults are an ordinary bench. Meter: 0.8 % of the reading and 3 digits on 2000 counts, between what the
manuals of three hand meters state (0.8 % + 2, 1.0 % + 3 and 0.8 % + 4 digits); their test leads have 0.1 to
0.3 ohm (the same manuals). Caliper: 0.02 mm of its own (DIN 862), and jaws that squeeze a winding by some
hundredths more: 0.05 mm, our judgement. Thermometer: 2 K between what it shows and what the coil beside it
has, our judgement. Limits of meter and thermometer are rectangular, as their makers state them (JCGM
100:2008, 4.3.7).
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass

LEADS_USUAL_OHM = (0.1, 0.3)
LEADS_LEFT_OHM = 0.05  # either way, once the leads were shorted and deducted
RANGE_LEAST_STEP_OHM = 0.1  # of a hand meter's lowest range: 200 ohm on 2000 counts


@dataclass(frozen=True, slots=True)
class Range:
    """One range of an ohmmeter."""

    full_ohm: float
    step_ohm: float  # one digit


@dataclass(frozen=True, slots=True)
class Instruments:
    """Limits either way; SI units."""

    counts: int = 2000  # of the meter: the last reading of a range is one less
    gain_share: float = 0.008  # of the reading
    digits: float = 3.0  # of the range in use
    leads_ohm: float | None = None  # of the test leads, shorted; None: not known, not deducted
    thermometer_k: float = 2.0
    caliper_m: float = 50e-6
    scale_kg: float = 0.02e-3

    def range_of(self, ohm: float) -> Range:
        """The range a meter shows ``ohm`` on: the lowest that holds it."""
        step_ohm = RANGE_LEAST_STEP_OHM
        while self.counts * step_ohm <= ohm and step_ohm < 1e9:
            step_ohm *= 10
        return Range(self.counts * step_ohm, step_ohm)

    @property
    def leads_band_ohm(self) -> tuple[float, float]:
        """What the leads add to every reading: the middle, and how far either way."""
        if self.leads_ohm is None:
            low, high = LEADS_USUAL_OHM
            return (low + high) / 2, (high - low) / 2
        return self.leads_ohm, LEADS_LEFT_OHM

    def spread_share(self, ohm: float) -> float:
        """95 % limit of gain, digits and leads joined, of a reading."""
        step = self.digits * self.range_of(ohm).step_ohm
        parts = (self.gain_share, step / ohm, self.leads_band_ohm[1] / ohm)
        return 1.96 / math.sqrt(3) * math.hypot(*parts)
