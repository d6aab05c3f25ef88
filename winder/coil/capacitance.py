"""Self-capacitance of a winding laid back and forth, and where it resonates.

Between two layers of turns that lie in each other's furrows every turn touches two of the next layer;
Massarini and Kazimierczuk (IEEE Trans. Power Electron. 12 (1997) 671) give the capacitance of one such
touch per metre: through the enamel where the wires are close, through air beside it. The voltage between
the layers rises from nothing at one end to that of two layers at the other, so n layers act as

    C = (4/3) C_layer (n - 1) / n^2.

Between flanges that taper the layers have unlike numbers of turns: C_layer goes with w(h) times the
perimeter and the voltage with w(h), so the sum is the mean of their product, w^3 P, over the depth.

How the turns really lie, and what fills the gaps, moves C_layer by 2.4: the figure is a range, 30 % for
true layers, 50 % for a scattered or hand-guided lay, which is what is claimed. Left out: the
capacitance to a core, a screen or a hand. A coil of fewer than two layers is not figured.
"""

from __future__ import annotations

import math

from winder.coil.bands import Band, factors, joined_band
from winder.coil.model import Coil

EPSILON0_F_M = 8.8541878e-12  # CODATA 2018, from memory
ENAMEL_PERMITTIVITY = 3.5  # polyurethane film; makers print 3 to 4, from memory
SCATTER_FACTOR = (2.0, 1.5)  # down to a half, up by a half
LAYERS_LEAST = 2.0


def touch_f_per_m(bare_m: float, overall_m: float) -> float:
    """Farads per metre between two wires that touch, of the sixth of a turn that faces the other."""
    film = math.log(overall_m / bare_m)
    # The angle where the way through air becomes the shorter one; at most half of the sixth.
    angle = min(math.acos(max(1 - film / ENAMEL_PERMITTIVITY, -1.0)), math.pi / 6)
    through_enamel = ENAMEL_PERMITTIVITY * angle / film
    through_air = 1 / math.tan(angle / 2) - 1 / math.tan(math.pi / 12)
    return EPSILON0_F_M * (through_enamel + through_air)


def self_capacitance_f(coil: Coil) -> Band | None:
    """Farads between the ends, a range rather than a value; None below two layers."""
    layers = coil.layers
    if layers < LAYERS_LEAST:
        return None
    mean_turn_m = (coil.wire_length_m - coil.recipe.leads_m) / coil.turns
    touching_m = 2 * mean_turn_m * coil.turns_per_layer
    if coil.window is not None:
        touching_m *= _taper_share(coil)
    layer_f = touching_m * touch_f_per_m(coil.wire.bare_m, coil.wire.overall_m)
    return joined_band(4 / 3 * layer_f * (layers - 1) / layers**2, SCATTER_FACTOR)


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
