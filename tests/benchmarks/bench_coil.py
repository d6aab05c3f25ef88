"""How fast the coil model is, beside plain references in the same run. A script, not a test.

Run it from the top of the tree: ``python tests/benchmarks/bench_coil.py``. It prints the least of several
processor times and their ratio to a plain loop, which tells machine from program.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "coil")]

from coil_makers import recipe  # noqa: E402

from winder.coil.core import core_outline  # noqa: E402
from winder.coil.inductance import round_winding_h  # noqa: E402
from winder.coil.neumann import outline_winding_h  # noqa: E402
from winder.coil.section_picture import section_svg  # noqa: E402
from winder.coil.sheet import figure_sheet, sheet_facts  # noqa: E402
from winder.coil.winding import figure_coil, turns_for_resistance  # noqa: E402
from winder.recipe.model import InductanceTarget, ObroundCore  # noqa: E402

STADIUM = core_outline(ObroundCore(0.066, 0.006))


def forget() -> None:
    round_winding_h.cache_clear()
    outline_winding_h.cache_clear()


def least_s(run: Callable[[], object], times: int, repeat: int = 1) -> float:
    spent = []
    for _ in range(times):
        forget()
        begun = time.process_time()
        for _ in range(repeat):
            run()
        spent.append((time.process_time() - begun) / repeat)
    return min(spent)


def plain_loop() -> float:
    """The reference: a hundred thousand additions."""
    total = 0.0
    for number in range(100_000):
        total += number * 0.5
    return total


def whole_sheet() -> None:
    sheet = figure_sheet(figure_coil(recipe()))
    sheet_facts(sheet)
    section_svg(sheet)


def main() -> None:
    coil = figure_coil(recipe())
    reference_s = least_s(plain_loop, 9)
    print(f"reference loop: {1e3 * reference_s:.2f} ms")
    runs = (
        ("turns for a resistance", lambda: turns_for_resistance(coil, 4000.0), 9, 2000, 20e-6),
        ("inductance, round", lambda: round_winding_h(0.005, 0.008, 0.004), 9, 1, 20e-3),
        ("inductance, stadium", lambda: outline_winding_h(STADIUM, 0.008, 0.004), 5, 1, 300e-3),
        ("a whole sheet with its picture", whole_sheet, 5, 1, 150e-3),
        (
            "turns for an inductance, stadium",
            lambda: figure_coil(recipe(target=InductanceTarget(1.0))),
            3,
            1,
            1.0,
        ),
    )
    for name, run, times, repeat, aim_s in runs:
        spent_s = least_s(run, times, repeat)
        print(
            f"{name}: {1e6 * spent_s:.1f} us (aim {1e6 * aim_s:.0f}), {spent_s / reference_s:.4f} of the loop"
        )


if __name__ == "__main__":
    main()
