"""What a real bench adds to one side only: stretch, warmth, bulging sides.

These are allowances, not errors: the true value lies anywhere between nothing and the limit, and nobody knows where. So
they are carried as intervals beside what is left to chance, and no band may hold less than it claims at either end.

**Stretch.** Wire wound at the share t of the chart's greatest tension (the peak, ripple and all) is stretched for good: soft
copper gives 0.2 % at 48 to 54 N/mm2 (Smithells Metals Reference Book, 8th ed., table 22.7), and t = 1 is 69 N/mm2. Bends on the way and
the core itself add as much again. At constant volume 1 % of stretch is 2 % of ohms. On the ohms of the finished coil, upwards:
0.4 % + 2 % t^4 up to t = 1, and 4 % where nobody measured the tension (fingers, felt). Our judgement on these sources.

**Warmth.** All the heat of winding would warm the wire by 20 K t (sigma / rho c of copper); a quick wind leaves 2 to 5 K, a hand or a
lamp as much. Taken: up to 4 K for ten minutes, then less by half in every quarter of an hour (tau 20 min, the longest of
what small coils with their bobbins have). 1 K is 0.39 %.

**Bulge.** A taut wire presses only where it bends: on flat sides the layers stand looser, by up to 0.4 of the build (our judgement; no
measured winding was found). The length grows by 8 (b h)^2 / 3 l for each side l (a shallow bow), the build on the flats and the
area that the turns enclose in the first order.
"""

from __future__ import annotations

import math

from winder.coil.core import Outline

# The interval lies upwards of nothing; where in it a usual coil is, for the nominal value.
STRETCH_LEAST = 0.004
STRETCH_BY_TENSION = 0.02  # times the fourth power of the share of the chart's greatest tension
STRETCH_BY_FEEL = 0.04
STRETCH_USUAL = 1 / 3
WARM_MOST_K = 4.0
WARM_FOR_MIN = 10.0
WARM_TAU_MIN = 20.0
RESTED_MIN = 60.0
BULGE_MOST = 0.4
FLAT_LEAST_M = 2e-3  # shorter sides the stiffness of the wire carries over


def stretch_share(tension_share: float | None) -> float:
    """Greatest rise of the ohms by stretch, as a share; ``tension_share`` is the peak's of the chart's greatest.

    None: by feel, never measured. Beyond the chart's greatest nothing is known better than by feel.
    """
    if tension_share is None or tension_share > 1:
        return STRETCH_BY_FEEL
    return STRETCH_LEAST + STRETCH_BY_TENSION * tension_share**4


def warm_fade(minutes: float | None) -> float:
    """The warmth left after so many minutes, over that ten minutes after the wind: both fall together."""
    since_min = WARM_FOR_MIN if minutes is None else minutes
    return math.exp(-(since_min - WARM_FOR_MIN) / WARM_TAU_MIN)


def flats_m(outline: Outline) -> tuple[float, ...]:
    """Lengths of the flat sides, each that is long enough to bulge; empty for a round core."""
    sides = (
        outline.straight_m,
        outline.straight_m,
        outline.other_straight_m,
        outline.other_straight_m,
    )
    return tuple(side for side in sides if side >= FLAT_LEAST_M)


def bulge_length_m(outline: Outline, build_m: float, turns: float, bulge: float) -> float:
    """What bulging adds to the length of so many turns, built up to ``build_m`` at the ends.

    8 (b h)^2 / 3 l a side at the height h, a third of the outermost turn's on the mean; between nothing and
    ``BULGE_MOST`` drawn as a straight line, which is never less.
    """
    bow = sum(8 / (3 * side) for side in flats_m(outline))
    return bow * BULGE_MOST * bulge * build_m**2 * turns / 3


def bulge_area_m2(outline: Outline, build_m: float, bulge: float) -> float:
    """What bulging adds to the area inside one turn at the height ``build_m``: a shallow parabola on every flat."""
    return sum(2 / 3 * side * bulge * build_m for side in flats_m(outline))
