"""Copper and wire by mass, and what stays on the spool.

Copper of 8890 kg/m3 (IEC 60028) fills the bare diameter, enamel of about 1300 kg/m3 (polyurethane, from
memory; a few per cent of the whole) the rest up to the overall one. Thinner copper has more ohms per
metre, so mass goes against resistance: the limits of one are those of the other turned round.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band, exact, factors, joined_band
from winder.coil.wire import WireFacts
from winder.files.quantities import COPPER_DENSITY_KG_M3
from winder.recipe.model import Spool

ENAMEL_DENSITY_KG_M3 = 1300.0


def copper_kg_per_m(wire: WireFacts) -> Band:
    """Kilograms of copper in a metre of wire."""
    nominal = COPPER_DENSITY_KG_M3 * math.pi / 4 * wire.bare_m**2
    return joined_band(nominal, factors(wire.ohm_per_m, -1))


def wire_kg_per_m(wire: WireFacts) -> Band:
    """Kilograms of copper and enamel in a metre of wire."""
    copper = copper_kg_per_m(wire)
    enamel = ENAMEL_DENSITY_KG_M3 * math.pi / 4 * (wire.overall_m**2 - wire.bare_m**2)
    return Band(copper.nominal + enamel, copper.low + enamel, copper.high + enamel)


def mass_of(length_m: Band, kg_per_m: Band) -> Band:
    """Kilograms of a length, both doubtful."""
    nominal = length_m.nominal * kg_per_m.nominal
    return joined_band(nominal, factors(length_m), factors(kg_per_m))


@dataclass(frozen=True, slots=True)
class SpoolLeft:
    """What the coil leaves on the spool; below zero it lacks so much."""

    length_m: Band
    mass_kg: Band


def spool_left(spool: Spool, length_m: Band, wire: WireFacts) -> SpoolLeft:
    """Length and mass left on a spool of which one is known."""
    per_m = wire_kg_per_m(wire)
    if spool.mass_kg is None:
        assert spool.length_m is not None, "a spool is known by its length or its mass"
        left = _less(exact(spool.length_m), length_m)
        ends = [m * kg for m in (left.low, left.high) for kg in (per_m.low, per_m.high)]
        return SpoolLeft(left, Band(left.nominal * per_m.nominal, min(ends), max(ends)))
    held_m = joined_band(spool.mass_kg / per_m.nominal, factors(per_m, -1))
    mass = _less(exact(spool.mass_kg), mass_of(length_m, per_m))
    return SpoolLeft(_less(held_m, length_m), mass)


def _less(held: Band, used: Band) -> Band:
    """The difference of two independent bands."""
    nominal = held.nominal - used.nominal
    down = math.hypot(held.nominal - held.low, used.high - used.nominal)
    up = math.hypot(held.high - held.nominal, used.nominal - used.low)
    return Band(nominal, nominal - down, nominal + up)
