"""``--spool NAME``: the spool that a recipe is wound from; the same option of several commands."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from winder.commands.logbook_option import add_logbook_option

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.coil.spool_account import Lasting
    from winder.service.supply import Supplied


def add_spool_option(parser: argparse.ArgumentParser, *, with_logbook: bool = True) -> None:
    """The option, and which logbook knows the spool."""
    parser.add_argument(
        "--spool",
        metavar="NAME",
        help="the spool it is wound from ('winder spool list'): its readings are used, and you are warned if it may run out",
    )
    if with_logbook:
        add_logbook_option(parser)


def supplied_by(arguments: argparse.Namespace, coil: Coil) -> Supplied | None:
    """The coil from the spool named, or from the recipe's. ``UserMistake`` for a spool that is not there."""
    recipe = coil.recipe
    if arguments.spool is None and recipe.spool is None and not recipe.spool_name:
        return None
    from winder.service.supply import supplied
    from winder.shelf import Logbook

    if arguments.spool is None and not recipe.spool_name:
        return supplied(coil, None, None)
    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        return supplied(coil, logbook, arguments.spool)


def supply_lines(given: Supplied | None) -> list[str]:
    """Whether the wire lasts, in words."""
    if given is None:
        return []
    name = "the recipe's" if given.spool is None else given.spool.name
    first, *rest = lasting_lines(given.lasting)
    return [f"spool, {name}: {first}", *rest]


def lasting_lines(lasting: Lasting) -> list[str]:
    """Whether the spool lasts for a wind, and where it would run out."""
    needed, spare = lasting.needed_m, lasting.spare_m
    lines = [
        f"{needed.nominal:.0f} m of wire needed, between {needed.low:.0f} and {needed.high:.0f}"
    ]
    if spare.nominal >= 0:
        told = (
            f"{spare.nominal:.0f} m stay on the spool {_between(spare.low, spare.high, 'missing')}"
        )
    else:
        told = (
            f"{-spare.nominal:.0f} m are missing {_between(-spare.high, -spare.low, 'left over')}"
        )
    lines.append(f"{lasting.lasts.value}: {told}")
    ends = lasting.ends_at_turns
    if ends is not None:
        lines.append(
            f"the wire would end at about turn {ends.nominal:.0f}, between {ends.low:.0f} and"
            f" {ends.high:.0f}"
        )
    return lines


def _between(low: float, high: float, otherwise: str) -> str:
    if low >= 0:
        return f"(between {low:.0f} and {high:.0f})"
    return f"(at most {high:.0f}, or as many as {-low:.0f} {otherwise})"


def supply_facts(given: Supplied | None) -> dict[str, Any] | None:
    """What ``--json`` tells of it; None where no spool was told."""
    if given is None:
        return None
    lasting, ends_at = given.lasting, given.lasting.ends_at_turns
    return {
        "spool": None if given.spool is None else given.spool.name,
        "lasts": lasting.lasts.name.lower(),
        "needed_m": lasting.needed_m.facts(),
        "spare_m": lasting.spare_m.facts(),
        "ends_at_turns": None if ends_at is None else ends_at.facts(),
    }
