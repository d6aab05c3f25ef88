"""Values with 95 % limits, put together: errors that do not know of each other add as squares of logs."""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass

WITHIN_95 = 1.96  # standard deviations either side that hold 95 of 100
ONE_SIDE_95 = 1.6448  # and to one side


@dataclass(frozen=True, slots=True)
class Band:
    """A value with its 95 % limits, ``low <= nominal <= high``."""

    nominal: float
    low: float
    high: float

    def facts(self) -> dict[str, float]:
        """As JSON tells it."""
        return {"nominal": self.nominal, "low": self.low, "high": self.high}


def joined_band(nominal: float, *parts: tuple[float, float]) -> Band:
    """A band around ``nominal`` from independent factors (down, up), each at least 1."""
    down = math.hypot(*(math.log(part[0]) for part in parts))
    up = math.hypot(*(math.log(part[1]) for part in parts))
    return Band(nominal, nominal / math.exp(down), nominal * math.exp(up))


def factors(band: Band, power: float = 1.0) -> tuple[float, float]:
    """Down and up factors of a positive band raised to ``power``; (1, 1) for a value of nothing."""
    if band.nominal <= 0 or band.low <= 0:
        return (1.0, 1.0)
    down, up = band.nominal / band.low, band.high / band.nominal
    if power < 0:
        down, up = up, down
    return (max(down, 1.0) ** abs(power), max(up, 1.0) ** abs(power))


def exact(value: float) -> Band:
    """A value without doubt."""
    return Band(value, value, value)


def one_sided_95(doubt: float, gap: float) -> float:
    """Standard deviations to go beyond either end of an interval of width ``gap`` that nobody can place a value in.

    The true value is somewhere in the interval and is then met with the standard deviation ``doubt``: so many of it hold 95
    of 100 wherever it is, 1.96 without a gap, 1.645 where the other end is too far to matter (Imbens and Manski, Econometrica
    72 (2004) 1845).
    """
    if doubt <= 0 or gap <= 0:
        return WITHIN_95
    apart = gap / doubt
    low, high = ONE_SIDE_95, WITHIN_95
    for _ in range(24):
        middle = (low + high) / 2
        held = _normal_below(middle + apart) - _normal_below(-middle)
        low, high = (low, middle) if held > 0.95 else (middle, high)
    return high


def _normal_below(z: float) -> float:
    return math.erfc(-z / math.sqrt(2)) / 2
