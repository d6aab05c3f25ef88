"""The last turn is as long as the outline around the finished winding (Steiner: P0 + 2 pi h)."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from winder.coil.steiner import wound_length_m
from winder.coil.winding import figure_coil
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget
from winder.recipe.reader import read_recipe

RECIPES = sorted((Path(__file__).parents[1] / "winds" / "recipes").glob("*.toml"))


def test_on_a_round_core_it_is_the_circle_of_the_finished_diameter():
    recipe = Recipe(
        "test", "invented", AwgWire(42, "single"), RoundCore(0.010), 0.008, 0.004,
        TurnsTarget(4000), Direction.CLOCKWISE,
    )  # fmt: skip
    coil = figure_coil(recipe)
    assert coil.outer_turn_m == pytest.approx(math.pi * (0.010 + 2 * coil.build_m), rel=1e-12)


@pytest.mark.parametrize("path", RECIPES, ids=lambda path: path.stem)
def test_it_is_the_wire_that_one_turn_more_takes(path):
    """The derivative of the length, taken by differences of the whole coil's wire."""
    coil = figure_coil(read_recipe(path))
    per_width_m = coil.build_m / coil.turns

    def length_m(turns: int) -> float:
        return wound_length_m(coil.core_perimeter_m, per_width_m, turns)

    one_turn_m = (length_m(coil.turns + 1) - length_m(coil.turns - 1)) / 2
    assert coil.outer_turn_m == pytest.approx(one_turn_m, rel=1e-9)
