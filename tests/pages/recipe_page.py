"""The reference page of the recipe file, written from its fields and its examples.

``python -m tests.pages.recipe_page`` writes it, ``--check`` compares.
"""

from __future__ import annotations

import sys

from tests.pages.reference_page import DOCS, main
from winder.files.dimensions import (
    ACCELERATION,
    AREA,
    CAPACITANCE,
    FLUX_DENSITY,
    INDUCTANCE,
    LENGTH,
    MASS,
    RESISTANCE,
    RESISTANCE_PER_LENGTH,
    SPEED,
    TEMPERATURE,
    TIME,
)
from winder.files.form import tables_text
from winder.recipe.format import SECTIONS
from winder.recipe.samples import example_recipes

PAGE = DOCS / "recipe.md"

_OPENING = """\
# The recipe file

Written from the code by `python -m tests.pages.recipe_page`; change it there.

A recipe says what to wind: which wire, on which bobbin, how much of it and which way round. It is a
TOML file in UTF-8. `winder recipe new --full FILE` writes one with every key in it, and
`winder recipe check FILE` tells everything that is wrong with one: each complaint names the line,
the field, what is wrong and what to write instead. A key that is not in these tables is refused.

"""

_QUANTITIES = """\
## Quantities

A quantity is a decimal number, **one** space and a unit, in quotes: `"9.5 mm"`. Only these units are
known:

{units}

Refused, with what to write instead: a decimal comma, a missing space or unit, a number without quotes
where a unit is needed, exponents, `nan` and `inf`. A comma is never read as anything, because "9,5 mm"
taken for 95 mm is a bobbin ten times too long. A wire gauge, `"42 AWG"`, is a kind of its own: it is
not a length and no length is one.
"""


def _units_text() -> str:
    electric = [RESISTANCE, RESISTANCE_PER_LENGTH, INDUCTANCE, CAPACITANCE, FLUX_DENSITY]
    kinds = [LENGTH, AREA, MASS, *electric, TEMPERATURE, SPEED, ACCELERATION, TIME]
    return "\n".join(
        f"- {kind.name}: " + ", ".join(f"`{unit}`" for unit in kind.units) for kind in kinds
    )


def page_text() -> str:
    """The whole page in Markdown."""
    parts = [_OPENING, tables_text(SECTIONS), "\n", _QUANTITIES.format(units=_units_text())]
    for name, path in example_recipes():
        text = path.read_text(encoding="utf-8")
        parts.append(f"\n## Example: {name}\n\n```toml\n{text}```\n")
    return "".join(parts)


if __name__ == "__main__":
    sys.exit(main(PAGE, page_text()))
