"""``winder bench``: the machine and its set-up. ``simulate`` serves a simulated one as a serial port.

The simulated bench behaves like a board on a cable: another program, or another ``winder``, opens the
pseudo-terminal and speaks the protocol with it. It runs until Ctrl-C, and only as fast as the world:
whoever opens the port gives signs of life by the world's clock, and the lease of a faster board would
end between two of them.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from winder.errors import UserMistake, WinderError

_EXAMPLES = """\
examples:
  winder bench new bench.toml           write a commented machine file to change
  winder bench check-profile bench.toml tell everything that is wrong with it
  winder bench simulate                 a simulated bench on a pseudo-terminal"""

_SIMULATE_EXAMPLES = """\
examples:
  winder bench new bench.toml           write a commented machine file to change
  winder bench check-profile bench.toml tell everything that is wrong with it
  winder bench simulate
  winder bench simulate --seed 7
  winder bench simulate --link bench &  then: winder wind bass.toml --port ./bench"""


def add_parser(subparsers: Any) -> None:
    """Add ``bench`` and its verbs."""
    from winder.commands import bench_profile

    parser = subparsers.add_parser(
        "bench",
        help="the machine file; serve a simulated machine",
        description="The machine and its set-up.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", required=True)
    bench_profile.add_verbs(verbs)
    simulate = verbs.add_parser(
        "simulate",
        help="serve a simulated machine as a serial port",
        description="Serve a simulated machine on a pseudo-terminal until Ctrl-C. The first line\n"
        "printed says where. Like many boards it is reset whenever its port is opened. With a\n"
        "machine file that has no motor it only counts, and somebody with a drill begins a few\n"
        "seconds after a target is set; nothing typed at the other end reaches their hands.",
        epilog=_SIMULATE_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    simulate.add_argument(
        "--seed", metavar="N", default="1", help="seed of all its chances (default 1)"
    )
    simulate.add_argument(
        "--machine", metavar="FILE", help="profile of the machine (default: the simulated bench)"
    )
    simulate.add_argument(
        "--no-reset-on-open",
        action="store_true",
        help="do not reset the board when its port is opened",
    )
    simulate.add_argument(
        "--link", metavar="PATH", help="also make a symbolic link to the port, removed at the end"
    )
    simulate.set_defaults(run=serve_simulated)


def serve_simulated(arguments: argparse.Namespace) -> int:
    from winder.clock import SystemClock
    from winder.links.names import read_seed
    from winder.links.pty_server import PtyServer
    from winder.service.bodies import simulated_machine

    seed = read_seed(arguments.seed, where="--seed")
    clock = SystemClock()
    machine = simulated_machine(_profile(arguments.machine), None, seed)
    with (
        PtyServer(machine, clock, resets_on_open=not arguments.no_reset_on_open) as server,
        _linked(arguments.link, server.path),
        suppress(KeyboardInterrupt),
    ):
        print(f"serving the simulated bench on {server.path}", flush=True)
        server.serve()
    return 0


def _profile(path: str | None) -> Any:
    from winder.machine.model import SIMULATED_BENCH
    from winder.machine.reader import read_machine

    return SIMULATED_BENCH if path is None else read_machine(Path(path))


@contextmanager
def _linked(path: str | None, target: str) -> Iterator[None]:
    """A symbolic link to the port for as long as it is served."""
    if path is None:
        yield
        return
    _make_link(path, target)
    try:
        yield
    finally:
        with suppress(OSError):
            if os.readlink(path) == target:  # not one that somebody made since
                os.unlink(path)


def _make_link(path: str, target: str) -> None:
    # A link that leads nowhere, or to a pseudo-terminal, is one that a killed bench left behind.
    stale = os.path.islink(path) and (
        not os.path.exists(path) or os.readlink(path).startswith("/dev/pts/")
    )
    try:
        if stale:
            os.unlink(path)
        os.symlink(target, path)
    except FileExistsError:
        raise UserMistake(
            "is there already", where=path, remedy="name another link, or remove this file first"
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise WinderError(
            f"no link can be made here ({reason})", where=repr(path), remedy="name another place"
        ) from None
