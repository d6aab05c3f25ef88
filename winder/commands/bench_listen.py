"""``winder bench listen``: what passes on a board's line, as sentences, live or out of a recording."""

from __future__ import annotations

import argparse
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from winder.errors import UserMistake, WinderError

_LISTEN = """\
Print what a board says, one line per message, until Ctrl-C. Nothing is sent; but
opening the port resets many boards. With a recording, which 'winder wind
--record FILE' makes, both directions are printed, each with its time."""

_EXAMPLES = """\
examples:
  winder bench listen --port /dev/serial/by-id/...
  winder bench listen --port wind.record
  winder bench listen --port sim --seconds 1"""

READ_S = 0.2
SECONDS_MAX = 86_400.0


def add_verb(verbs: Any) -> None:
    """Add ``listen`` to the verbs of ``winder bench``."""
    listen = verbs.add_parser(
        "listen",
        help="print what a board says, or what a recording holds",
        description=_LISTEN,
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    listen.add_argument("--port", required=True, metavar="PORT", help="a port, or a recording")
    listen.add_argument("--seconds", metavar="N", type=float, help="stop after this long")
    listen.add_argument("--baud", metavar="N", type=int, help="speed of the line")
    listen.set_defaults(run=listen_to)


def listen_to(arguments: argparse.Namespace) -> int:
    seconds = arguments.seconds
    if seconds is not None and not 0 < seconds <= SECONDS_MAX:
        raise UserMistake(
            f"{seconds:g} s is not a time to listen for",
            where="--seconds",
            remedy=f"give more than 0 and at most {SECONDS_MAX:g}",
        )
    lines = (
        _of_recording(Path(arguments.port))
        if _is_file(arguments.port)
        else _of_port(arguments.port, arguments.baud, seconds)
    )
    try:
        for line in lines:
            print(line, flush=True)
    except KeyboardInterrupt:  # the usual end
        pass
    return 0


def _is_file(port: str) -> bool:
    try:
        return stat.S_ISREG(os.stat(port).st_mode)
    except (OSError, ValueError):
        return False


def _of_recording(path: Path) -> Iterator[str]:
    from firmware_protocol.explain import Explainer
    from winder.links.recording import read_recording

    ends = {True: Explainer(), False: Explainer()}
    for passed in read_recording(path):
        for line in ends[passed.from_board].feed(passed.data):
            yield _timed(passed.at_ms / 1000, line)


def _of_port(port: str, baud: int | None, seconds: float | None) -> Iterator[str]:
    from firmware_protocol.explain import Explainer
    from firmware_protocol.seam import LinkLost
    from winder.links.serial_link import BAUD
    from winder.service.bench_port import open_bench_port

    at = open_bench_port(port, baud=baud or BAUD)  # no hello: nothing is sent
    explainer = Explainer()
    began_ns = at.clock.now_ns()
    passed_s = 0.0
    try:
        while seconds is None or passed_s < seconds:
            data = at.link.read(READ_S)
            passed_s = (at.clock.now_ns() - began_ns) / 1e9
            for line in explainer.feed(data):
                yield _timed(passed_s, line)
    except LinkLost as lost:
        raise WinderError(
            f"the port closed ({lost})", where=port, remedy="check the cable and listen again"
        ) from None
    finally:
        at.link.close()


def _timed(seconds: float, line: str) -> str:
    """A sentence behind its time, without its place in the stream."""
    return f"{seconds:9.3f} s  {line[9:]}"
