"""Recipes to begin from: the invented examples that come with the package, and two empty forms.

The short one has the twelve lines that matter for nearly every coil; the full one has every field there is.
"""

from __future__ import annotations

from pathlib import Path

from winder.files.form import template_text, toml_string
from winder.recipe.format import SECTIONS

_OPENING = (
    "A recipe: what to wind. A quantity is a number, one space and a unit, in quotes. Put your own "
    "values in place of these; take the # away from a line to use it. "
    "Look at the result with: winder recipe check FILE"
)
_SHORT_OPENING = """\
# A recipe: what to wind. Put your own values in place of these, with a space before the unit.
# Look at the result with: winder recipe check FILE. All there is: winder recipe new --full FILE
"""
# The lines that matter, each with what to put there.
SHORT = {
    "name": "what you call this coil",
    "wire.gauge": "on the spool's label",
    "wire.film": "the enamel: single or heavy",
    "bobbin.shape": "of the core: obround, round, rounded rectangle",
    "bobbin.length": "the core where the wire lies; a round one has diameter instead",
    "bobbin.thickness": "the core the other way",
    "bobbin.width": "between the flanges, at the core",
    "bobbin.flange_height": "from the core to the rim",
    "bobbin.margin": "left free of wire at each flange",
    "target.turns": 'or instead: resistance = "1.2 kohm"',
    "winding.direction": "from start to finish, seen from the top; or counter-clockwise",
    "winding.speed": "at most",
}


def example_recipes() -> list[tuple[str, Path]]:
    """Name and path of every example in the package, by name. Raises nothing."""
    folder = Path(__file__).with_name("examples")
    return sorted((path.stem, path) for path in folder.glob("*.toml"))


def new_recipe_text(name: str) -> str:
    """A commented recipe for the coil ``name``, valid as it stands, that uses every field once."""
    return template_text(SECTIONS, _OPENING, {"name": toml_string(name, "my coil")})


def short_recipe_text(name: str) -> str:
    """A recipe for the coil ``name``, valid as it stands, with only the lines of ``SHORT``."""
    # A first coil is wound at a speed that every wire of this kind bears.
    values = {"name": toml_string(name, "my coil"), "winding.speed": '"500 rpm"'}
    parts = [_SHORT_OPENING]
    for section in SECTIONS:
        fields = [field for field in section.fields if field.path in SHORT]
        if not fields:
            continue
        lines = [f"[{section.name}]"] if section.name else []
        for field in fields:
            value = values.get(field.path, field.example)
            lines.append(f"{f'{field.key} = {value}':<28}  # {SHORT[field.path]}")
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)
