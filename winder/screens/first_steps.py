"""Keys of the start screen for somebody who has no coil yet: try it, then write down one of their own.

``t`` rehearses the recipe that is chosen, ``f`` opens the form for a new one, ``e`` the form with the chosen
one. A recipe that came with the program is never changed: its form begins a copy.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from textual.screen import Screen

from winder.errors import WinderError
from winder.recipe.samples import example_recipes
from winder.screens.bench import RecipeEntry, Workbench
from winder.screens.recipe_form import RecipeForm
from winder.screens.rehearsing import Rehearsing
from winder.service.drafting import read_draft

STEP_KEYS = "t try it: rehearse  f new recipe  e change recipe  m teach  ? help  Ctrl+P all"
SHORT_STEP_KEYS = "t try  f new recipe  e change  m teach  ? help  Ctrl+P all"
# What each key does, for the list of commands.
STEPS = {
    "t": "try it: rehearse the chosen recipe",
    "f": "new recipe, by the form",
    "e": "change the chosen recipe",
}


def take_step(
    screen: Screen[Any],
    workbench: Workbench,
    key: str,
    chosen: RecipeEntry | None,
    saved: Callable[[str | None], None],
) -> bool:
    """Whether the key was one of these; ``saved`` gets the path of a recipe that was written, or None.

    Raises ``WinderError`` where the recipe or the machine cannot be read.
    """
    if key not in STEPS:
        return False
    machine = workbench.machine()
    if key == "f":
        screen.app.push_screen(RecipeForm(None, Path.cwd(), machine), saved)
    elif chosen is None:
        raise WinderError("there is no recipe here", where="recipe", remedy="press f for a new one")
    elif key == "t":
        screen.app.push_screen(Rehearsing(chosen.path, machine))
    else:
        screen.app.push_screen(_form_of(Path(chosen.path), machine), saved)
    return True


def _form_of(path: Path, machine: Any) -> RecipeForm:
    if path in [example for _, example in example_recipes()]:
        return RecipeForm(None, Path.cwd(), machine, read_draft(path))
    return RecipeForm(path, path.parent, machine)
