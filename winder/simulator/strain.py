"""What winding does to the wire itself: stretch, and where it parts.

Straight wire under the stress s keeps 0.2 % (s / 51 MPa)^2.29 (through the 0.2 % and 0.5 % proof stresses of annealed copper, 48 and
75 MPa; Smithells Metals Reference Book, 8th ed., table 22.7, and makeitfrom.com, C10800 OS050). A bend under tension adds about a fifth of
its bending strain d / 2r. Nobody measures by feel: then anything up to 1 % of length. It parts at 216 MPa (Smithells, annealed oxygen-free
strip). On flat sides the layers stand looser by anything up to 0.4 of their height; a quick wind leaves up to 4 K. All sizes without a
source are judgement, fixed before any model was held against them.
"""

from __future__ import annotations

import math
import random

PROOF_PA, PROOF_POWER, PROOF_STRAIN = 51e6, 2.29, 0.002
BEND_SHARE = 0.19
BY_FEEL_MOST = 0.01
PARTS_PA = 216e6
BULGE_MOST = 0.4
WARM_MOST_K = 4.0
FLAT_LEAST_M = 2e-3


def strain(tension_n: float, bare_m: float, radius_m: float) -> float:
    """Lengthening that stays, of wire wound under this tension onto bends of this radius."""
    stress_pa = tension_n / (math.pi / 4 * bare_m**2)
    straight = PROOF_STRAIN * math.pow(stress_pa / PROOF_PA, PROOF_POWER)
    share = min(stress_pa / PROOF_PA, 1.0)
    return straight + BEND_SHARE * share * bare_m / (2 * radius_m)


def drawn_strain(seed: int, tension_n: float | None, bare_m: float, radius_m: float) -> float:
    """Of this wind: by the tension that is set, a fifth more or less; by feel anything up to the most."""
    chance = random.Random(f"strain {seed}")
    if tension_n is None:
        return chance.uniform(0.0, BY_FEEL_MOST)
    return strain(tension_n, bare_m, radius_m) * chance.uniform(0.8, 1.2)


def drawn_bulge(seed: int) -> float:
    return random.Random(f"bulge {seed}").uniform(0.0, BULGE_MOST)


def drawn_warmth_k(seed: int) -> float:
    """How much warmer than the room a coil is that was just wound."""
    return random.Random(f"warmth {seed}").uniform(0.0, WARM_MOST_K)


def parting_rpm(tension_n: float, bare_m: float, moving_kg: float, half_straight_m: float) -> float:
    """The speed at which tension and ripple tear the wire; infinite where nothing ripples."""
    spare_n = PARTS_PA * math.pi / 4 * bare_m**2 - tension_n
    if spare_n <= 0:
        return 0.0
    if moving_kg * half_straight_m <= 0:
        return math.inf
    return math.sqrt(spare_n / (moving_kg * half_straight_m)) * 60 / (2 * math.pi)
