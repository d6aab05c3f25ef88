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
    home.add_argument(
        "--machine",
        metavar="FILE",
        help="the machine: where its flange is, and what 'sim' simulates",
    )
    home.add_argument(
        "--flange",
        metavar="MM",
        type=float,
        help="how far the left flange is to the right of the switch; 0: stay there"
        " (default: switch_to_flange of the machine file)",
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

    flange_mm = _flange_mm(arguments)
    _refuse_nonsense(flange_mm, arguments.speed)
    at = open_bench_port(arguments.port, arguments.machine, arguments.baud)
    board = TaughtBoard(at.link, at.clock, arguments.port, LOST)
    try:
        require_switch(board)
        if not _allowed(arguments.yes):
            return 1
        if arguments.clear:
            clear_limit_trip(board)
        home(board, flange_mm, arguments.speed, lambda line: print(line, flush=True))
    except Tripped as trip:
        raise words_of(trip, board) from None
    finally:
        board.close()
    return 0


LOST = "the guide's place is not known; look at the board and home it again"


def _flange_mm(arguments: argparse.Namespace) -> float:
    """Said, or by the machine file: a zero at the switch would be taken for the flange by the next coil."""
    from winder.service.given_files import read_profile

    if arguments.flange is not None:
        return float(arguments.flange)
    known_m = read_profile(arguments.machine).switch_to_flange_m if arguments.machine else None
    if known_m is None:
        raise UserMistake(
            "how far the left flange is from the limit switch was not said",
            where="--flange",
            remedy="measure it and give it in mm, or name a machine file that has switch_to_flange",
        )
    return known_m * 1000


def _refuse_nonsense(flange_mm: float, speed_mm_s: float) -> None:
    from winder.service.homing import FLANGE_MM_MOST

    for word, value, least, most in (
        ("--flange", flange_mm, 0.0, FLANGE_MM_MOST),
        ("--speed", speed_mm_s, 0.1, SPEED_MM_S_MOST),
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
