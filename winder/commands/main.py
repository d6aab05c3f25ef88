"""The command line's front door: which verb, and errors turned into words.

Every verb lives in a file of its own, which is read when it is asked for, and imports the rooms it needs only when
it runs, so that help is instant. Exit codes: 0 done, 1 trouble, 2 the user's mistake.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import NoReturn

from winder import __version__
from winder.commands.calling_option import add_calling_options, calling_of
from winder.commands.clean_output import clean_output, one_line
from winder.commands.completion import SHELLS, PrintCompletion
from winder.commands.old_spellings import refuse_old_spelling
from winder.errors import NO_ROOM, FileComplaints, WinderError

DESCRIPTION = """\
Wind small coils of fine enamelled wire to an exact number of turns.

Without a verb, winder opens the workbench in the terminal: choose a recipe,
wind it, see the shelf of coils made."""

EXAMPLES = """\
examples:
  winder rehearse                          wind a shipped recipe on the simulated machine
  winder recipe new bass.toml              write a recipe to change
  winder recipe check bass.toml            list everything wrong with it
  winder plan bass.toml                    how it would be wound
  winder wind bass.toml --port sim         wind it on the simulated machine, as if real
  winder wind bass.toml --port /dev/serial/by-id/... --machine bench.toml
  winder --machine bench.toml              the workbench, with a machine of your own
  winder shelf list                        what was wound
  winder desk reading '832 ohm, 27 C'      what it is at 20 C

exit codes: 0 done, 1 trouble, 2 something to correct in the command"""


VERBS = {
    "recipe": "write or check a recipe",
    "sheet": "what a recipe will give",
    "plan": "how a recipe would be wound",
    "rehearse": "wind on the simulated machine, in virtual time",
    "wind": "wind a recipe on a board, real or simulated",
    "bench": "the machine file; serve a simulated machine",
    "shelf": "the coils made",
    "spool": "spools of wire and what is left",
    "desk": "sums for the bench",
    "help": "short answers to what people ask",
}  # each the file of this room, and its line in the help
TRACE = "WINDER_TRACE"  # environment variable: show where an unforeseen fault came from


class Parser(argparse.ArgumentParser):
    """The parser of every verb: what was typed comes back in one line."""

    def error(self, message: str) -> NoReturn:
        super().error(one_line(message))


def build_parser(words: Sequence[str] = tuple(VERBS)) -> argparse.ArgumentParser:
    """The parser for these words: of a verb that is not among them it knows the name and what it is for."""
    parser = Parser(
        prog="winder",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"winder {__version__}")
    parser.add_argument("--logbook", metavar="FILE", help="logbook to use (default: your own)")
    parser.add_argument(
        "--machine",
        dest="workbench_machine",
        metavar="FILE",
        help="without a verb: the machine profile that the workbench winds with",
    )
    add_calling_options(parser)
    parser.add_argument(
        "--completion",
        choices=SHELLS,
        action=PrintCompletion,
        help="print a script that lets this shell finish what you type",
    )
    subparsers = parser.add_subparsers(title="verbs", metavar="VERB")
    every = any(word.startswith("--c") for word in words)  # --completion tells of all verbs
    for verb, summary in VERBS.items():
        if every or verb in words:
            import_module(f"winder.commands.{verb}").add_parser(subparsers)
        else:
            subparsers.add_parser(verb, help=summary)
    return parser


def open_workbench(arguments: argparse.Namespace) -> int:
    """``winder`` alone: the terminal UI."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        build_parser().print_help()
        return 2
    from functools import partial

    from winder.commands.bench_questions import ask_bench
    from winder.commands.said import said
    from winder.machine.asking import Purpose
    from winder.screens import run_workbench
    from winder.service.workbench import LocalWorkbench

    machine = arguments.workbench_machine
    if machine is not None:
        # What is wrong with it is told, and what it lacks is asked, before any screen opens.
        ask_bench(machine, tuple(Purpose))
    command = partial(said, build_parser())
    bench = LocalWorkbench(arguments.logbook, machine, command)
    return run_workbench(bench, calling_of(arguments))


def words_of(error: WinderError) -> str:
    """An error as it is printed, one line for each thing that is wrong."""
    if isinstance(error, FileComplaints):
        return "\n".join(one_line(each.text(error.file)) for each in error.complaints)
    return one_line(f"winder: {error}")


def main(words: list[str] | None = None) -> int:
    """Run one command; the console script's entry. Never lets a traceback of trouble through."""
    with clean_output():
        return _run(words)


def _run(words: list[str] | None) -> int:
    words = sys.argv[1:] if words is None else words
    try:
        refuse_old_spelling(words)
        try:
            arguments = build_parser(words).parse_args(words)
            run = getattr(arguments, "run", open_workbench)
            return int(run(arguments))
        finally:  # what waits in the buffer fails here, where it can be told
            if sys.stdout is not None:
                sys.stdout.flush()
    except WinderError as error:
        _tell(words_of(error))
        return error.exit_code
    except BrokenPipeError:
        # The reader of our output went away; nothing is left to say to it.
        _drop_output()
        return 1
    except KeyboardInterrupt:
        _tell("winder: interrupted")
        return 1
    except Exception as error:
        return _unforeseen(error)


def _unforeseen(error: Exception) -> int:
    if isinstance(error, OSError) and error.errno in NO_ROOM and error.filename is None:
        _drop_output()
        _tell(
            f"winder: the output could not be written ({os.strerror(error.errno)}); "
            "make room, or send it elsewhere"
        )
    elif os.environ.get(TRACE):
        import traceback

        traceback.print_exc()
    else:
        fault = one_line(f"{type(error).__name__}: {error}")
        _tell(
            f"winder: a fault of this program ({fault}); "
            f"set {TRACE}=1, run it again and report what it prints"
        )
    return 1


def _tell(words: str) -> None:
    with suppress(OSError):  # where the output has no room, this may have none either
        print(words, file=sys.stderr)


def _drop_output() -> None:
    """What waits in the buffer must not fail again as the process ends."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
