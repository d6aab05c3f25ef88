"""What to wind, as plain frozen facts in SI units. No formula lives here."""

from __future__ import annotations

import enum

from firmware_protocol.records import dataclass
from winder.recipe.observations import Observation


class Direction(enum.Enum):
    """As seen from the top of the coil."""

    CLOCKWISE = "clockwise"
    COUNTER_CLOCKWISE = "counter-clockwise"


@dataclass(frozen=True, slots=True)
class AwgWire:
    gauge: int  # 10 to 50 in this version of the tables
    film: str  # "single" or "heavy" (NEMA)
    sizing: str = "table"  # bare diameter rounded as in the wire tables, or by "definition"
    ohm_per_m: float | None = None  # the maker's, at 20 C; None: the table's
    overcoat_m: float = 0.0  # thickness of a bonding layer over the enamel


@dataclass(frozen=True, slots=True)
class SwgWire:
    gauge: int  # imperial standard wire gauge
    grade: int  # of the enamel, as IEC has it
    ohm_per_m: float | None = None
    overcoat_m: float = 0.0


@dataclass(frozen=True, slots=True)
class MetricWire:
    diameter_m: float  # nominal bare diameter, an IEC 60317-0-1 size
    grade: int  # 1 to 3
    ohm_per_m: float | None = None  # the maker's, at 20 C; None: the table's
    overcoat_m: float = 0.0


@dataclass(frozen=True, slots=True)
class MeasuredWire:
    """Wire known by a micrometer."""

    bare_m: float
    overall_m: float  # over the enamel
    ohm_per_m: float | None = None  # the maker's, at 20 C; None: copper of this diameter


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


@dataclass(frozen=True, slots=True)
class CustomCore:
    """Any convex outline, by its measured perimeter (a strip of paper round it) and area."""

    perimeter_m: float
    area_m2: float


Wire = AwgWire | SwgWire | MetricWire | MeasuredWire
Core = RoundCore | ObroundCore | RoundedRectangleCore | CustomCore


@dataclass(frozen=True, slots=True)
class TurnsTarget:
    turns: int


@dataclass(frozen=True, slots=True)
class ResistanceTarget:
    ohm_20c: float  # brought to 20 C from the recipe's temperature
    wind_long: bool = False  # to be wound with turns to spare, measured, and taken off


@dataclass(frozen=True, slots=True)
class BuildTarget:
    """As many turns as fill the bobbin to this height."""

    build_m: float


@dataclass(frozen=True, slots=True)
class FullTarget:
    """As many turns as leave so much of the flanges free."""

    below_rim_m: float


@dataclass(frozen=True, slots=True)
class WireTarget:
    """As many turns as this much wire makes, leads included."""

    length_m: float


@dataclass(frozen=True, slots=True)
class InductanceTarget:
    """The turns whose inductance without iron or magnets comes nearest."""

    henry: float


Target = TurnsTarget | ResistanceTarget | BuildTarget | FullTarget | WireTarget | InductanceTarget


@dataclass(frozen=True, slots=True)
class Spool:
    """What is on the supply spool: one of the two."""

    length_m: float | None = None
    mass_kg: float | None = None  # of the wire alone


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the sheet's figures assume about the coil's place, and the machine's tensioner."""

    core_factor: float = 1.0  # measured: inductance with what is inside over that without
    cable_f: float | None = None  # capacitance of the cable, farads
    # Alternating field along the axis, rms tesla: the background of a house (0.01 to 0.2 uT where no wiring or
    # appliance is near; World Health Organization, Environmental Health Criteria 238, from memory).
    field_t: float = 0.1e-6
    tensioner_kg: float | None = None  # mass that moves with the wire; None: the machine file's
    filled: bool = False  # with wax or varnish: it raises the coil's own capacitance


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
    pause_reasons: tuple[tuple[int, str], ...] = ()  # what those are for that say so
    margin_m: float = 0.0  # kept free at each flange
    text: str = ""  # the file as it was read, for the record
    tape_under_m: float = 0.0  # thickness of what lies between core and wire
    tape_over_m: float = 0.0  # thickness of what covers the winding
    leads_m: float = 0.0  # wire left free at both ends together
    temperature_c: float = 20.0  # at which the resistance is asked for and shown
    spool: Spool | None = None
    spool_name: str = ""  # of the logbook's; "": none is named
    surroundings: Surroundings = Surroundings()
    readings: tuple[Observation, ...] = ()  # what was measured before the coil is begun
    rim_width_m: float | None = None  # between the flanges at their rims; None: as ``width_m``
    scatter_seed: int = 0  # 0: even lay; else scattered, drawn by this number
    tension_n: float | None = None  # as measured on the wire; None: by feel
