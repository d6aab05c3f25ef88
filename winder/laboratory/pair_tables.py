"""The tables of ``docs/pairs.md``, as the program figures them: ``python -m winder.laboratory.pair_tables``."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from winder.coil.core import Outline, Section
from winder.coil.inductance import winding_h
from winder.coil.mutual import beside_per_turns_h, stacked_per_turns_h
from winder.coil.outside_field import Source, beside_share, stacked_share
from winder.coil.turns_area import growth, packing_slopes
from winder.laboratory.matching import TRIALS, coil_of_trial
from winder.pair.hum_left import decibel
from winder.pair.mounting import Iron, Stacked
from winder.pair.signal import far_share
from winder.pair.signs import Mounted, Placed, Pole
from winder.recipe.model import Direction

ROUND = Section(Outline(0, 0, 0.0035), 0.009, 0.006)
SECTIONS = {
    "round, 7 mm hub, 19 mm outside, 9 mm wide": ROUND,
    "round, 10 mm hub, 18 mm outside, 8 mm wide": Section(Outline(0, 0, 0.005), 0.008, 0.004),
    "obround 62 x 6 mm, 4 mm build, 10 mm wide": Section(Outline(0.056, 0, 0.003), 0.010, 0.004),
}
GAPS_M, APARTS_M = (0.001, 0.002, 0.003, 0.005), (0.020, 0.022, 0.025, 0.030)
DISTANCES_M = (0.1, 0.2, 0.5, 1.0, 2.0)
LESS = (0.001, 0.0025, 0.005, 0.01, 0.02, 0.05)


def tables() -> Iterator[str]:
    """Blocks of Markdown, one after the other."""
    for block in (places(), mismatch(), sources(), couplings(), signals()):
        yield "\n".join(block)


def places() -> Iterator[str]:
    yield "| wound | top | pole at the string | h | s | V_FS, field to the string grows | string moves away | string comes near |"
    yield "|---|---|---|---|---|---|---|---|"
    for each in itertools.product(reversed(Direction), Mounted, Pole):
        placed = Placed(*each)
        h, s = placed.hum_sign, placed.signal_sign
        top = "to the string" if placed.mounted is Mounted.TOP_TO_STRING else "away"
        cells = [placed.direction.value, top, placed.pole.value, f"{h:+d}", f"{s:+d}"]
        yield f"| {' | '.join([*cells, *(_sign(each) for each in (-h, s, -s))])} |"


def mismatch() -> Iterator[str]:
    yield f"| turns missing | {' | '.join(trial.name for trial in TRIALS)} |"
    yield "|---" * (len(TRIALS) + 1) + "|"
    coils = [(coil_of_trial(trial), trial.turns) for trial in TRIALS]
    for less in LESS:
        left = []
        for coil, turns in coils:
            ground, area_m2 = coil.ground, coil.area_per_turn_m2.nominal
            part = ground.turns_area_m2(turns * (1 - less), area_m2)
            left.append(f"{decibel(1 - part / ground.turns_area_m2(turns, area_m2)):.1f} dB")
        yield f"| {100 * less:g} % | {' | '.join(left)} |"
    weights = []
    for coil, turns in coils:
        ground, area_m2 = coil.ground, coil.area_per_turn_m2.nominal
        wire, area = packing_slopes(ground, turns, area_m2)
        weights.append(f"{growth(ground, turns, area_m2):.2f}; {area:.2f}; {area / wire:.1f}")
    yield f"| turns-area for 1 % of turns; of packing; of ohms at equal turns | {' | '.join(weights)} |"


def sources() -> Iterator[str]:
    yield "| from the pair's middle | wire, side by side 22 mm | transformer, side by side 22 mm | transformer, stack |"
    yield "|---|---|---|---|"
    both = (ROUND, ROUND)
    for distance_m in DISTANCES_M:
        shares = (
            beside_share(both, 0.022, distance_m, Source.WIRE),
            beside_share(both, 0.022, distance_m),
            stacked_share(both, 0.002, distance_m),
        )
        yield f"| {distance_m:g} m | {' | '.join(f'{decibel(share):.1f} dB' for share in shares)} |"


def couplings() -> Iterator[str]:
    gaps = " | ".join(f"stacked, gap {1e3 * gap:g} mm" for gap in GAPS_M)
    aparts = " | ".join(f"beside, {1e3 * apart:g} mm" for apart in APARTS_M)
    yield f"| windings | {gaps} | {aparts} |"
    yield "|---" * (1 + len(GAPS_M) + len(APARTS_M)) + "|"
    for name, section in SECTIONS.items():
        own = winding_h(section.outline, section.width_m, section.height_m)
        ks = [stacked_per_turns_h(section, section, gap) / own for gap in GAPS_M]
        ks += [beside_per_turns_h(section, section, apart) / own for apart in APARTS_M]
        yield f"| {name} | {' | '.join(f'{k:.3f}' for k in ks)} |"


def signals() -> Iterator[str]:
    gaps = " | ".join(f"r at {1e3 * gap:g} mm" for gap in GAPS_M)
    yield f"| iron | {gaps} | quiet stack at 2 mm | humming stack at 2 mm |"
    yield "|---" * (3 + len(GAPS_M)) + "|"
    for iron in Iron:
        shares = [far_share(Stacked(gap), iron) for gap in GAPS_M]
        cells = [f"{share.low:.2g}-{share.high:.2g}" for share in shares]
        two = shares[1]
        quiet = [20 * math.log10(1 - r) for r in (two.high, two.low)]
        loud = [20 * math.log10(1 + r) for r in (two.low, two.high)]
        cells += [f"{low:.1f} to {high:.1f} dB" for low, high in (quiet, loud)]
        yield f"| {iron.value} | {' | '.join(cells)} |"


def _sign(value: int) -> str:
    return "+" if value > 0 else "-"


def main() -> None:
    """Print them."""
    for block in tables():
        print(block + "\n")


if __name__ == "__main__":
    main()
