"""Twelve recipes of every core shape and every target: planned, and wound to their exact turns.

The ten in ``recipes/`` are short, so that the same ones are wound on the emulated chip
(``tests/firmware/test_chip_recipes.py``); the two that are shipped are full coils.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from winder.machine.model import SIMULATED_BENCH
from winder.plan.planner import make_plan
from winder.recipe.samples import example_recipes
from winder.workshop.opening import read_coil
from winder.workshop.rehearsal import rehearse, report_of

RECIPES = {
    **{path.stem: path for path in sorted((Path(__file__).parent / "recipes").glob("*.toml"))},
    **{f"example {name}": path for name, path in example_recipes()},
}


def test_every_shape_and_every_target_is_among_them():
    coils = [read_coil(path).recipe for path in RECIPES.values()]
    assert len(RECIPES) >= 12
    assert len({type(recipe.core) for recipe in coils}) == 4
    assert len({type(recipe.target) for recipe in coils}) == 5
    assert len({type(recipe.wire) for recipe in coils}) == 3


@pytest.mark.parametrize("name", RECIPES)
def test_the_plan_ends_on_the_target_and_stays_between_the_flanges(name):
    coil = read_coil(RECIPES[name])
    plan = make_plan(coil, SIMULATED_BENCH)
    ends = [leg.end_counts for leg in plan.legs]
    assert ends == sorted(set(ends))
    assert ends[-1] == plan.target_counts == coil.turns * plan.counts_per_turn
    margin_m, width_m = coil.recipe.margin_m, coil.recipe.width_m
    reach_m = (
        0.0005  # beyond the edge only for the lag of the free length, never past a flange's face
    )
    for leg in plan.legs:
        assert margin_m - reach_m <= leg.left_m <= leg.right_m <= width_m - margin_m + reach_m


@pytest.mark.parametrize("name", RECIPES)
def test_it_is_wound_to_its_exact_turns_with_wire_only_where_it_may_lie(name):
    coil = read_coil(RECIPES[name])
    rehearsed = rehearse(coil, SIMULATED_BENCH, seed=2)
    report = report_of(rehearsed)
    assert report["state"] == "complete"
    assert report["count_is"] == "exact"
    assert int(report["final_turns"]) == coil.turns
    assert 0 <= report["overrun_turns"] <= 0.05
    ohm = report["resistance_ohm_20c"]
    assert ohm["low"] * 0.97 < ohm["wound"] < ohm["high"] * 1.03
