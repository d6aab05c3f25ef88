"""Values with 95 % limits, put together: errors that do not know of each other add as squares of logs."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Band:
    """A value with its 95 % limits, ``low <= nominal <= high``."""

    nominal: float
    low: float
    high: float


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
