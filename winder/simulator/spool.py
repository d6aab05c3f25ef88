"""The wire and the lay as they turned out, by seed: what no table can know beforehand.

A spool's true ohms per metre lie somewhere within its tolerance, and a wind packs a little tighter or
looser than the last. Both are drawn log-normal, with 95 of 100 within the limits given.
"""

from __future__ import annotations

import dataclasses
import math
import random

from .build import Build

WITHIN_95 = 1.96  # standard deviations either side that hold 95 of 100


def as_delivered(
    build: Build,
    seed: int,
    *,
    ohm_factors: tuple[float, float],
    packing_share: float,
    packing_by_ohm: float = 0.0,
    habit_share: float = 0.0,
    wind_seed: int | None = None,
) -> Build:
    """The build with true ohms per metre and packing drawn around the ones it has.

    95 % limits: ``ohm_factors`` down and up (0.92 and 1.09, say); ``packing_share`` of this wind, 0.1 meaning divided or multiplied
    by up to 1.1; ``habit_share`` of all winds of this bench, which the same ``seed`` shares while ``wind_seed`` may be
    another. ``packing_by_ohm`` ties the two where a measurement told of both at once: the power of the drawn ohms by which the
    packing follows them.
    """
    chance = random.Random(f"spool {seed}")
    z = chance.gauss(0.0, 1 / WITHIN_95)
    ohm = ohm_factors[1] ** z if z > 0 else ohm_factors[0] ** -z
    habit = math.exp(chance.gauss(0.0, math.log1p(habit_share) / WITHIN_95))
    own = random.Random(f"wind {seed if wind_seed is None else wind_seed}")
    packing = habit * math.exp(own.gauss(0.0, math.log1p(packing_share) / WITHIN_95))
    return dataclasses.replace(
        build,
        ohm_per_m=build.ohm_per_m * ohm,
        packing=min(0.9, build.packing * packing * ohm**packing_by_ohm),
    )
