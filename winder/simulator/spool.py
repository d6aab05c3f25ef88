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
    ohm_share: float,
    packing_share: float,
    packing_by_ohm: float = 0.0,
) -> Build:
    """The build with true ohms per metre and packing drawn around the ones it has.

    The shares are the 95 % limits: 0.05 means divided or multiplied by up to 1.05. ``packing_by_ohm`` ties the two
    where a measurement told of both at once: the power of the drawn ohms by which the packing follows them.
    """
    chance = random.Random(f"spool {seed}")
    ohm = math.exp(chance.gauss(0.0, math.log1p(ohm_share) / WITHIN_95))
    packing = math.exp(chance.gauss(0.0, math.log1p(packing_share) / WITHIN_95))
    return dataclasses.replace(
        build,
        ohm_per_m=build.ohm_per_m * ohm,
        packing=min(0.9, build.packing * packing * ohm**packing_by_ohm),
    )
