"""Recipes to begin from: the invented examples that come with the package, and an empty form."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from winder.files.form import template_text, toml_string
from winder.recipe.format import SECTIONS

_OPENING = (
    "A recipe: what to wind. A quantity is a number, one space and a unit, in quotes. Put your own "
    "values in place of these; take the # away from a line to use it. "
    "Look at the result with: winder recipe check FILE"
)


def example_recipes() -> list[tuple[str, Path]]:
    """Name and path of every example in the package, by name. Raises nothing."""
    folder = Path(str(resources.files("winder.recipe") / "examples"))
    return sorted((path.stem, path) for path in folder.glob("*.toml"))


def new_recipe_text(name: str) -> str:
    """A commented recipe for the coil ``name``, valid as it stands, that uses every field once."""
    return template_text(SECTIONS, _OPENING, {"name": toml_string(name, "my coil")})
