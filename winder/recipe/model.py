"""What to wind, as plain frozen facts in SI units. No formula lives here."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Direction(enum.Enum):
    """As seen from the top of the coil."""

    CLOCKWISE = "clockwise"
    COUNTER_CLOCKWISE = "counter-clockwise"


@dataclass(frozen=True, slots=True)
class AwgWire:
    gauge: int  # 30 to 46 in this version of the tables
    film: str  # "single" or "heavy" (NEMA)


@dataclass(frozen=True, slots=True)
class MetricWire:
    diameter_m: float  # nominal bare diameter, an IEC 60317-0-1 size
    grade: int  # 1 or 2


@dataclass(frozen=True, slots=True)
class RoundCore:
    diameter_m: float


@dataclass(frozen=True, slots=True)
class ObroundCore:
    """A stadium: two half circles of ``thickness`` joined by straight sides."""

    length_m: float  # over all
    thickness_m: float


@dataclass(frozen=True, slots=True)
class RoundedRectangleCore:
    length_m: float
    thickness_m: float
    corner_radius_m: float


Wire = AwgWire | MetricWire
Core = RoundCore | ObroundCore | RoundedRectangleCore


@dataclass(frozen=True, slots=True)
class TurnsTarget:
    turns: int


@dataclass(frozen=True, slots=True)
class ResistanceTarget:
    ohm_20c: float


Target = TurnsTarget | ResistanceTarget


@dataclass(frozen=True, slots=True)
class Recipe:
    name: str
    note: str
    wire: Wire
    core: Core
    width_m: float  # between the flanges
    height_m: float  # of the flanges above the core: the deepest build that fits
    target: Target
    direction: Direction
    speed_rpm: float | None = None  # None: as fast as the machine and the plan allow
    pause_at_turns: tuple[int, ...] = ()  # pauses asked for, rising
    margin_m: float = 0.0  # kept free at each flange
    text: str = ""  # the file as it was read, for the record
