"""A recipe may ask for scattered lay: every plan of it has that, by its number, unless told otherwise."""

from __future__ import annotations

import json

import pytest
from plan_makers import coil, machine

from winder.commands.main import main
from winder.plan.planner import make_plan
from winder.recipe.reader import read_recipe_text
from winder.recipe.samples import example_recipes


def seeds(plan) -> set[int]:
    return {leg.scatter_seed for leg in plan.legs}


def test_a_recipe_is_read_with_its_scatter_and_without_it_the_lay_is_even():
    text = dict(example_recipes())["sensor"].read_text()
    assert read_recipe_text(text, "my.toml").scatter_seed == 0
    assert read_recipe_text(text + "scatter = 65535\n", "my.toml").scatter_seed == 65535


def test_every_leg_is_scattered_by_the_recipes_number_whatever_the_seed_of_the_run():
    scattered = coil(5000, scatter_seed=77)
    assert seeds(make_plan(scattered, machine())) == {77}
    assert make_plan(scattered, machine(), seed=5) == make_plan(scattered, machine())
    assert seeds(make_plan(coil(5000), machine(), seed=5)) == {0}


def test_the_caller_has_the_last_word():
    scattered = coil(5000, scatter_seed=77)
    assert seeds(make_plan(scattered, machine(), scatter=False)) == {0}
    assert seeds(make_plan(scattered, machine(), scatter=True, seed=5)) == {5}


@pytest.mark.parametrize(
    ("words", "seed"),
    [
        ([], 7),
        (["--seed", "9"], 9),
        (["--scatter"], 7),
        (["--scatter", "--seed", "9"], 9),
        (["--even"], 0),
    ],
)
def test_winder_plan_takes_it_from_the_recipe_and_options_override(words, seed, capsys, tmp_path):
    file = tmp_path / "scattered.toml"
    file.write_text(dict(example_recipes())["sensor"].read_text() + "scatter = 7\n")
    assert main(["plan", str(file), "--json", *words]) == 0
    legs = json.loads(capsys.readouterr().out)["legs"]
    assert {leg["scatter_seed"] for leg in legs} == {seed}
    assert main(["plan", str(file), *words]) == 0
    assert ("scattered by seed" in capsys.readouterr().out) == (seed > 0)
