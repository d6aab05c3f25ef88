"""The shipped recipes, wound on the emulated RP2040 by the program's own session, turn for turn.

    python -m tests.campaigns.rp2040_recipes [--turns N]

The three go over USB, and one of them once more over the serial line. A line holds if
the edges that the sensor's pins showed are what the host says and what the recipe asks for, nothing turns, and the guide
stands where that count leads it. ``--turns``: only so many of each, with a pause half way. Exit code 1 if one does not hold.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "firmware")]

from emulator.rp2040_board import UART, USB  # noqa: E402
from emulator.rp2040_recipes import Wound, shortened, wound  # noqa: E402
from emulator.rp2040_tools import missing_tools  # noqa: E402

from winder.service.given_files import read_coil  # noqa: E402

SHIPPED = TESTS.parent / "winder" / "recipe" / "examples"
WINDS = (
    (SHIPPED / "kalimba.toml", USB),
    (SHIPPED / "sensor.toml", USB),
    (SHIPPED / "practice.toml", USB),
    (SHIPPED / "sensor.toml", UART),
)
LEAST_TURNS = 500  # of the recipes above
HEADS = (
    *("recipe", "line", "turns", "asked", "passed the sensor", "told", "guide um", "due um"),
    *("steps", "chip s", "holds"),
)


def line_of(name: str, over: str, one: Wound) -> str:
    counts = (f"{one.turns:g}", one.target, one.true, one.told)
    guide = (f"{one.guide_um:.1f}", f"{one.due_um:.1f}", one.steps)
    cells = (name, over, *counts, *guide, f"{one.chip_s:.0f}", "yes" if one.holds else "NO")
    return "| " + " | ".join(map(str, cells)) + " |"


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.rp2040_recipes")
    parser.add_argument("--turns", type=int, default=0, help="only so many turns of each")
    asked = parser.parse_args(words)
    if asked.turns and not 2 <= asked.turns <= LEAST_TURNS:
        parser.error(f"--turns takes 2 to {LEAST_TURNS}")
    if missing := missing_tools():
        print(f"not run: {missing} missing")
        return 1
    began_s, failed = time.perf_counter(), 0
    print("| " + " | ".join(HEADS) + " |\n" + "|---" * len(HEADS) + "|")
    for path, over in WINDS:
        coil = read_coil(path)
        one = wound(shortened(coil, asked.turns) if asked.turns else coil, over)
        failed += not one.holds
        print(line_of(path.stem, over, one), flush=True)
    print(f"\n{len(WINDS) - failed} of {len(WINDS)} hold; {time.perf_counter() - began_s:.0f} s")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
