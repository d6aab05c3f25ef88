"""Fourteen recipes of every core shape and every target: planned, and wound to their exact turns.

Two have flanges that taper, outward and inward; they are wound on a bobbin whose flanges do. The eleven
in ``recipes/`` are short, so that the same ones are wound on the emulated chip
(``tests/firmware/test_chip_recipes.py``), which judges by the width at the core; the one beside them is
wider at its rims. The two that are shipped are full coils.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from winder.coil.winding import figure_coil
from winder.machine.model import SIMULATED_BENCH
from winder.plan.planner import make_plan
from winder.recipe.samples import example_recipes
from winder.service.bodies import bobbin_build
from winder.service.given_files import read_coil
from winder.service.rehearsal import rehearse, report_of
from winder.simulator.machine import SimulatedMachine

HERE = Path(__file__).parent
RECIPES = {
    **{path.stem: path for path in sorted((HERE / "recipes").glob("*.toml"))},
    **{f"example {name}": path for name, path in example_recipes()},
}


def test_every_shape_and_every_target_is_among_them():
    coils = [read_coil(path).recipe for path in RECIPES.values()]
    assert len(RECIPES) >= 12
    assert len({type(recipe.core) for recipe in coils}) == 4
    assert len({type(recipe.target) for recipe in coils}) == 5
    assert len({type(recipe.wire) for recipe in coils}) == 3
    leans = [recipe.rim_width_m - recipe.width_m for recipe in coils if recipe.rim_width_m]
    assert min(leans) < 0 < max(leans)
    assert any(recipe.scatter_seed for recipe in coils)


@pytest.mark.parametrize("name", RECIPES)
def test_the_plan_ends_on_the_target_and_stays_between_the_flanges(name):
    coil = read_coil(RECIPES[name])
    plan = make_plan(coil, SIMULATED_BENCH)
    ends = [leg.end_counts for leg in plan.legs]
    assert ends == sorted(set(ends))
    assert ends[-1] == plan.target_counts == coil.turns * plan.counts_per_turn
    margin_m = coil.recipe.margin_m
    width_m = max(
        coil.recipe.width_m, coil.recipe.rim_width_m or 0.0
    )  # places begin where it is widest
    reach_m = (
        0.0005  # beyond the edge only for the lag of the free length, never past a flange's face
    )
    for leg in plan.legs:
        assert margin_m - reach_m <= leg.left_m <= leg.right_m <= width_m - margin_m + reach_m
        assert leg.scatter_seed in (0, coil.recipe.scatter_seed)
    assert plan.legs[-1].scatter_seed == coil.recipe.scatter_seed


def bobbin_of(coil) -> SimulatedMachine:
    """The simulated bench with the recipe's bobbin on it, its flanges as they lean."""
    recipe = coil.recipe
    build = dataclasses.replace(
        bobbin_build(SIMULATED_BENCH, coil, 2),
        rim_width_m=recipe.rim_width_m,
        flange_height_m=recipe.height_m,
        raised_m=recipe.tape_under_m,
    )
    return SimulatedMachine(build, 2)


@pytest.mark.parametrize("name", RECIPES)
def test_it_is_wound_to_its_exact_turns_with_wire_only_where_it_may_lie(name):
    coil = read_coil(RECIPES[name])
    body = bobbin_of(coil)
    rehearsed = rehearse(coil, SIMULATED_BENCH, seed=2, body=body)
    report = report_of(rehearsed)
    assert report["state"] == "complete"
    assert report["count_is"] == "exact"
    assert int(report["final_turns"]) == coil.turns
    assert 0 <= report["overrun_turns"] <= 0.05
    ohm = report["resistance_ohm_20c"]
    assert ohm["low"] * 0.97 < ohm["wound"] < ohm["high"] * 1.03
    # Led in from the rims, the guide is beyond the flange at the core for two turns; else never.
    assert body.lay.led_out_turns <= (
        2 if (coil.recipe.rim_width_m or 0.0) > coil.recipe.width_m else 0
    )
    assert body.lay.spilt_turns == 0


@pytest.mark.parametrize("name", ["round-tapering", "obround-tapering"])
def test_a_plan_that_does_not_see_the_taper_leaves_the_flanges(name):
    """The same bobbin, wound by a plan for straight flanges: the judge is not blind."""
    coil = read_coil(RECIPES[name])
    straight = dataclasses.replace(coil.recipe, rim_width_m=None)
    if name == "obround-tapering":
        straight = dataclasses.replace(straight, margin_m=0.0)
    body = bobbin_of(coil)
    rehearse(figure_coil(straight), SIMULATED_BENCH, seed=2, body=body)
    assert body.lay.led_out_turns > 2
