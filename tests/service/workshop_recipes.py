"""Small coils for the workshop's tests; invented."""

from __future__ import annotations

from winder.coil.model import Coil
from winder.coil.winding import figure_coil
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget


def short_recipe(turns: int, pauses: tuple[int, ...] = ()) -> Coil:
    """A round sensor coil of a few turns, wound in seconds of machine time."""
    return figure_coil(
        Recipe(
            name="test coil",
            note="invented",
            wire=AwgWire(42, "single"),
            core=RoundCore(0.010),
            width_m=0.008,
            height_m=0.004,
            target=TurnsTarget(turns),
            direction=Direction.CLOCKWISE,
            pause_at_turns=pauses,
        )
    )


RECIPE_TEXT = """\
name = "test coil"
note = "Invented, for the tests."

[wire]
gauge = "42 AWG"
film = "single"

[bobbin]
shape = "round"
diameter = "10 mm"
width = "8 mm"
flange_height = "8 mm"

[target]
turns = {turns}

[winding]
direction = "clockwise"
"""
