"""``--no-bell`` and ``--sound``: what calls the eyes back to the screen; options of ``winder`` alone and of ``wind``."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from winder.errors import UserMistake

if TYPE_CHECKING:
    from winder.screens.calls import Calling


def add_calling_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--no-bell",
        metavar="EVENTS",
        default="",
        help="no call from the screen for these: alarm, trip, wire, stop, pause, last, edge, tick; or all",
    )
    parser.add_argument(
        "--sound",
        metavar="COMMAND",
        help="run this with the name of the call, instead of the terminal's bell",
    )


def calling_of(arguments: argparse.Namespace) -> Calling:
    """``UserMistake`` for an event that there is not, or no command."""
    from winder.screens.calls import TICK, Call, Calling
    from winder.service.sounding import sound_command

    known = {call.value for call in Call} | {TICK}
    off = {word.strip() for word in arguments.no_bell.split(",") if word.strip()}
    off = known if off == {"all"} else off
    strange = sorted(off - known)
    if strange:
        raise UserMistake(
            f"there is no event {strange[0]!r}",
            where="--no-bell",
            remedy=f"name some of: {', '.join(sorted(known))}; or all",
        )
    sound = None if arguments.sound is None else sound_command(arguments.sound)
    return Calling(frozenset(off), sound)
