"""A caliper and a tape measure at the bench, with errors of their own, by seed.

The caliper's jaws rest on the highest wire between them, not on a mean height; across flat sides they stand on layers that bulge. Limits hold
95 of 100.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

WITHIN_95 = 1.96
JAW_M = 3e-3  # width of a caliper's jaws; common size, from memory


class BenchCaliper:
    """Jaws put over the middle of the winding."""

    def __init__(self, seed: int, error_m: float = 50e-6) -> None:
        self._chance = random.Random(f"caliper {seed}")
        self._error_m = error_m

    def read(self, heights_m: Sequence[float], bin_m: float) -> float:
        """Height shown of a winding that fills these lateral bins (metres) between its flanges."""
        half = max(1, round(JAW_M / bin_m / 2))
        middle = len(heights_m) // 2
        under = heights_m[max(0, middle - half) : middle + half]
        return max(under) + self._chance.gauss(0.0, self._error_m / WITHIN_95)


def cut_tail(seed: int, length_m: float, error_m: float = 5e-3) -> float:
    """True length of a piece that was measured off as ``length_m``."""
    return length_m + random.Random(f"tail {seed}").gauss(0.0, error_m / WITHIN_95)
