"""``winder rehearse``: the whole wind on the simulated machine, in virtual time."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from winder.commands.known_option import add_known_option, readings_of
from winder.commands.number_option import whole
from winder.commands.progress_bar import ProgressBar
from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.service.observing import Ask

RUNS_MAX = 10_000
ANY = "any"

DESCRIPTION = """\
Wind a recipe on the simulated machine, in virtual time, and report how it went.
Everything is as in a real wind; only the machine is simulated, and the person with
the drill where its file has no motor. The turns reported are the
true ones of the simulated wire, not the count. The same seed gives the same
wind."""

EXAMPLES = """\
examples:
  winder rehearse                          the shipped example
  winder rehearse bass.toml --seed 7
  winder rehearse bass.toml --machine bench.toml
  winder rehearse --machine any --runs 200 --json
                                           each run on another machine, drawn
                                           from all that the program supports
  winder rehearse sensor.toml --observe tail,caliper,ohm@50% --runs 200
                                           measure on the way, plan the rest
                                           again, and see whether the narrowed
                                           bands keep their word
  winder rehearse --faults all --runs 1000 something goes wrong in each: a program that
                                           dies, a board that lies, a hand at rest;
                                           --faults help lists every fault

--observe takes a list of
  tail           8 m of this spool, measured by themselves
  earlier        an earlier coil of the same spool and bobbin
  caliper@50%    the build at a pause (half-way if no place is given)
  ohm@50%        the coil itself at a pause; ohm@4000: after 4000 turns
  finish         wind a little long, measure, take off (resistance targets)

exit codes: 0 every run complete (with --faults: nothing found), 1 a run was not,
2 something to correct"""


def add_parser(subparsers: Any) -> None:
    parser = verb_parser(
        subparsers,
        "rehearse",
        "wind on the simulated machine, in virtual time",
        DESCRIPTION,
        EXAMPLES,
    )
    parser.add_argument(
        "recipe", nargs="?", metavar="RECIPE", help="recipe file (default: an example)"
    )
    parser.add_argument(
        "--machine",
        metavar="FILE|any",
        help="machine profile, or 'any' for another machine each run (default: the simulated bench)",
    )
    parser.add_argument(
        "--seed", type=whole, default=1, metavar="N", help="seed of the first run (1)"
    )
    parser.add_argument("--runs", type=whole, default=1, metavar="N", help="how many runs (1)")
    parser.add_argument(
        "--observe",
        metavar="LIST",
        help="measure on the way: tail,caliper,ohm@50%%,... (see below)",
    )
    parser.add_argument(
        "--faults",
        metavar="LIST",
        help="short winds in which something goes wrong, judged by the true turns: all, clean (nothing "
        "wrong), names with commas between, or help",
    )
    add_known_option(parser)
    parser.add_argument("--json", action="store_true", help="print figures for a program to read")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    if arguments.faults is not None:
        from winder.commands.rehearse_faults import run_with_faults

        return run_with_faults(arguments)
    if not 1 <= arguments.runs <= RUNS_MAX:
        raise UserMistake(
            f"{arguments.runs} runs", where="--runs", remedy=f"ask for 1 to {RUNS_MAX}"
        )
    from winder.service.given_files import read_coil, read_profile
    from winder.service.shipped import first_example

    machine = None if arguments.machine == ANY else read_profile(arguments.machine)
    coil = read_coil(arguments.recipe or first_example(), readings_of(arguments), machine)
    asks: tuple[Ask, ...] = ()
    if arguments.observe is not None:
        from winder.service.observing import read_asks

        asks = read_asks(arguments.observe, coil)
    if arguments.machine == ANY or arguments.runs > 1:
        return _many(arguments, coil, asks)
    return _one(arguments, coil, asks)


def _one(arguments: argparse.Namespace, coil: Coil, asks: tuple[Ask, ...]) -> int:
    from winder.service.given_files import read_profile
    from winder.service.rehearsal import rehearse, report_of

    machine = read_profile(arguments.machine)
    with ProgressBar(coil.recipe.name, quiet=arguments.json) as progress:
        if asks:
            from winder.service.observing import rehearse_observed

            rehearsed, report = rehearse_observed(
                coil, machine, arguments.seed, asks, progress=progress
            )
        else:
            rehearsed = rehearse(coil, machine, arguments.seed, progress=progress)
            report = report_of(rehearsed)
    if arguments.json:
        print(json.dumps(report, indent=2))
    else:
        from winder.commands.rehearsal_words import print_report

        print_report(report, rehearsed.opened.plan, machine)
        if asks:
            from winder.commands.observed_words import print_observed

            print_observed(report["observed"])
    return 0 if report["state"] == "complete" else 1


def _many(arguments: argparse.Namespace, coil: Coil, asks: tuple[Ask, ...]) -> int:
    from winder.laboratory.campaign import run_campaign

    machine = None if arguments.machine == ANY else arguments.machine
    drawn = arguments.machine == ANY
    with ProgressBar(coil.recipe.name, quiet=arguments.json) as progress:
        campaign = run_campaign(
            coil.recipe,
            runs=arguments.runs,
            seed=arguments.seed,
            machine_path=machine,
            drawn=drawn,
            observe=asks,
            progress=progress,
        )
    if arguments.json:
        print(json.dumps(campaign, indent=2))
    else:
        from winder.commands.rehearsal_words import print_campaign

        print_campaign(campaign)
        if asks:
            from winder.commands.observed_words import print_observed_summary

            print_observed_summary(campaign["summary"]["observed"])
    return 0 if campaign["summary"]["complete"] == campaign["summary"]["runs"] else 1
