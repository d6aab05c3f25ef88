"""``--known READING``: what was measured, given beside the recipe; the same option of several commands."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from winder.errors import UserMistake

if TYPE_CHECKING:
    from winder.recipe.observations import Observation


def add_known_option(parser: argparse.ArgumentParser, more: str = "") -> None:
    """The option, with what else this command makes of it."""
    parser.add_argument(
        "--known",
        metavar="READING",
        action="append",
        default=[],
        help="something measured, as in 'tail, 20 m, 107.8 ohm, 22 C', added to the recipe's readings"
        f"{more}; may be given several times",
    )


def readings_of(arguments: argparse.Namespace) -> tuple[Observation, ...]:
    """The readings given, all of them made. ``UserMistake`` for one that is none or has no value."""
    from winder.recipe.observations import is_made
    from winder.recipe.readings import read_reading

    readings = tuple(read_reading(text) for text in arguments.known)
    for text, reading in zip(arguments.known, readings, strict=True):
        if not is_made(reading):
            raise UserMistake(
                f"'{text[:60]}' has no measured value",
                where="--known",
                remedy="add the value; winder sheet --known shows what measuring it would gain",
            )
    return readings
