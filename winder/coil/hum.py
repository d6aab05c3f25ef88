"""What a magnetic field from outside induces: turns-area, and the hum of the mains.

A field B along the axis, the same everywhere, induces V = 2 pi f B F, F the sum of the areas of all
turns (Tumanski, Meas. Sci. Technol. 18 (2007) R31). Two coils wound against each other hear the
difference of theirs. Left out: fields that change across the coil, and iron, which gathers them. Flat sides that bulge enclose more: the high end.

A field has a direction: B here is its part along the axis. A field of that size whose direction nobody knows has 0.58 of it along any one
axis (root mean square).
"""

from __future__ import annotations

import math

from winder.coil.allowances import BULGE_MOST, bulge_area_m2
from winder.coil.bands import Band
from winder.coil.model import Coil

MAINS_HZ = (50.0, 60.0)
NEAR_TRANSFORMER_T = (
    1e-6  # a hand's breadth or two from a lamp's; measured tables of appliances, from memory
)


def turns_area_band(coil: Coil) -> Band:
    """Turns-area in square metres; its doubt is that of the packing."""
    area, ground = coil.area_per_turn_m2, coil.ground
    nominal, low, high = (
        ground.turns_area_m2(coil.turns, each) for each in (area.nominal, area.low, area.high)
    )
    return Band(nominal, low, high * bulge_factor(coil))


def bulge_factor(coil: Coil) -> float:
    """How much more the turns may enclose where the flat sides bulge; 1 for a round core."""
    area_m2, build_m = coil.area_per_turn_m2.nominal, coil.build_m
    more_m2 = bulge_area_m2(coil.outline, build_m / 2, BULGE_MOST) * coil.turns
    return 1 + more_m2 / coil.ground.turns_area_m2(coil.turns, area_m2)


def hum_v(turns_area: float, field_t: float, frequency_hz: float) -> float:
    """Volts induced by an alternating field along the axis; rms for an rms field."""
    return 2 * math.pi * frequency_hz * field_t * turns_area
