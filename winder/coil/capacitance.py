"""Self-capacitance of a winding, and where it resonates.

What lies there is seldom layers: wires touch here and there, and the potential rises with the height. Such a winding stores energy
like a block of some effective permittivity eps between its lowest and highest turns, of width W and height H,

    C = (4/3) eps eps0 P W / H,

P the mean turn; the 4/3 is that of layers laid to and fro. eps goes by the density of the turns, s = d^2 / a, and by the wire:
figured by finite differences on just touching wires of 0.063 mm in 0.071 mm of enamel of permittivity 3.5, it is 5.4 at s = 0.70,
6.8 at 0.815, 8.9 at 0.955 and 15.4 where turns lie in each other's furrows; other wires scale as their nested cell to the
power 0.7, within 3 % over five of them. The order in which the turns were wound raises it by 0.87 to 1.6; 1.3 is taken. That is a range,
half to two and a half times the nominal: the upper end is reached where layers truly nest.

Two wires that touch, as Massarini and Kazimierczuk have them (IEEE Trans. Power Electron. 12 (1997) 671): enamel and air in series along straight
lines, integrated over the angle. It meets the field at 35 degrees either side for a nested cell (two touches a turn) and at 64 for a square one
(one touch), within 1.5 % for five wires.

Wax or varnish between the wires raises it by up to 1.4. A core, magnets, leads and a hand add tens of picofarads that nothing here
knows of. A coil of fewer than two layers is not figured.
"""

from __future__ import annotations

import itertools
import math

from winder.coil.bands import Band, factors, joined_band
from winder.coil.model import Coil

EPSILON0_F_M = 8.8541878e-12  # CODATA 2018, from memory
ENAMEL_PERMITTIVITY = 3.5  # polyurethane film; makers print 3 to 4, from memory
NESTED_RAD, SQUARE_RAD = math.radians(35), math.radians(64)
BY_DENSITY = ((0.70, 5.4), (0.815, 6.8), (0.955, 8.9), (1.155, 15.4))  # eps of the wire below
OF_WIRE_F_M = 157.9e-12  # nested cell of 0.063 mm in 0.071 mm
WIRE_POWER = 0.7
ORDER_FACTOR = 1.3  # of the order in which the turns were wound
SCATTER_FACTOR = (2.0, 2.5)  # down to a half, up to two and a half times
FILLED_FACTOR, FILLED_DOUBT = 1.2, 1.2  # with wax or varnish between the wires
LAYERS_LEAST = 2.0


def touch_f_per_m(bare_m: float, overall_m: float, half_rad: float) -> float:
    """Farads per metre between two wires that touch, taken so far to either side of the touch.

    eps0 / 2 times the integral of 1 / (ln(D/d) / er + 1 - cos(theta)), in closed form.
    """
    film = 1 + math.log(overall_m / bare_m) / ENAMEL_PERMITTIVITY
    root = math.sqrt(film**2 - 1)
    integral = 4 / root * math.atan(math.sqrt((film + 1) / (film - 1)) * math.tan(half_rad / 2))
    return EPSILON0_F_M / 2 * integral


def nested_f_per_m(bare_m: float, overall_m: float) -> float:
    """Per metre of wire and gap between two layers that lie in each other's furrows: two touches."""
    return 2 * touch_f_per_m(bare_m, overall_m, NESTED_RAD)


def square_f_per_m(bare_m: float, overall_m: float) -> float:
    """The same where every turn lies on top of one other: one touch."""
    return touch_f_per_m(bare_m, overall_m, SQUARE_RAD)


def effective_permittivity(bare_m: float, overall_m: float, density: float) -> float:
    """Of a winding whose turns take ``density`` of a square lay; beyond the ends of the table drawn on."""
    pairs = list(itertools.pairwise(BY_DENSITY))
    (low, at_low), (high, at_high) = next(
        (pair for pair in pairs if density <= pair[1][0]), pairs[-1]
    )
    value = at_low + (at_high - at_low) * (density - low) / (high - low)
    wire = nested_f_per_m(bare_m, overall_m) / OF_WIRE_F_M
    return max(value, 1.0) * math.pow(wire, WIRE_POWER)


def self_capacitance_f(coil: Coil) -> Band | None:
    """Farads between the ends of the winding alone, a range rather than a value; None below two layers."""
    if coil.layers < LAYERS_LEAST:
        return None
    wire, area_m2 = coil.wire, coil.area_per_turn_m2.nominal
    mean_turn_m = (coil.wire_length_m - coil.recipe.leads_m) / coil.turns
    width_m = coil.ground.mean_width_m(coil.turns, area_m2)
    permittivity = effective_permittivity(wire.bare_m, wire.overall_m, wire.overall_m**2 / area_m2)
    block_f = 4 / 3 * permittivity * EPSILON0_F_M * mean_turn_m * width_m / coil.build_m
    if coil.window is not None:
        block_f *= _taper_share(coil)
    parts = [SCATTER_FACTOR]
    if coil.recipe.surroundings.filled:
        block_f *= FILLED_FACTOR
        parts.append((FILLED_DOUBT, FILLED_DOUBT))
    return joined_band(ORDER_FACTOR * block_f, *parts)


def _taper_share(coil: Coil) -> float:
    """Mean of (perimeter x width^3) over the depth, over that of a winding of the mean width.

    Simpson's rule on the build in eight, exact for a cubic and closer than anything else here.
    """
    ground, build_m = coil.ground, coil.build_m
    shares = [step / 8 for step in range(9)]
    weights = [1, 4, 2, 4, 2, 4, 2, 4, 1]
    mean = 0.0
    for weight, share in zip(weights, shares, strict=True):
        height_m = share * build_m
        around_m = ground.perimeter_m + 2 * math.pi * height_m
        mean += weight / 24 * around_m * ground.window.width_m(height_m) ** 3
    area_m2 = coil.area_per_turn_m2.nominal
    even_m = ground.length_m(coil.turns, area_m2) / coil.turns
    return mean / (even_m * ground.mean_width_m(coil.turns, area_m2) ** 3)


def of_two_resonances(
    first_hz: float, first_f: float, second_hz: float, second_f: float
) -> tuple[float, float]:
    """Henry and the coil's own farads from its resonance with each of two known capacitors beside it.

    1 / w^2 = L (C + C_own) for both; the difference gives L. What hangs on the coil besides, cable and meter, is in
    C_own, which comes out below nothing where the capacitors are not what they say. ``ValueError`` where the larger
    capacitor does not give the lower frequency.
    """
    first, second = ((1 / (2 * math.pi * hz)) ** 2 for hz in (first_hz, second_hz))
    if first_f == second_f or (first - second) / (first_f - second_f) <= 0:
        raise ValueError("the larger capacitor must give the lower frequency")
    henry = (first - second) / (first_f - second_f)
    return henry, first / henry - first_f


def resonance_hz(inductance_h: Band, self_f: Band | None, cable_f: float) -> Band | None:
    """1 / (2 pi sqrt(L (C_self + C_cable))); None where there is no capacitance to reckon with."""
    own = self_f or Band(0.0, 0.0, 0.0)
    total = Band(own.nominal + cable_f, own.low + cable_f, own.high + cable_f)
    if total.nominal <= 0:
        return None
    nominal = 1 / (2 * math.pi * math.sqrt(inductance_h.nominal * total.nominal))
    return joined_band(nominal, factors(inductance_h, -0.5), factors(total, -0.5))
