"""``--mate COIL --by ...`` and ``--like COIL``: the next coil follows one of the shelf; options of ``plan`` and ``wind``."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from winder.errors import UserMistake

if TYPE_CHECKING:
    from winder.service.again import Again


def add_again_options(parser: argparse.ArgumentParser) -> None:
    """RECIPE, which they may stand for, and the options."""
    parser.add_argument(
        "recipe",
        metavar="RECIPE",
        nargs="?",
        help="recipe file; may be left out with --mate, --like",
    )
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--mate", metavar="COIL", help="a mate for this coil of the shelf")
    which.add_argument("--like", metavar="COIL", help="the same again as this coil of the shelf")
    parser.add_argument(
        "--by", choices=("turns", "resistance", "hum"), help="with --mate: what to match"
    )
    parser.add_argument(
        "--mirrored", action="store_true", help="with --mate: wound the other way round"
    )


def again_of(arguments: argparse.Namespace) -> Again | None:
    """What is asked for; None: RECIPE alone. ``UserMistake`` where it does not go together."""
    mate, like = arguments.mate, arguments.like
    if mate is None and (arguments.by is not None or arguments.mirrored):
        raise UserMistake(
            "which coil is it a mate for?", where="--by, --mirrored", remedy="add --mate COIL"
        )
    if mate is not None:
        if arguments.by is None:
            raise UserMistake(
                "a mate can match the first coil in turns, in ohms or in hum",
                where="--mate",
                remedy="add --by turns, --by resistance or --by hum",
            )
        from winder.pair.likeness import By
        from winder.service.again import Again

        return Again(mate, By(arguments.by), arguments.mirrored)
    if like is not None:
        if arguments.recipe is not None:
            raise UserMistake(
                "'the same again' uses the recipe of the first coil",
                where=arguments.recipe,
                remedy="leave the recipe out, or leave --like out",
            )
        from winder.service.again import Again

        return Again(like)
    others = ("goes_on", "count")
    if arguments.recipe is None and all(getattr(arguments, name, None) is None for name in others):
        raise UserMistake(
            "what should be wound?",
            where="RECIPE",
            remedy="name a recipe file, or a coil with --mate COIL, --like COIL or --continue COIL",
        )
    return None
