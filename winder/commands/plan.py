"""``winder plan``: how a recipe would be wound on a machine, before anything is opened or moves.

The legs in words, the time they take, and every figure beside its limit; or all that keeps the coil from
being wound, each with its remedy. A wind plans again when it has greeted the board, within the limits
that the board tells.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from winder.commands.again_option import add_again_options, again_of
from winder.commands.compared_lays import print_compared_lays
from winder.commands.known_option import add_known_option, readings_of
from winder.commands.own_files import complaints_of
from winder.commands.spool_option import add_spool_option, supplied_by, supply_facts, supply_lines
from winder.commands.verb_parser import verb_parser
from winder.errors import Complaint, FileComplaints, UserMistake, WinderError
from winder.files.digits import show_number

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.machine.model import MachineProfile
    from winder.plan.checks import Check
    from winder.plan.model import Plan
    from winder.service.again import Again

LEGS_MAX = 8  # what every board of ours holds; one that holds more may get a slow landing more

DESCRIPTION = """\
How a recipe would be wound: slow first turns, body, pauses, slow landing, where
the guide turns and how long it takes. Each value is shown beside
the machine's and the wire's limit. Nothing is opened and nothing moves."""

EXAMPLES = """\
examples:
  winder plan bass.toml                          on the simulated bench
  winder plan bass.toml --machine bench.toml
  winder plan bass.toml --scatter --seed 7       scattered lay, as with scatter = 7
  winder plan bass.toml --compare-lays           as planned, scattered, by hand ...:
                                                 each laid on the simulated bobbin
  winder plan bass.toml --json

exit codes: 0 it can be wound, 2 it cannot as it stands"""


def add_parser(subparsers: Any) -> None:
    parser = verb_parser(subparsers, "plan", "how a recipe would be wound", DESCRIPTION, EXAMPLES)
    add_again_options(parser)
    parser.add_argument(
        "--machine", metavar="FILE", help="machine file (default: the simulated bench)"
    )
    lay = parser.add_mutually_exclusive_group()
    lay.add_argument(
        "--scatter",
        action="store_true",
        help="scattered lay, whatever the recipe says: each pass at a pitch of its own",
    )
    lay.add_argument("--even", action="store_true", help="even lay, whatever the recipe says")
    lay.add_argument(
        "--compare-lays",
        action="store_true",
        help="lay the coil in several ways on the simulated bobbin and compare them",
    )
    lay.add_argument(
        "--compare-pieces",
        action="store_true",
        help="lay it in one go and in five winds, with a break, turns off and a board that was reset",
    )
    parser.add_argument(
        "--seed",
        metavar="N",
        help="seed of the scatter, 1 to 65535 (default: the recipe's scatter, else 1); with "
        "--compare-lays also of the spool and the hand",
    )
    add_known_option(parser)
    add_spool_option(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Prints the plan, or raises all that refuses it; with ``--json`` prints both."""
    from winder.plan.checks import checks, refusals
    from winder.plan.planner import make_plan
    from winder.service.given_files import read_profile

    compares = arguments.compare_lays or arguments.compare_pieces
    if compares and not (arguments.recipe or arguments.mate or arguments.like):
        from winder.service.shipped import first_example

        arguments.recipe = str(first_example())
    again = again_of(arguments)
    file = arguments.recipe or f"coil {again.coil if again else ''}"
    given = None if arguments.seed is None else scatter_seed(arguments.seed)
    try:
        machine = read_profile(arguments.machine)
        coil = _coil(arguments, again, machine)
        supply = supplied_by(arguments, coil)
        coil = coil if supply is None else supply.coil
        if compares:
            pieces, as_json = arguments.compare_pieces, arguments.json
            print_compared_lays(coil, machine, given or 1, pieces=pieces, as_json=as_json)
            return 0
        if refused := refusals(coil, machine, legs_max=LEGS_MAX):
            raise FileComplaints(file, placed(coil, file, refused))
    except WinderError as error:
        if not arguments.json:
            raise
        listed = [each._asdict() for each in complaints_of(error, file)]
        told = {"recipe": file, "good": False, "refusals": listed}
        print(json.dumps(told, indent=2))
        return error.exit_code
    by_recipe = coil.recipe.scatter_seed
    scattered = not arguments.even and (arguments.scatter or by_recipe > 0)
    seed = given or by_recipe or 1
    plan = make_plan(coil, machine, legs_max=LEGS_MAX, scatter=scattered, seed=seed)
    held = checks(plan, coil, machine)
    if arguments.json:
        told = facts(plan, coil, machine, held) | {"supply": supply_facts(supply)}
        print(json.dumps(told, indent=2))
    else:
        print("\n".join([*plan_lines(plan, coil, machine, held), *supply_lines(supply)]))
    return 0


def _coil(arguments: argparse.Namespace, again: Again | None, machine: MachineProfile) -> Coil:
    """By the recipe file, or after a coil of the shelf, whose spool is taken unless another is named."""
    from winder.service.given_files import read_coil

    if again is None:
        return read_coil(arguments.recipe, readings_of(arguments), machine)
    from winder.service.again import coil_again
    from winder.shelf import Logbook

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        followed = coil_again(logbook, again, arguments.recipe, readings_of(arguments), machine)
    arguments.spool = arguments.spool or followed.spool or None
    return followed.coil


def placed(coil: Coil, file: str, refused: Sequence[Complaint]) -> list[Complaint]:
    """The planner knows fields, not files: those of the recipe get their lines."""
    from winder.files.tomlfile import read_toml_text

    text = read_toml_text(coil.recipe.text, file)
    return [
        Complaint(text.line_of(tuple(c.field.split("."))), c.field, c.what, c.remedy)
        for c in refused
    ]


def scatter_seed(text: str) -> int:
    """A seed a leg can carry. ``UserMistake`` for anything but 1 to 65535."""
    from winder.files.quantities import QuantityError, read_whole

    try:
        seed = read_whole(text)
    except QuantityError as wrong:
        raise UserMistake(wrong.what, where="--seed", remedy=wrong.remedy) from None
    if not 1 <= seed <= 0xFFFF:
        raise UserMistake(
            f"seed {seed} is not a whole number from 1 to 65535",
            where="--seed",
            remedy="write it with digits only, as in 7",
        )
    return seed


def plan_lines(plan: Plan, coil: Coil, machine: MachineProfile, held: list[Check]) -> list[str]:
    """The whole plan for people."""
    from winder.plan.listing import describe

    listing = describe(plan)
    told = len(listing) - len(plan.remarks)
    return [
        f"{coil.recipe.name} on the {machine.name}",
        *anchor_lines(machine),
        *listing[:told],
        *(check_line(check) for check in held),
        *listing[told:],
    ]


def anchor_lines(machine: MachineProfile) -> list[str]:
    """How the turns that hold the start lead come into the count."""
    counted = (
        "made after that, the sensor counts them, with their direction, as part of the coil"
        if machine.direction_sense
        else "made after that, the sensor cannot tell their direction and you will be asked"
    )
    return [
        "anchor: make the first turns, which hold the start lead, by hand with the spindle at rest",
        f"  made before the count is set to zero, they are extra; {counted}",
    ]


def check_line(check: Check) -> str:
    """``check: speed 900 rpm, at most 1500 rpm``."""
    side = "at least" if check.least else "at most"
    word = "check" if check.good else "CHECK, beyond its limit"
    value, limit = (_shown(figure, check.unit) for figure in (check.value, check.limit))
    return f"{word}: {check.what} {value}, {side} {limit}"


def _shown(figure: float, unit: str) -> str:
    from winder.files.quantities import show_length, show_speed

    if unit == "m":
        return show_length(figure, 4)
    if unit == "rpm":
        return show_speed(figure, 4)
    if unit == "1/s":
        return f"{show_number(figure, 6)} a second"
    return f"{show_number(figure, 4)} {unit}".rstrip()


def facts(plan: Plan, coil: Coil, machine: MachineProfile, held: list[Check]) -> dict[str, Any]:
    """What ``--json`` tells of a plan (``docs/reference/plan.md``)."""
    legs, begun = [], plan.first_turn
    for leg in plan.legs:
        end = plan.first_turn + leg.end_counts // plan.counts_per_turn
        told = asdict(leg) | {"at_end": leg.at_end.value, "first_turn": begun + 1, "last_turn": end}
        told["dwell_turns"] = leg.dwell_counts / plan.counts_per_turn
        legs.append(told)
        begun = end
    return {
        "recipe": coil.recipe.name,
        "machine": machine.name,
        "good": True,
        "refusals": [],
        "target_turns": plan.target_turns,
        "counts_per_turn": plan.counts_per_turn,
        "spindle": plan.spindle,
        "duration_s": plan.duration_s,
        "measure_at_end": plan.measure_at_end,
        "legs": legs,
        "checks": [asdict(check) for check in held],
        "remarks": list(plan.remarks),
    }
