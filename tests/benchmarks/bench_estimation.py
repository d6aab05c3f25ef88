"""How well readings on the way foretell the finished coil: many simulated coils, several ways of measuring.

    python tests/benchmarks/bench_estimation.py [--coils 20000]

Each coil draws its ohms per metre (+-5 %), its packing (+-15 %, of which +-10 % are this wind's own) and the errors of meter, thermometer,
tape measure and caliper; every limit is 95 %. The true winding is figured here, by its own two lines, not by
the code under test. A method measures, says how many turns give the target, and is judged by the
resistance those turns truly have: the 95th of a hundred errors, with the limits that so many coils leave
on it (order statistics), and how often the true resistance lay within the band that was promised.

Three coils of 8000 turns, a = 4.78895e-9 m2: a stadium of 66 x 6 mm, 10 mm wide; round 10 mm, 20 mm wide; round
6 mm, 10 mm wide. ``BEFOREHAND`` holds the figures of another program, which was written first; its
widths are known for the first two only, the third is the one that meets its first two rows.
"""

from __future__ import annotations

import argparse
import dataclasses
import math
import random
from collections.abc import Callable
from dataclasses import dataclass

from winder.coil.bands import Band
from winder.coil.knowledge import (
    Knowledge,
    learn,
    prior,
    resistance_band,
    take_off,
    turns_for,
    turns_to_wind_long,
)
from winder.coil.model import Coil
from winder.coil.winding import figure_coil
from winder.recipe.model import CustomCore, Direction, MeasuredWire, Recipe, TurnsTarget
from winder.recipe.observations import BuildCaliper, EarlierCoil, OhmReading, SpoolTail

SEED = 20260101
TURNS = 8000
AREA_M2 = 4.78895e-9
OHM_PER_M = 8.5  # so much that 0.3 ohm matter little
WIDTHS_M = {"stadium 66x6": 0.010, "round d10": 0.020, "deep round d6": 0.010}
PERIMETERS_M = {
    "stadium 66x6": 0.138849556,
    "round d10": math.pi * 0.010,
    "deep round d6": math.pi * 0.006,
}
# 95 % error of the final resistance in per cent, 20 000 coils; computed independently beforehand.
BEFOREHAND = {
    "no reading": (5.0, 5.5, 7.5),
    '"as many turns again" from 50 %': (5.4, 11.7, 39.0),
    "reading at 50 %": (0.83, 1.24, 1.9),
    "readings at 50 and 80 %": (0.66, 0.76, 0.81),
}
WITHIN_95 = 1.96


@dataclass
class World:
    """One true coil and the day's instruments."""

    chance: random.Random
    perimeter_m: float
    width_m: float
    drift: float = 0.0

    def __post_init__(self) -> None:
        self.ohm_per_m = OHM_PER_M * math.exp(self.normal(0.05))
        self.habit_m2 = AREA_M2 * math.exp(self.normal(math.sqrt(0.15**2 - 0.1**2)))
        self.area_m2 = self.habit_m2 * math.exp(self.normal(0.1))
        self.gain = math.exp(self.normal(0.005))

    def normal(self, limit: float) -> float:
        return self.chance.gauss(0.0, limit / WITHIN_95)

    def ohm(self, turns: float, area_m2: float | None = None) -> float:
        """Steiner's length times ohms per metre; a drift adds its share of height turn by turn."""
        per_width_m = (area_m2 or self.area_m2) / self.width_m
        length_m = self.perimeter_m * turns + math.pi * per_width_m * turns**2
        if self.drift:
            cubes = turns**3 / (3 * TURNS) - turns**2 / 3
            length_m += math.pi * per_width_m * self.drift * cubes
        return self.ohm_per_m * length_m

    def shown(self, true_ohm: float) -> float:
        warm = 1 + 0.00393 * self.normal(1.0)
        return true_ohm * self.gain * warm + self.normal(0.3)

    def reading(self, turns: float) -> OhmReading:
        return OhmReading(turns, self.shown(self.ohm(turns)))

    def tail(self) -> SpoolTail:
        true_m = 8.0 + self.normal(0.005)
        stretched = math.exp(self.normal(0.005))
        return SpoolTail(8.0, self.shown(self.ohm_per_m * stretched * true_m))

    def caliper(self, turns: float, wire_m: float) -> BuildCaliper:
        height_m = self.area_m2 / self.width_m * turns * (1 + self.normal(0.03))
        crest_m = wire_m * self.chance.uniform(0.5, 1.5)
        return BuildCaliper(turns, height_m + crest_m + self.normal(50e-6))

    def earlier(self) -> EarlierCoil:
        area_m2 = self.habit_m2 * math.exp(self.normal(0.1))
        return EarlierCoil(TURNS, self.shown(self.ohm(TURNS, area_m2)))


Method = Callable[[Knowledge, World, float], tuple[float, Band | None]]  # turns, promised ohms


def _measured(*kinds: Callable[[World, float], object]) -> Method:
    def method(knowledge: Knowledge, world: World, target: float) -> tuple[float, Band | None]:
        wire_m = knowledge.wound.wire.overall_m
        for kind in kinds:
            knowledge = learn(knowledge, kind(world, wire_m), anyway=True)  # type: ignore[arg-type]
        turns = turns_for(knowledge, target).nominal
        return turns, resistance_band(knowledge, turns)

    return method


def _as_many_again(knowledge: Knowledge, world: World, target: float) -> tuple[float, Band | None]:
    shown = world.shown(world.ohm(TURNS / 2))
    return TURNS / 2 * target / shown, None


def _long_and_off(*kinds: Callable[[World, float], object]) -> Method:
    def method(knowledge: Knowledge, world: World, target: float) -> tuple[float, Band | None]:
        for kind in kinds:
            knowledge = learn(knowledge, kind(world, 0.0), anyway=True)  # type: ignore[arg-type]
        long = turns_to_wind_long(knowledge, target)
        reading = world.reading(long)
        assert reading.ohm is not None
        off = take_off(knowledge, reading.ohm, target, turns=long)
        turns = long - off.turns
        return turns, resistance_band(learn(knowledge, reading, anyway=True), turns)

    return method


def at(share: float) -> Callable[[World, float], OhmReading]:
    return lambda world, _: world.reading(share * TURNS)


def tail(world: World, _: float) -> SpoolTail:
    return world.tail()


def caliper(world: World, wire_m: float) -> BuildCaliper:
    return world.caliper(TURNS / 2, wire_m)


def earlier(world: World, _: float) -> EarlierCoil:
    return world.earlier()


METHODS: dict[str, Method] = {
    "no reading": _measured(),
    '"as many turns again" from 50 %': _as_many_again,
    "reading at 50 %": _measured(at(0.5)),
    "readings at 50 and 80 %": _measured(at(0.5), at(0.8)),
    "spool tail": _measured(tail),
    "caliper at 50 %": _measured(caliper),
    "tail and caliper": _measured(tail, caliper),
    "tail, caliper, reading at 50 %": _measured(tail, caliper, at(0.5)),
    "earlier coil": _measured(earlier),
    "earlier coil, reading at 50 %": _measured(earlier, at(0.5)),
    "wound long, taken off": _long_and_off(),
    "reading at 80 %, long, taken off": _long_and_off(at(0.8)),
}
DRIFTING = "readings at 50 and 80 %"


def coil_of(name: str) -> Coil:
    """The coil of one column, with the bands of the experiment."""
    recipe = Recipe(
        name=name,
        note="invented",
        wire=MeasuredWire(50e-6, 62.5e-6),
        core=CustomCore(PERIMETERS_M[name], PERIMETERS_M[name] ** 2 / (4 * math.pi)),
        width_m=WIDTHS_M[name],
        height_m=0.02,
        target=TurnsTarget(TURNS),
        direction=Direction.CLOCKWISE,
    )
    coil = figure_coil(recipe)
    wire = dataclasses.replace(coil.wire, ohm_per_m=_log_band(OHM_PER_M, 0.05))
    return dataclasses.replace(coil, wire=wire, area_per_turn_m2=_log_band(AREA_M2, 0.15))


def _log_band(nominal: float, share: float) -> Band:
    return Band(nominal, nominal * math.exp(-share), nominal * math.exp(share))


def judge(
    name: str, method: Method, coils: int, drift: float = 0.0, seed: int = SEED
) -> tuple[float, float, float, float | None]:
    """95 % error with its limits, all in per cent, and the share of coils inside the promised band."""
    coil = coil_of(name)
    begun = prior(coil.wound)
    chance = random.Random(f"{seed} {name} {drift}")
    target = resistance_band(begun, TURNS).nominal
    errors, inside, promised = [], 0, 0
    for _ in range(coils):
        drifts = chance.gauss(0.0, drift / WITHIN_95) if drift else 0.0
        world = World(chance, coil.core_perimeter_m, coil.width_m, drifts)
        turns, band = method(begun, world, target)
        true_ohm = world.ohm(turns)
        errors.append(abs(true_ohm / target - 1) * 100)
        if band is not None:
            promised += 1
            inside += band.low <= true_ohm <= band.high
    errors.sort()
    apart = WITHIN_95 * math.sqrt(coils * 0.95 * 0.05)
    places = [coils * 0.95 + off for off in (0.0, -apart, apart)]
    middle, low, high = (errors[min(max(round(p) - 1, 0), coils - 1)] for p in places)
    return middle, low, high, inside / promised if promised else None


def main() -> None:
    parser = argparse.ArgumentParser(description="accuracy of the estimation, by simulated coils")
    parser.add_argument("--coils", type=int, default=20_000)
    coils = parser.parse_args().coils
    print(f"95 % error of the final resistance, per cent; {coils} coils, seed {SEED}")
    print("(limits by sampling); in the band: share of coils; beforehand: independent figure\n")
    print("| way of measuring | " + " | ".join(WIDTHS_M) + " |")
    print("|---|" + "---|" * len(WIDTHS_M))
    worst = 0.0
    rows = [(label, label, 0.0) for label in METHODS]
    rows.append((f"{DRIFTING}, packing drifts +-20 %", DRIFTING, 0.2))
    for label, method, drift in rows:
        cells = []
        for column, name in enumerate(WIDTHS_M):
            error, low, high, inside = judge(name, METHODS[method], coils, drift)
            cell = f"{error:.3g} ({low:.3g}-{high:.3g})"
            if inside is not None:
                cell += f", {inside:.1%} in"
            if label in BEFOREHAND:
                known = BEFOREHAND[label][column]
                cell += f", beforehand {known:g}"
                worst = max(worst, abs(error / known - 1))
            cells.append(cell)
        print(f"| {label} | " + " | ".join(cells) + " |", flush=True)
    print(f"\nfurthest from an independent figure: {worst:.1%} of it")


if __name__ == "__main__":
    main()
