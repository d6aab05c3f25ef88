"""``winder bench load``: a board's firmware, loaded without a compiler."""

from __future__ import annotations

import argparse
import shlex
import sys
from typing import Any

from winder.errors import UserMistake, WinderError

_LOAD = """\
Load the firmware that comes with this program onto a board. It says what it will
do, then asks.

  --board winding    ATmega328P: drives a motor, a brake and a guide, and counts
  --board counting   ATmega328P: counts and beeps at the target: for a drill or a
                     treadle
  --board rp2040     RP2040: as 'winding', and counts far faster

An ATmega328P is loaded through its boot loader, with avrdude: name its --port. What
was written is read back and compared.
An RP2040 is loaded by copying a file to the drive as which it shows itself: name
that --drive. Without one it says how to bring it there.

The board's settings and what it kept of its last wind are elsewhere, and stay."""

_CAUTION = """\
Disconnect the motor's supply first: while a board is being loaded its outputs
float, and only the resistors at them keep the motor off."""

_HOW = """\
This board takes its firmware through a drive of its own.

  1. Disconnect the motor's supply: while the board is being loaded its outputs
     float, and only the resistors at them keep the motor off.
  2. Hold the button marked BOOT or BOOTSEL while you plug in the USB cable.
     A drive appears with a file INFO_UF2.TXT in it.
  3. winder bench load --board {board} --drive {drive}
"""

_EXAMPLES = """\
examples:
  winder bench load --port /dev/serial/by-id/... --board counting
  winder bench load --port /dev/ttyUSB0 --board winding --yes
  winder bench load --board rp2040
  winder bench load --board rp2040 --drive /media/me/RPI-RP2

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
    load.add_argument("--board", required=True, metavar="NAME", help="winding, counting or rp2040")
    load.add_argument("--port", help="winding, counting: the port that the board is on")
    load.add_argument("--drive", metavar="FOLDER", help="rp2040: the drive that it shows itself as")
    load.add_argument("--yes", action="store_true", help="the motor is disconnected; do not ask")
    load.set_defaults(run=load_board)


def load_board(arguments: argparse.Namespace) -> int:
    """Says, asks, loads, and greets what was loaded."""
    from firmware_protocol.images import UF2
    from winder.service.loading import image_of

    image = image_of(arguments.board)
    through, other = ("drive", "port") if image.form == UF2 else ("port", "drive")
    if getattr(arguments, other):
        raise UserMistake(
            f"this board is loaded through a {through}, not through a {other}",
            where=f"--{other}",
            remedy=f"winder bench load --board {image.name} --{through} ...",
        )
    return _load_drive(arguments) if image.form == UF2 else _load_port(arguments)


def _load_port(arguments: argparse.Namespace) -> int:
    from firmware_protocol.images import CHIP, program_bytes
    from winder.service.loading import load, plan_load

    if not arguments.port:
        raise UserMistake(
            "no port was named",
            where="--port",
            remedy="name the port that the board is on; 'winder bench list' shows what is here",
        )
    order = plan_load(arguments.port, arguments.board)
    size = program_bytes(order.image.path.read_text(encoding="ascii"))
    print(
        f"The board at {order.port} gets the '{order.image.name}' firmware: it {order.image.what}."
    )
    print(f"{size} bytes for an {CHIP}; what program it has now is replaced.")
    print(_CAUTION, flush=True)
    if not _allowed(arguments.yes):
        return 1
    baud = load(order, lambda line: print(line, flush=True))
    print(f"Loaded and verified, at {baud} baud.", flush=True)
    return _greet(order.port)


def _load_drive(arguments: argparse.Namespace) -> int:
    from firmware_protocol.images.uf2 import program_of
    from winder.clock import SystemClock
    from winder.service.loading import image_of
    from winder.service.loading_drive import (
        copy_onto,
        drives_found,
        plan_copy,
        port_that_came,
        ports_now,
    )

    image = image_of(arguments.board)
    if not arguments.drive:
        here = drives_found()
        folder = shlex.quote(str(here[0])) if here else "FOLDER"
        print(_HOW.format(board=image.name, drive=folder))
        print(
            f"Such a drive is here now: {', '.join(map(str, here))}"
            if here
            else "No such drive is here now."
        )
        return 1
    order = plan_copy(arguments.drive, image)
    size = len(program_of(image.path.read_bytes()))
    print(f"The board at {order.drive} gets the '{image.name}' firmware: it {image.what}.")
    print(f"{size} bytes for an RP2040; what program it has now is replaced.")
    print(_CAUTION, flush=True)
    if not _allowed(arguments.yes):
        return 1
    before = ports_now()
    copy_onto(order)
    print("Copied. Waiting for the board to start ...", flush=True)
    return _greet(port_that_came(before, SystemClock()))


def _allowed(said_before: bool) -> bool:
    if said_before:
        return True
    print("Is the motor disconnected? Type yes to load: ", end="", flush=True)
    if sys.stdin.readline().strip().lower() in ("y", "yes"):
        return True
    print("Nothing was loaded.")
    return False


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
