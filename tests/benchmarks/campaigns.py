"""Winds of a campaign, judge included, per second of one core and of the clock on all cores."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

from tests.benchmarks.lines import Line, core_s
from winder.clock import wall_seconds
from winder.laboratory.faulty import names_of, rehearse_scene, run_faults
from winder.simulator.scene import draw_kind, draw_scene

RUNS, MANY = 60, 240
ASKED = 100.0  # faulty winds a core second
LONGER, ASKED_LONG = 8, 55.0  # times the turns of a scene: some 300


def lines() -> Iterator[Line]:
    faulty = RUNS / core_s(lambda: _campaign("all"))
    clean = RUNS / core_s(lambda: _campaign("clean"))
    long = RUNS / core_s(lambda: _campaign("all", LONGER), 1)
    yield Line("faulty winds", faulty, "a core second", ASKED, "aim")
    yield Line("faulty winds, eight times the turns", long, "a core second", ASKED_LONG, "aim")
    yield Line("clean winds", clean, "a core second", faulty, "faulty ones")
    begun = wall_seconds()
    run_faults(names_of("all"), runs=MANY, seed=1)
    both = MANY / (wall_seconds() - begun)
    yield Line("faulty winds on all cores", both, "a second", faulty, "a core second of one")


def _campaign(asked: str, longer: int = 1) -> None:
    names = names_of(asked)
    for seed in range(1, RUNS + 1):
        scene = draw_scene(draw_kind(names, seed), seed)
        places = {"at_turn": longer * scene.at_turn, "pause_turn": longer * scene.pause_turn}
        rehearse_scene(dataclasses.replace(scene, turns=longer * scene.turns, **places))
