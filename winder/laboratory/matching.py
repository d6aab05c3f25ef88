"""A simulated shop that winds pairs, and four ways to make the second coil match the first.

Every pair has a spool, a bench's packing, two bobbins and an ohmmeter of its own, by seed (``simulator.shop``,
which shares no formula with the coil model). Judged is what the two coils truly have: turns-area, by which
they cancel hum, and ohms at 20 C.

    count only                as many turns as the first, and nothing else
    as many turns again       half the turns, a reading, then by proportion to the first coil's ohms
    until the ohms are equal  wound until the meter shows the first coil's ohms, whatever the count
    our advice                as many turns as the first; both read in one sitting; turns taken off as advised

``python -m winder.laboratory.matching`` prints the table of ``docs/matching.md``.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from firmware_protocol.records import dataclass
from winder.coil.core import core_area_m2, core_perimeter_m
from winder.coil.model import Coil
from winder.coil.winding import TURN_DENSITY, figure_coil
from winder.machine.instruments import Instruments
from winder.pair.finished import SITTING_KELVIN, finished_coil
from winder.pair.likeness import advice, compare
from winder.recipe.model import (
    AwgWire,
    Core,
    Direction,
    ObroundCore,
    Recipe,
    RoundCore,
    TurnsTarget,
)
from winder.service.bodies import ohmmeter_of
from winder.simulator.meter import BenchOhmmeter
from winder.simulator.shop import Bobbin, Shop, ShopCoil, Spread, warmed

PAIRS, FIRST_SEED = 500, 2001  # of each bobbin; the advice was shaped on seeds 1 to 1500
AREA_WITHIN, OHM_WITHIN = 0.005, 0.01
COUNT, AGAIN, ADVICE = "count only", "as many turns again", "our advice"
EQUAL = "until the ohms are equal"
METERS = {
    "good meter, 1 K": Instruments(6000, 0.005, 2.0, 0.2, 1.0),
    "hand meter 0.8 %, 2 K": Instruments(),
}
PACKINGS = {"two coils pack alike within 3 %": 0.03, "within 10 %": 0.10}


@dataclass(frozen=True, slots=True)
class Trial:
    """What a pair is wound on."""

    name: str
    core: Core
    width_m: float
    turns: int


TRIALS = (
    Trial("round 7 mm, 9 mm wide, 10000 turns", RoundCore(0.007), 0.009, 10_000),
    Trial("round 10 mm, 20 mm wide, 8000 turns", RoundCore(0.010), 0.020, 8_000),
    Trial("obround 62 x 6 mm, 10 mm wide, 8000 turns", ObroundCore(0.062, 0.006), 0.010, 8_000),
)


@dataclass(frozen=True, slots=True)
class Matched:
    """One pair made in one way: second coil against first, or first against second, as shares."""

    area: float
    ohm: float

    @property
    def good(self) -> tuple[bool, bool]:
        return abs(self.area) <= AREA_WITHIN, abs(self.ohm) <= OHM_WITHIN


def coil_of_trial(trial: Trial) -> Coil:
    """As figured from tables and practice alone: wire of 42 AWG, single film."""
    recipe = Recipe(
        name=trial.name,
        note="invented, for the laboratory",
        wire=AwgWire(42, "single"),
        core=trial.core,
        width_m=trial.width_m,
        height_m=0.02,
        target=TurnsTarget(trial.turns),
        direction=Direction.CLOCKWISE,
    )
    return figure_coil(recipe)


def shop_of(coil: Coil, seed: int, difference: float) -> Shop:
    """One bench; two of its coils pack alike within ``difference`` (95 %)."""
    spread = Spread(wind=difference / 2**0.5)
    return Shop(seed, coil.wire.bare_m, coil.wire.overall_m, TURN_DENSITY, spread)


def bobbin_of(coil: Coil) -> Bobbin:
    core = coil.recipe.core
    return Bobbin(core_perimeter_m(core), core_area_m2(core), coil.width_m)


def make_pair(
    trial: Trial, coil: Coil, seed: int, meter: Instruments, difference: float
) -> dict[str, Matched]:
    """The same first coil and the same second chance, finished in each way."""
    shop = shop_of(coil, seed, difference)
    one, other = (shop.coil(bobbin_of(coil)) for _ in range(2))
    bench = ohmmeter_of(meter, seed)
    turns = trial.turns
    first_ohm, celsius = bench.read(one.ohm_20c(turns))
    again = _again(other, bench, first_ohm, turns)
    second = warmed(other.ohm_20c(turns), seed, SITTING_KELVIN)
    second_ohm, _ = bench.read(second)  # one sitting: the thermometer is read once
    equal = other.turns_of_ohm(other.ohm_20c(turns) * first_ohm / second_ohm)
    likeness = compare(
        finished_coil(
            "one", coil, turns, ohm=first_ohm, temperature_c=celsius, instruments=meter, spool="s"
        ),
        finished_coil(
            "two", coil, turns, ohm=second_ohm, temperature_c=celsius, instruments=meter, spool="s"
        ),
        one_sitting=True,
    )
    off = advice(likeness)
    left = [turns, turns]
    if off is not None:
        left[off.coil] -= off.whole
    return {
        COUNT: _matched(one, other, turns, turns),
        AGAIN: _matched(one, other, turns, again),
        EQUAL: _matched(one, other, turns, equal),
        ADVICE: _matched(one, other, left[0], left[1]),
    }


def _again(coil: ShopCoil, bench: BenchOhmmeter, wanted_ohm: float, turns: int) -> int:
    """Half the turns, a reading in the same sitting, and the rest by proportion."""
    half = turns // 2
    return round(half * wanted_ohm / bench.read(coil.ohm_20c(half))[0])


def _matched(one: ShopCoil, other: ShopCoil, turns: int, other_turns: int) -> Matched:
    return Matched(
        other.turns_area_m2(other_turns) / one.turns_area_m2(turns) - 1,
        other.ohm_20c(other_turns) / one.ohm_20c(turns) - 1,
    )


def shares(pairs: list[dict[str, Matched]], way: str) -> tuple[float, float]:
    """Of these pairs, which share is within the limits: turns-area, ohms."""
    good = [pair[way].good for pair in pairs]
    area, ohm = (sum(each[which] for each in good) / len(good) for which in (0, 1))
    return area, ohm


def overshoot(pairs: list[dict[str, Matched]]) -> float:
    """By how much of the first coil's ohms going on by proportion misses, in the middle of all pairs."""
    return sorted(pair[AGAIN].ohm for pair in pairs)[len(pairs) // 2]


def table(pairs: int) -> Iterator[str]:
    """Markdown, one block for each meter and each bench."""
    seeds = range(FIRST_SEED, FIRST_SEED + pairs)
    coils = [(trial, coil_of_trial(trial)) for trial in TRIALS]
    for packing, difference in PACKINGS.items():
        for name, meter in METERS.items():
            yield f"| {name}; {packing} | {' | '.join(trial.name for trial in TRIALS)} |"
            yield "|---" * (len(TRIALS) + 1) + "|"
            made = [
                [make_pair(trial, coil, seed, meter, difference) for seed in seeds]
                for trial, coil in coils
            ]
            for way in (COUNT, AGAIN, EQUAL, ADVICE):
                cells = [shares(each, way) for each in made]
                words = " | ".join(f"{100 * a:.1f} / {100 * r:.1f} %" for a, r in cells)
                yield f"| {way} | {words} |"
            yield ""
    misses = ", ".join(f"{100 * overshoot(each):+.1f} %" for each in made)
    yield f"{AGAIN}: ohms against the first coil's, median of the last block: {misses}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="simulated pairs, matched in four ways")
    parser.add_argument("--pairs", type=int, default=PAIRS, help="of each bobbin")
    pairs = parser.parse_args().pairs
    print(
        f"{pairs} pairs of each bobbin, seeds from {FIRST_SEED}: share within {100 * AREA_WITHIN:g} % of"
        f" turns-area / within {100 * OHM_WITHIN:g} % of ohms\n"
    )
    for line in table(pairs):
        print(line)


if __name__ == "__main__":
    main()
