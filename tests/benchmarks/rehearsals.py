"""8,000 turns at 1000 rpm: the loop alone at few and many counts a turn, the memory of long winds, late hosts."""

from __future__ import annotations

import dataclasses
import tracemalloc
from collections.abc import Iterator
from functools import partial

from tests.benchmarks.coils import RECIPE
from tests.benchmarks.lines import Line, core_s
from winder.coil.known import coil_of
from winder.machine.model import SIMULATED_BENCH
from winder.recipe.model import TurnsTarget
from winder.service.rehearsal import rehearse, report_of
from winder.simulator.build import Build
from winder.simulator.host_stop import host_stop_overrun

COUNTS = (1, 4, 20, 100, 2400)
REAL_TIME = 1700.0  # times, in the loop: what was asked for


def lines() -> Iterator[Line]:
    for counts in COUNTS:
        spent_s = core_s(partial(_rehearse, counts))
        times = _rehearse(counts)["simulated_s"] / spent_s
        name = f"8000 turns, {counts} counts a turn"
        yield Line(name, times, "times real time", REAL_TIME, "aim")
    plain = core_s(_add_up)
    yield Line("this machine: ten million additions in plain Python", plain, "s", 1.0, "a second")
    _rehearse(20, 100)  # what is kept once for all
    short, long = _peak_kb(1000), _peak_kb(8000)
    yield Line("memory at most, 8000 turns", long, "kB", short, "1000 turns")
    own = _rehearse(20)["overrun_turns"]
    for late_ms in (20, 50, 100):
        worst = max(host_stop_overrun(Build(), 1000.0, late_ms / 1e3, seed) for seed in range(50))
        yield Line(
            f"overrun, the board stops; a host {late_ms} ms late",
            own,
            "turns",
            worst,
            "that host, worst of 50",
        )


def _add_up() -> None:
    total = 0
    for number in range(10_000_000):
        total += number
    assert total


def _rehearse(counts: int, turns: int = 8000) -> dict[str, float]:
    machine = dataclasses.replace(SIMULATED_BENCH, counts_per_turn=counts)
    coil = coil_of(dataclasses.replace(RECIPE, target=TurnsTarget(turns)), machine)
    report = report_of(rehearse(coil, machine, seed=1))
    assert report["state"] == "complete", report
    return report


def _peak_kb(turns: int) -> float:
    tracemalloc.start()
    _rehearse(20, turns)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e3
