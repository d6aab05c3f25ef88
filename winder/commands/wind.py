"""``winder wind``: wind a recipe on a board, real or simulated."""

from __future__ import annotations

import argparse
import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from winder.commands.again_option import add_again_options, again_of
from winder.commands.calling_option import add_calling_options, calling_of
from winder.commands.known_option import add_known_option, readings_of
from winder.commands.logbook_option import add_logbook_option
from winder.commands.number_option import number, whole
from winder.commands.spool_option import add_spool_option
from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake

if TYPE_CHECKING:
    from winder.recipe.counted import CountOnly
    from winder.service.again import Again
    from winder.service.opening import Declared
    from winder.service.workbench import WindRequest

TENSION_CN_MAX = 5000.0  # far above any wire that this program has tables for
DESCRIPTION = """\
Wind a recipe on the board at PORT. On a terminal this opens the wind screen;
with --plain it prints one line a second instead.

Starting is always a deliberate act: the start key on the screen, the typed word
'start' with --plain, or --start here. Ctrl-C slows down and pauses; a second one
leaves, with the board at rest and the count in the logbook.

PORT is a device path, an address such as socket://host:port, or 'sim' for the
simulated machine. There 'sim?pace=20&seed=7' runs it 20 times as fast, with that seed;
with 'sim?break=1200' its wire breaks at that turn. Joining it and taking turns
off is done to the simulated wire when you say so. 'sim?switch=never' has a limit
switch that never closes; 'loose' and 'stuck' are bad too. With a machine file that has
no motor somebody with a drill turns the spindle, once you have said start."""

EXAMPLES = """\
examples:
  winder wind bass.toml --port sim
  winder wind bass.toml --port 'sim?pace=20&seed=7' --plain --start --top operator --tension '12 cN'
  winder wind bass.toml                              on the machine that was taught
  winder wind bass.toml --port /dev/serial/by-id/... --machine bench.toml
  winder wind --count 8000 --name "rotor sensor" --port sim --machine drill.toml
  winder wind bass.toml --port sim --continue 3      a coil that was left half way
  winder wind --continue 3 --take-off 4 --port sim   then: take off 4
  winder wind bass.toml --port sim --spool red       from this spool of the logbook
  winder wind --like 12 --port sim                   the same again as coil 12
  winder wind --mate 12 --by hum --port sim          a mate that cancels its hum

exit codes: 0 the coil is complete, 1 it is not, 2 something to correct"""


def add_parser(subparsers: Any) -> None:
    parser = verb_parser(
        subparsers, "wind", "wind a recipe on a board, real or simulated", DESCRIPTION, EXAMPLES
    )
    add_again_options(parser)
    parser.add_argument(
        "--count",
        type=int,
        metavar="TURNS",
        help="no recipe: just count this many turns, stop or call there, and keep the count",
    )
    parser.add_argument("--name", metavar="NAME", help="with --count: what the coil is called")
    parser.add_argument(
        "--port",
        metavar="PORT",
        help="where the board is (default: the one taught machine that is plugged in)",
    )
    parser.add_argument(
        "--machine",
        metavar="FILE",
        help="machine file (default: the one taught at this port; for sim, the simulated bench's)",
    )
    _add_going_on(parser)
    parser.add_argument(
        "--top",
        choices=("operator", "chuck"),
        help="where the top of the coil faces as it is mounted: operator is the free end. The spindle's direction follows from it; asked if not given, required with --start",
    )
    parser.add_argument(
        "--tension",
        metavar="CN",
        help="how hard the wire is held, as '12 cN' or 'by feel'; needed with --start",
    )
    _add_switches(parser)
    add_calling_options(parser)
    add_spool_option(parser, with_logbook=False)
    add_known_option(parser)
    add_logbook_option(parser)
    parser.set_defaults(run=run)


def _add_switches(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--close-unknown",
        action="store_true",
        help="close a wind on the board that this logbook does not know",
    )
    _add_manner(parser)


def _add_manner(parser: argparse.ArgumentParser) -> None:
    """How it is wound, apart from what and where."""
    parser.add_argument("--plain", action="store_true", help="print lines instead of a screen")
    parser.add_argument(
        "--start",
        action="store_true",
        help="start at once: you have read the cautions and the list is done",
    )
    parser.add_argument(
        "--baud",
        type=whole,
        choices=(500_000, 115_200),
        help="serial speed (default: the taught machine's, else 500000)",
    )
    parser.add_argument(
        "--short-wire",
        action="store_true",
        help="wind even if the spool may run out: you join another when it ends",
    )
    parser.add_argument(
        "--record",
        metavar="FILE",
        help="record everything on the board's line; winder bench replay shows it again",
    )


def _add_going_on(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--continue",
        dest="goes_on",
        metavar="COIL",
        help="continue a coil from the shelf (number or name); without RECIPE, by the recipe it was begun with",
    )
    parser.add_argument(
        "--turns",
        type=number,
        metavar="N",
        help="with --continue: turns you counted on the coil",
    )
    parser.add_argument(
        "--take-off",
        type=int,
        metavar="N",
        help="with --continue: take this many turns off it, counted",
    )


def run(arguments: argparse.Namespace) -> int:
    terminal = sys.stdin.isatty() and sys.stdout.isatty()
    if not terminal and not arguments.start:
        raise UserMistake(
            "without a terminal there is no way to say start",
            where="winder wind",
            remedy="add --start if the machine is set up and someone stands beside it",
        )
    words = _find_machine(arguments, ask=terminal and not arguments.start)
    if terminal and not arguments.start:
        _ask_bench(arguments)
        arguments.spool = arguments.spool or _spool_asked(arguments)
    request = replace(request_of(arguments), machine_words=words)
    if arguments.plain or not terminal:
        from winder.commands.plain import wind_plainly

        code = wind_plainly(request, at_once=arguments.start)
    else:
        from winder.screens import run_wind_screen
        from winder.service.workbench import start_run

        calling = calling_of(arguments)
        wind_run = start_run(request)
        if arguments.start:
            wind_run.start_when_ready()
        code = run_wind_screen(wind_run, calling)
    if request.again is not None and code == 0:
        _print_how_near(request)
    return code


def _find_machine(arguments: argparse.Namespace, *, ask: bool) -> tuple[str, ...]:
    """Port and machine file that were not named, of a machine that was taught; said before anything starts.

    The words that said so; none where all was named.
    """
    from functools import partial

    from winder.commands.typed_answers import ask_which
    from winder.service.given_files import read_coil
    from winder.service.recognising import find_machine
    from winder.service.workbench import BAUD, let_rest_at

    wanted = request_of(arguments)  # whatever is wrong with it is said before a port is opened
    words: tuple[str, ...] = ()
    if arguments.port is None or arguments.machine is None:
        if wanted.recipe is not None:
            read_coil(wanted.recipe, wanted.readings)
        found = find_machine(
            arguments.port,
            arguments.machine,
            arguments.baud,
            partial(ask_which, "machine", "Which machine?") if ask else None,
            partial(let_rest_at, arguments.logbook),
        )
        arguments.port, arguments.machine = found.port, found.machine
        arguments.baud = arguments.baud or found.baud
        words = found.told
        for line in words:
            print(line, flush=True)
    arguments.baud = arguments.baud or BAUD
    return words


def _ask_bench(arguments: argparse.Namespace) -> None:
    """What the machine file does not say yet and this wind needs."""
    if arguments.machine is None:
        return
    from winder.commands.bench_questions import ask_bench, purposes_of, wants_instruments

    wanted = wants_instruments(arguments.recipe, readings_of(arguments))
    ask_bench(arguments.machine, purposes_of(*wanted))


def _spool_asked(arguments: argparse.Namespace) -> str | None:
    """The spool of a new coil, asked once where the logbook has one of its wire and nobody named any."""
    from winder.commands.plain_lines import printable
    from winder.service.given_files import read_coil
    from winder.service.supply import spools_for
    from winder.shelf import Logbook, default_path

    file = arguments.logbook or default_path()
    if not arguments.recipe or arguments.goes_on is not None or not Path(file).exists():
        return None
    with Logbook.open(file, read_only=True) as logbook:
        names = spools_for(logbook, read_coil(arguments.recipe))
    if not names:
        return None
    from winder.commands.typed_answers import ask_which

    said = ask_which(
        "spool",
        "From which spool? Its wire is deducted from it, and its readings are used.",
        [printable(name) for name in names],
        "one that is not in the logbook",
    )
    return None if said is None else names[said]


def _by_number(arguments: argparse.Namespace) -> Again | None:
    """The coil that is followed, by its number: its name is the next one's too."""
    from winder.shelf import Logbook

    again = again_of(arguments)
    if again is None:
        return None
    with Logbook.open(arguments.logbook, read_only=True) as logbook:
        return replace(again, coil=str(logbook.coil(again.coil).row.coil_id))


def _print_how_near(request: WindRequest) -> None:
    """The coil just made against the one it followed."""
    from winder.commands.pair_words import likeness_lines, off_line
    from winder.pair.likeness import advice
    from winder.service.again import how_near
    from winder.shelf import Logbook

    assert request.again is not None
    with Logbook.open(request.logbook, read_only=True) as logbook:
        newest = (
            request.goes_on.coil if request.goes_on else logbook.newest_on(None, 1)[0].row.coil_id
        )
        likeness = how_near(logbook, request.again.coil, newest)
    for line in (*likeness_lines(likeness), off_line(advice(likeness), likeness)):
        print(line)


def request_of(arguments: argparse.Namespace) -> WindRequest:
    from winder.plan.facing import Top
    from winder.service.going_on import GoesOn
    from winder.service.opening import Declared
    from winder.service.workbench import BAUD, WindRequest

    if arguments.turns is not None and arguments.goes_on is None:
        raise UserMistake(
            "turns on a coil that is not named", where="--turns", remedy="add --continue COIL"
        )
    if arguments.take_off is not None and (arguments.goes_on is None or arguments.recipe):
        raise UserMistake(
            "turns can only come off a coil on the shelf",
            where="--take-off",
            remedy="add --continue COIL, and leave RECIPE out: the coil's own is used",
        )
    wish = None
    if arguments.goes_on is not None:
        wish = GoesOn(arguments.goes_on, arguments.turns, arguments.take_off)
    count = _count_only(arguments)
    declared = Declared(
        top=Top(arguments.top) if arguments.top else None,
        tension_cn=_tension(arguments.tension),
        by="--start" if arguments.start else "",
    )
    if arguments.start:
        _look_whether_all_is_said(declared, wire=count is None)
    return WindRequest(
        arguments.recipe,
        arguments.port or "",
        arguments.machine,
        arguments.logbook,
        arguments.baud or BAUD,
        wish,
        declared,
        readings_of(arguments),
        arguments.close_unknown,
        arguments.spool,
        arguments.short_wire,
        _by_number(arguments),
        count,
        record=arguments.record,
    )


def _count_only(arguments: argparse.Namespace) -> CountOnly | None:
    """``--count`` with its ``--name``; it stands in the place of a recipe."""
    from winder.recipe.counted import count_only

    recipe = arguments.recipe or arguments.mate or arguments.like
    if arguments.count is None:
        if arguments.name is not None:
            raise UserMistake("a name goes with --count", where="--name", remedy="leave it out")
        return None
    if recipe is not None:
        raise UserMistake(
            "a recipe says how many turns, and so does --count",
            where="--count",
            remedy="leave one of them out",
        )
    return count_only(arguments.name or "", arguments.count)


def _look_whether_all_is_said(declared: Declared, *, wire: bool) -> None:
    """``--start`` never waits and never guesses what only a person knows."""
    missing = []
    if declared.top is None:
        missing.append("--top operator or --top chuck: where the coil's top faces")
    if wire and declared.tension_cn is None:
        missing.append("--tension '12 cN' or 'by feel': how hard the wire is held")
    if missing:
        raise UserMistake(
            "--start needs what only you know",
            where="--start",
            remedy=f"add {'; '.join(missing)}",
        )


def _tension(text: str | None) -> float | None:
    """In cN; 0: by feel. Raises ``UserMistake``."""
    if text is None:
        return None
    if text.strip().lower() == "by feel":
        return 0.0
    match = re.fullmatch(r"([0-9]{1,4}(?:\.[0-9]{1,3})?) ?(?:cN|gf|g)", text.strip())
    if match is None or not 0 < float(match.group(1)) <= TENSION_CN_MAX:
        raise UserMistake(
            f"'{text[:40]}' is not a wire tension",
            where="--tension",
            remedy="write it like '12 cN', or 'by feel'",
        )
    return float(match.group(1))
