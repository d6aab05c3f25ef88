"""A thousand simulated spools, twenty winds from each, with breaks and turns taken off: is what is left known?

Spools, coils, scales and meters are those of ``simulator.shop``, which shares no formula with the account.
Judged is the wire truly left: whether it lies inside the account's own band, and how far the account's
figure is from it, as a share of what the spool held. ``python -m winder.laboratory.spools`` prints the table of
``docs/matching.md``.
"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Iterator

from firmware_protocol.records import dataclass
from winder.coil.model import Coil
from winder.coil.spool_account import SpoolFacts, SpoolNow, SpoolUse, spool_now, use_of
from winder.laboratory.coverage import binomial_interval
from winder.laboratory.matching import TRIALS, bobbin_of, coil_of_trial, shop_of
from winder.machine.instruments import Instruments
from winder.recipe.observations import OhmReading, SpoolTail
from winder.service.bodies import ohmmeter_of
from winder.simulator.instruments import cut_tail
from winder.simulator.meter import BenchOhmmeter
from winder.simulator.shop import Shop, Winds

SPOOLS, FIRST_SEED, COILS = 1000, 5001, 20  # fixed before; of 200 chance alone moves a share by 3 %
TURNS = 5000
TAIL_M = 20.0  # more than 100 ohm of 42 AWG
HELD_M = 6000.0
WITHIN = 0.01
PACKING_DIFFERENCE = 0.03


@dataclass(frozen=True, slots=True)
class Known:
    """What a shop keeps of its spools: how the length was known, what was read, what was weighed."""

    name: str
    length_share: float | None  # 95 % of the printed length; None: known by weight alone
    read: bool = False  # a tail of 100 ohm, and every coil
    weighed: bool = False  # full and at the end


WAYS = (
    Known("printed length (2 %), nothing measured", 0.02),
    Known("printed length (2 %), tail and every coil read", 0.02, read=True),
    Known("printed length (2 %), weighed full and at the end", 0.02, weighed=True),
    Known("weighed full and at the end, tail and every coil read", None, read=True, weighed=True),
    Known("length within 0.2 %, tail and every coil read", 0.002, read=True),
    Known("length within 0.2 %, weighed full and at the end", 0.002, weighed=True),
)


@dataclass(frozen=True, slots=True)
class Followed:
    """One spool at its end: metres truly left, and what the account says."""

    true_m: float
    held_m: float
    now: SpoolNow

    @property
    def inside(self) -> bool:
        return self.now.left_m.low <= self.true_m <= self.now.left_m.high

    @property
    def off(self) -> float:
        """Share of what the spool held."""
        return (self.now.left_m.nominal - self.true_m) / self.held_m


def follow(coil: Coil, seed: int, way: Known) -> Followed:
    """One spool from full to its twentieth coil."""
    shop = shop_of(coil, seed, PACKING_DIFFERENCE)
    meter = Instruments()
    bench = ohmmeter_of(meter, seed)
    winds = Winds(seed)
    held_m = winds.held_m(HELD_M)
    uses, left_m = [], held_m
    tails: tuple[SpoolTail, ...] = ()
    full_kg = winds.weigh(shop.wire.kg_per_m * held_m)
    if way.read:
        true_m = cut_tail(seed, TAIL_M)
        left_m -= true_m
        shown, celsius = bench.read(shop.wire.ohm_per_m * true_m)
        tails = (SpoolTail(TAIL_M, shown, celsius),)
    for number in range(COILS):
        use, taken_m = _one_wind(coil, shop, winds, number, bench if way.read else None)
        uses.append(use)
        left_m -= taken_m
    facts = SpoolFacts(
        coil.wire,
        length_m=None if way.length_share is None else winds.printed_m(held_m, way.length_share),
        gross_kg=full_kg if way.weighed else None,
        tare_kg=winds.tare_told_kg if way.weighed else 0.0,
        length_share=way.length_share or 0.0,
        tails=tails,
        instruments=meter,
    )
    weighed_kg = winds.weigh(shop.wire.kg_per_m * left_m) if way.weighed else None
    return Followed(left_m, held_m, spool_now(facts, uses, weighed_kg))


def _one_wind(
    coil: Coil, shop: Shop, winds: Winds, number: int, bench: BenchOhmmeter | None
) -> tuple[SpoolUse, float]:
    """As the shop's book has it, and the metres that truly left the spool."""
    made = shop.coil(bobbin_of(coil))
    true, told, doubt, waste_m = winds.path(TURNS)
    reading = None
    if bench is not None:
        bench.next_sitting()
        shown, celsius = bench.read(made.ohm_20c(true[-1]))
        reading = OhmReading(told[-1], shown, celsius)
    use = dataclasses.replace(
        use_of(coil, f"coil {number}", told),
        turns_doubt=doubt,
        waste_m=waste_m,
        reading=reading,
    )
    return use, made.taken_m(true) + winds.wasted_m(waste_m)


def table(spools: int) -> Iterator[str]:
    """Markdown."""
    coil = coil_of_trial(TRIALS[1])
    yield "| known of the spool | inside its band | 95 % interval | band, median | within 1 % of a full spool |"
    yield "|---|---|---|---|---|"
    for way in WAYS:
        followed = [follow(coil, FIRST_SEED + each, way) for each in range(spools)]
        inside = sum(each.inside for each in followed)
        low, high = binomial_interval(inside, spools)
        widths = sorted(
            (each.now.left_m.high - each.now.left_m.low) / 2 / each.held_m for each in followed
        )
        near = sum(abs(each.off) <= WITHIN for each in followed)
        yield (
            f"| {way.name} | {100 * inside / spools:.1f} % | {100 * low:.1f}-{100 * high:.1f} %"
            f" | +-{100 * widths[spools // 2]:.2f} % | {100 * near / spools:.1f} % |"
        )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="simulated spools, followed over twenty winds")
    parser.add_argument("--spools", type=int, default=SPOOLS)
    spools = parser.parse_args().spools
    print(f"{spools} spools, {COILS} winds each, seeds from {FIRST_SEED}\n")
    for line in table(spools):
        print(line)


if __name__ == "__main__":
    main()
