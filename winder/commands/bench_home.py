"""``winder bench home``: the guide finds its limit switch, and stands where the left flange is."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake

_HOME = """\
Send the guide to the limit switch at its left end, and from there to where the
left flange of your bobbins is. Its place is known then. Do it before you set a
wind up, or after a trip or a reset that lost the place.

The board must have the switch (an RP2040 has a pin for it): say so when you teach
it. The guide goes left until the switch opens, stops at once, and comes off it
slowly. The board stops it with a trip if the switch does not open, does not stay
open, or never closes again. To clear such a trip, add --clear."""

_CAUTION = """\
The guide moves by itself, fast. Keep fingers, hair and wire out of its way, and have
the switch that cuts the motor's power within reach. A key on this computer is not
an emergency stop."""

_EXAMPLES = """\
examples:
  winder bench home --port /dev/serial/by-id/... --flange 12.5
  winder bench home --port /dev/ttyACM0 --flange 12.5 --speed 20 --yes
  winder bench home --port sim --machine bench.toml --flange 5

exit codes: 0 its place is known, 1 the board or the switch will not, 2 something
to correct in the command"""

SPEED_MM_S, SPEED_MM_S_MOST = 10.0, 500.0


def add_verb(verbs: Any) -> None:
    """Add ``home`` to the verbs of ``winder bench``."""
    home = verb_parser(verbs, "home", "send the guide to its limit switch", _HOME, _EXAMPLES)
    home.add_argument("--port", required=True, help="the port of the board, or 'sim'")
    home.add_argument("--machine", metavar="FILE", help="with --port sim: the machine to simulate")
    home.add_argument(
        "--flange",
        metavar="MM",
        type=float,
        default=0.0,
        help="how far the left flange is to the right of the switch (default: 0, stay there)",
    )
    home.add_argument(
        "--speed", metavar="MM", type=float, default=SPEED_MM_S, help="at most, in mm a second (10)"
    )
    home.add_argument("--baud", metavar="N", type=int, help="speed of the line")
    home.add_argument("--clear", action="store_true", help="clear a trip of the guide first")
    home.add_argument("--yes", action="store_true", help="agree to the movement in advance")
    home.set_defaults(run=home_guide)


def home_guide(arguments: argparse.Namespace) -> int:
    """Asks, leads, tells."""
    from winder.service.bench_port import open_bench_port
    from winder.service.homing import clear_limit_trip, home, require_switch, words_of
    from winder.service.teaching.bench import TaughtBoard, Tripped

    _refuse_nonsense(arguments)
    at = open_bench_port(arguments.port, arguments.machine, arguments.baud)
    board = TaughtBoard(at.link, at.clock, arguments.port, LOST)
    try:
        require_switch(board)
        if not _allowed(arguments.yes):
            return 1
        if arguments.clear:
            clear_limit_trip(board)
        home(board, arguments.flange, arguments.speed, lambda line: print(line, flush=True))
    except Tripped as trip:
        raise words_of(trip, board) from None
    finally:
        board.close()
    return 0


LOST = "the guide's place is not known; look at the board and home it again"


def _refuse_nonsense(arguments: argparse.Namespace) -> None:
    from winder.service.homing import FLANGE_MM_MOST

    for word, value, least, most in (
        ("--flange", arguments.flange, 0.0, FLANGE_MM_MOST),
        ("--speed", arguments.speed, 0.1, SPEED_MM_S_MOST),
    ):
        if not least <= value <= most:
            raise UserMistake(
                f"{value:g} is not between {least:g} and {most:g}",
                where=word,
                remedy=f"for example: winder bench home --port PORT {word} 12.5",
            )


def _allowed(said_before: bool) -> bool:
    print(_CAUTION, flush=True)
    if said_before:
        return True
    print("Type yes to let it move: ", end="", flush=True)
    if sys.stdin.readline().strip().lower() in ("y", "yes"):
        return True
    print("Nothing was moved.")
    return False
