"""What a magnetic field from outside induces: turns-area, and the hum of the mains.

A field B along the axis, the same everywhere, induces V = 2 pi f B F, F the sum of the areas of all
turns (Tumanski, Meas. Sci. Technol. 18 (2007) R31). Two coils wound against each other hear the
difference of theirs. Left out: fields that change across the coil, and iron, which gathers them.
"""

from __future__ import annotations

import math

from winder.coil.bands import Band
from winder.coil.model import Coil

MAINS_HZ = (50.0, 60.0)


def turns_area_band(coil: Coil) -> Band:
    """Turns-area in square metres; its doubt is that of the packing."""
    area, ground = coil.area_per_turn_m2, coil.ground
    return Band(
        *(ground.turns_area_m2(coil.turns, each) for each in (area.nominal, area.low, area.high))
    )


def hum_v(turns_area: float, field_t: float, frequency_hz: float) -> float:
    """Volts induced by an alternating field along the axis; rms for an rms field."""
    return 2 * math.pi * frequency_hz * field_t * turns_area
