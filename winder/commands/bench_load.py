"""``winder bench load``: a board's firmware, loaded without a compiler."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from winder.errors import WinderError

_LOAD = """\
Load the firmware that comes with this program onto a board with an ATmega328P,
through its boot loader, with avrdude. It says what it will do, then asks.

  --board winding    drives a motor, a brake and a guide, and counts
  --board counting   counts and beeps at the target: for a drill or a treadle

What was written is read back and compared. The board's settings and what it kept
of its last wind are in another memory and are kept."""

_CAUTION = """\
Disconnect the motor's supply first: while a board is being loaded its outputs
float, and only the resistors at them keep the motor off."""

_EXAMPLES = """\
examples:
  winder bench load --port /dev/serial/by-id/... --board counting
  winder bench load --port /dev/ttyUSB0 --board winding --yes

exit codes: 0 the board is loaded, 1 it is not, 2 something to correct in the
command"""


def add_verb(verbs: Any) -> None:
    """Add ``load`` to the verbs of ``winder bench``."""
    load = verbs.add_parser(
        "load",
        help="load a board's firmware",
        description=_LOAD,
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    load.add_argument("--port", required=True, help="the port that the board is on")
    load.add_argument("--board", required=True, metavar="NAME", help="winding or counting")
    load.add_argument("--yes", action="store_true", help="the motor is disconnected; do not ask")
    load.set_defaults(run=load_board)


def load_board(arguments: argparse.Namespace) -> int:
    """Says, asks, loads, and greets what was loaded."""
    from firmware_protocol.images import CHIP, program_bytes
    from winder.service.loading import load, plan_load

    order = plan_load(arguments.port, arguments.board)
    size = program_bytes(order.image.path.read_text(encoding="ascii"))
    print(
        f"The board at {order.port} gets the '{order.image.name}' firmware: it {order.image.what}."
    )
    print(f"{size} bytes for an {CHIP}; what program it has now is replaced.")
    print(_CAUTION, flush=True)
    if not arguments.yes:
        print("Is the motor disconnected? Type yes to load: ", end="", flush=True)
        if sys.stdin.readline().strip().lower() not in ("y", "yes"):
            print("Nothing was loaded.")
            return 1
    baud = load(order, lambda line: print(line, flush=True))
    print(f"Loaded and verified, at {baud} baud.", flush=True)
    return _greet(order.port)


def _greet(port: str) -> int:
    """The board's first words after its load. ``WinderError`` where there are none."""
    from firmware_protocol.connection import HostEnd
    from winder.service.bench_port import draw_token, open_bench_port
    from winder.service.greeting import greet

    at = open_bench_port(port)
    try:
        met = greet(at.link, at.clock, HostEnd(draw_token()), port)
    except WinderError as error:
        raise WinderError(
            f"the firmware is loaded, but the board does not answer ({error.what})",
            where=port,
            remedy="unplug it, plug it in again, and try: winder bench check --port " + port,
        ) from None
    finally:
        at.link.close()
    print(f"It answers as '{met.welcome.board}'. Next: winder bench check --port {port}")
    return 0
