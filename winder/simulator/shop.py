"""A shop's spools, coils and scales as they truly are, by seed: what the pair's and the spool's figures are judged by.

Foreign on purpose: nothing here shares a formula with the coil model. A coil is layers of whole turns, each layer
one wire thickness higher, summed turn by turn; each bobbin's core is a little off; wire is stretched a
little as it is wound; the room's temperature drifts. Shares are 95 % limits of log-normal draws.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

import numpy
from numpy.typing import NDArray

from firmware_protocol.records import dataclass

from .instruments import WITHIN_95

COPPER_KG_M3, ENAMEL_KG_M3 = 8900.0, 1350.0
OHM_M = 1.7241e-8  # annealed copper, 100 % IACS, at 20 C


@dataclass(frozen=True, slots=True)
class Bobbin:
    """A convex core by its perimeter and area, and the width between the flanges."""

    perimeter_m: float
    core_m2: float
    width_m: float


@dataclass(frozen=True, slots=True)
class Wire:
    """One spool's wire as it truly is."""

    bare_m: float
    overall_m: float
    ohm_per_m: float
    kg_per_m: float


@dataclass(frozen=True, slots=True)
class Spread:
    """How far things vary; 95 % limits."""

    diameter_low: float = (
        0.045  # of the bare wire: ohms per metre -9 to +10 %, as conforming wire may
    )
    diameter_high: float = 0.047
    habit: float = 0.15  # packing of a bench
    wind: float = 0.03 / math.sqrt(2)  # one coil about the habit: two differ by 3 %
    core_m: float = 0.03e-3  # of a bobbin, all round
    stretch: float = 0.004  # in length, of one wind; 0 to this
    wind_stretch: float = 0.001  # from wind to wind


class Shop:
    """One bench: a spool, a habit of packing, and coils one after the other."""

    def __init__(
        self,
        seed: int,
        bare_m: float,
        overall_m: float,
        density: float,
        spread: Spread | None = None,
    ) -> None:
        self._chance = chance = random.Random(f"shop {seed}")
        self._spread = spread = spread or Spread()
        off = chance.gauss(0.0, 1 / WITHIN_95)
        off *= spread.diameter_low if off < 0 else spread.diameter_high
        bare_m *= 1 + off
        film_m = (overall_m - bare_m / (1 + off)) * math.exp(chance.gauss(0.0, 0.15 / WITHIN_95))
        metal_m2, whole_m = math.pi / 4 * bare_m**2, bare_m + film_m
        purity = chance.uniform(1.0, 1.015)  # of the conductivity, over 100 % IACS
        enamel_m2 = math.pi / 4 * (whole_m**2 - bare_m**2)
        self.wire = Wire(
            bare_m,
            whole_m,
            OHM_M / purity / metal_m2,
            metal_m2 * COPPER_KG_M3 + enamel_m2 * ENAMEL_KG_M3,
        )
        self._density = density * math.exp(-chance.gauss(0.0, spread.habit / WITHIN_95))
        self._stretch = chance.uniform(0.0, spread.stretch)
        self._overall_m = overall_m  # the habit is of the section, whatever the film

    def coil(self, bobbin: Bobbin) -> ShopCoil:
        """The next coil's chance: its packing, its bobbin's core, how far its wire was stretched."""
        chance, spread = self._chance, self._spread
        looser = math.exp(chance.gauss(0.0, spread.wind / WITHIN_95))
        section_m2 = self._overall_m**2 / self._density * looser
        more_m = chance.gauss(0.0, spread.core_m / WITHIN_95)
        stretch = max(self._stretch + chance.gauss(0.0, spread.wind_stretch / WITHIN_95), 0.0)
        core = Bobbin(
            bobbin.perimeter_m + 2 * math.pi * more_m,
            bobbin.core_m2 + bobbin.perimeter_m * more_m,
            bobbin.width_m,
        )
        return ShopCoil(core, section_m2, self.wire.overall_m, self.wire.ohm_per_m, stretch)


@dataclass(frozen=True, slots=True)
class ShopCoil:
    """A coil of any number of turns, as it would truly be."""

    core: Bobbin
    section_m2: float  # of the winding, for one turn
    layer_m: float  # height of a layer: the wire's thickness
    ohm_per_m: float
    stretch: float

    def _heights_m(self, turns: int) -> NDArray[numpy.float64]:
        """Middle of each turn above the core: layers of whole turns, one after the other."""
        per_layer = max(1, round(self.core.width_m * self.layer_m / self.section_m2))
        layer_m = self.section_m2 * per_layer / self.core.width_m
        layers: NDArray[numpy.float64] = numpy.floor(numpy.arange(turns) / per_layer)
        return (layers + 0.5) * layer_m

    def wire_m(self, turns: int) -> float:
        """As it lies on the coil."""
        heights = self._heights_m(turns)
        return float((self.core.perimeter_m + 2 * math.pi * heights).sum())

    def from_spool_m(self, turns: int) -> float:
        """What left the spool, before it was stretched."""
        return self.wire_m(turns) / (1 + self.stretch)

    def ohm_20c(self, turns: int) -> float:
        """Stretched wire is longer and thinner: the square of the stretch."""
        return self.ohm_per_m * self.from_spool_m(turns) * (1 + self.stretch) ** 2

    def turns_area_m2(self, turns: int) -> float:
        heights = self._heights_m(turns)
        areas = self.core.core_m2 + self.core.perimeter_m * heights + math.pi * heights**2
        return float(areas.sum())

    def turns_of_ohm(self, ohm_20c: float) -> int:
        """Whole turns that come nearest to these ohms."""
        low, high = 1, 1
        while self.ohm_20c(high) < ohm_20c:
            low, high = high, 2 * high
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self.ohm_20c(middle) > ohm_20c else (middle, high)
        return min((low, high), key=lambda turns: abs(self.ohm_20c(turns) - ohm_20c))

    def turns_in_wire(self, left_m: float, turns: int) -> int:
        """How many of these turns that much wire from the spool makes."""
        along = numpy.cumsum(self.core.perimeter_m + 2 * math.pi * self._heights_m(turns))
        return int(numpy.searchsorted(along / (1 + self.stretch), left_m))

    def taken_m(self, path: Sequence[int]) -> float:
        """From the spool on a path of turns, as wound, taken off and wound again."""
        taken, at = 0.0, 0
        for turns in path:
            if turns > at:
                taken += self.from_spool_m(turns) - (self.from_spool_m(at) if at else 0.0)
            at = turns
        return taken


def warmed(ohm_20c: float, seed: int, kelvin: float) -> float:
    """The same coil a little warmer or colder than its neighbour; the limit is at 95 %."""
    off = random.Random(f"warmth {seed}").gauss(0.0, kelvin / WITHIN_95)
    return ohm_20c * (1 + off / (234.5 + 20))


class Winds:
    """What happens to the wire of one spool besides, by seed: breaks, turns taken off, waste, a scale."""

    BREAKS, SHORTENED = 0.25, 0.4  # shares of winds
    BIN_M = 3.0  # thrown away where the wire broke
    TARE_KG, SCALE_KG = 0.045, 0.1e-3

    def __init__(self, seed: int) -> None:
        self._chance = random.Random(f"winds {seed}")
        self._tare_kg = self.TARE_KG + self._gauss(1e-3)
        self.tare_told_kg = self._tare_kg + self._gauss(self.SCALE_KG)

    def held_m(self, about_m: float) -> float:
        return about_m * self._chance.uniform(0.8, 1.2)

    def printed_m(self, true_m: float, share: float) -> float:
        return true_m * (1 + self._gauss(share))

    def weigh(self, wire_kg: float) -> float:
        return self._tare_kg + wire_kg + self._gauss(self.SCALE_KG)

    def path(self, turns: int) -> tuple[list[int], list[float], float, float]:
        """Turns as they truly went, as they were written down, the doubt told, and what was wasted."""
        chance = self._chance
        true: list[int] = []
        told: list[float] = []
        doubt, waste_m = 0.0, 1.0
        if chance.random() < self.BREAKS:
            at = chance.randrange(200, turns - 200)
            back = chance.randrange(5, 150)
            lost = chance.randrange(-4, 5)  # turns that nobody counted
            true += [at, at - back + lost]
            told += [float(at), float(at - back)]
            doubt, waste_m = 5.0, waste_m + self.BIN_M
            true.append(turns + lost)
        else:
            true.append(turns)
        told.append(float(turns))
        if chance.random() < self.SHORTENED:
            off = chance.randrange(10, 120)
            true.append(true[-1] - off)
            told.append(told[-1] - off)
        return true, told, doubt, waste_m

    def wasted_m(self, told_m: float) -> float:
        return told_m * self._chance.uniform(0.6, 1.4)

    def _gauss(self, limit: float) -> float:
        return self._chance.gauss(0.0, limit / WITHIN_95)
