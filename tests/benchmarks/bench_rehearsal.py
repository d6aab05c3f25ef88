"""How long a rehearsal takes: 8,000 turns at 1000 rpm, whole program, at few and many counts a turn.

    python tests/benchmarks/bench_rehearsal.py

Processor seconds of this process, least of five, beside the same figure for plain Python counting as a
measure of the machine (a loop of ten million additions), so that figures of two machines compare.
"""

from __future__ import annotations

import dataclasses
import time

from winder.coil.winding import figure_coil
from winder.machine.model import SIMULATED_BENCH
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget
from winder.service.rehearsal import rehearse, report_of

RUNS = 5
RECIPE = Recipe(
    name="eight thousand turns",
    note="invented",
    wire=AwgWire(44, "single"),
    core=RoundCore(0.010),
    width_m=0.012,
    height_m=0.006,
    target=TurnsTarget(8000),
    direction=Direction.CLOCKWISE,
    speed_rpm=1000.0,
)


def reference_s() -> float:
    began = time.process_time()
    total = 0
    for number in range(10_000_000):
        total += number
    assert total
    return time.process_time() - began


def main() -> None:
    coil = figure_coil(RECIPE)
    print(f"plain counting to ten million: {min(reference_s() for _ in range(3)):.2f} s")
    for counts in (1, 4, 20, 100, 2400):
        machine = dataclasses.replace(SIMULATED_BENCH, counts_per_turn=counts)
        times = []
        for _ in range(RUNS):
            began = time.process_time()
            report = report_of(rehearse(coil, machine, seed=1))
            times.append(time.process_time() - began)
        assert report["state"] == "complete"
        print(
            f"{counts:5d} counts a turn: {min(times):.2f} s for {report['simulated_s']:.0f} s of "
            f"machine time, {report['overrun_turns']:+.4f} turn past the target"
        )


if __name__ == "__main__":
    main()
