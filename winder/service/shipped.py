"""The example recipes that come with the program."""

from __future__ import annotations

from pathlib import Path

from winder.recipe.samples import example_recipes


def first_example() -> Path:
    """The recipe that ``winder rehearse`` winds when none is named."""
    return example_recipes()[0][1]
