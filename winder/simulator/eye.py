"""An eye that puts the guide to the wire: somewhere within its reach of where it belongs, by seed."""

from __future__ import annotations

import random


class Eye:
    """``reach``: how far off it may be, either way, in the unit that is asked for."""

    def __init__(self, seed: int, reach: float) -> None:
        self._chance, self._reach = random.Random(seed), reach

    def off(self) -> float:
        return self._chance.uniform(-self._reach, self._reach)
