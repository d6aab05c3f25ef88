"""``winder rehearse --faults``: winds in which something goes wrong, and what an independent judge found."""

from __future__ import annotations

import argparse
import json
from typing import Any

from winder.errors import UserMistake
from winder.files.nearest import nearest

RUNS_MAX = 10_000_000
SHOWN_MAX = 10  # failing runs in words; --json has them all
HELP = "help"
NOT_WITH_FAULTS = ("recipe", "machine", "observe")

FIGURES = {
    "silent_miscounts": "a count called exact, or a coil called complete, that was not",
    "bounds_missed": "bounds that did not hold the true turns",
    "guide_misplaced": "wire laid elsewhere than the program believed",
    "unasked_motion": "motion nobody asked for, and no stop said",
    "not_stopped": "a stop that was due and not asked for, or not followed up",
    "lost_records": "something recorded that was lost, or turns that nobody recorded",
    "unended": "a wind that did not end, or a program that broke",
    "false_alarms": "an alarm though nothing was wrong",
    "needless_doubts": "a doubt, or a coil not finished, though nothing was wrong",
}


def run_with_faults(arguments: argparse.Namespace) -> int:
    from winder.laboratory.faulty import names_of, run_faults

    given = [name for name in NOT_WITH_FAULTS if getattr(arguments, name) is not None]
    if given or arguments.known:
        raise UserMistake(
            "the winds with faults are short ones of their own, on machines drawn by seed",
            where="--faults",
            remedy="leave out the recipe, --machine, --observe and --known",
        )
    if arguments.faults.strip() == HELP:
        _print_help()
        return 0
    names = names_of(arguments.faults)
    _check(names)
    if not 1 <= arguments.runs <= RUNS_MAX:
        raise UserMistake(
            f"{arguments.runs} runs", where="--runs", remedy=f"ask for 1 to {RUNS_MAX}"
        )
    from winder.commands.progress_bar import ProgressBar

    with ProgressBar("with faults", quiet=arguments.json) as progress:
        found = run_faults(names, runs=arguments.runs, seed=arguments.seed, progress=progress)
    if arguments.json:
        print(json.dumps(found, indent=2))
    else:
        _print(found)
    return 1 if found["failing"] else 0


def _check(names: tuple[str, ...]) -> None:
    from winder.laboratory.faulty import unknown_names
    from winder.simulator.scene import CLEAN, KINDS

    unknown = unknown_names(names)
    if unknown:
        near = nearest(unknown[0], [*KINDS, *CLEAN])
        hint = f"did you mean '{near}'? " if near else ""
        raise UserMistake(
            f"there is no fault '{unknown[0][:60]}'",
            where="--faults",
            remedy=f"{hint}'winder rehearse --faults help' lists them all",
        )


def _print_help() -> None:
    from winder.simulator.scene import CLEAN, UNSEEABLE, WORLD, WRONG_BOARDS

    boards = {name: board.sentence for name, board in WRONG_BOARDS.items()}
    for title, kinds in (
        ("what can happen at a bench (all)", WORLD),
        ("a board that breaks a clause of the protocol (all)", boards),
        ("what no host can see: named when drawn, never used (all)", UNSEEABLE),
        ("nothing is wrong (clean)", CLEAN),
    ):
        print(f"{title}:")
        for name, sentence in kinds.items():
            print(f"  {name:34} {sentence}")
        print()


def _print(found: dict[str, Any]) -> None:
    summary = found["summary"]
    struck, unseeable = (sum(summary[key].values()) for key in ("struck", "unseeable"))
    print(
        f"{summary['runs']} winds, {struck} struck by a fault, {unseeable} drawn that no host can see"
    )
    for figure, words in FIGURES.items():
        print(f"  {summary[figure]:6}  {words}")
    if summary["width_turns_median"] is not None:
        print(
            f"{summary['in_doubt']} winds were in doubt, by {summary['width_turns_median']:.1f} turns "
            "from bound to bound in the middle"
        )
    for run in found["failing"][:SHOWN_MAX]:
        for figure, words in run["found"].items():
            print(f"{run['kind']}, seed {run['seed']}: {FIGURES[figure]}: {words}")
        print(f"  again: {run['again']}")
    more = len(found["failing"]) - SHOWN_MAX
    if more > 0:
        print(f"and {more} more; --json has them all")
