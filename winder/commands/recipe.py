"""``winder recipe``: write a new recipe, and tell everything that is wrong with one.

``check`` reads the file, then figures the coil, for only that shows whether a wire of such a size is
made and whether the winding fits its bobbin. What is wrong in either way is told in one form.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from winder.commands.clean_output import one_line
from winder.commands.own_files import complaints_of
from winder.commands.spool_option import (
    add_spool_option,
    supplied_by,
    supply_facts,
    supply_lines,
)
from winder.commands.verb_parser import verb_parser
from winder.errors import Complaint, FileComplaints, WinderError
from winder.files.whole_file import write_new_file

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.machine.model import MachineProfile
    from winder.recipe.model import Core, Recipe

_DESCRIPTION = """\
A recipe says what to wind: wire, bobbin, target and direction, in a TOML file
of your own. Every quantity is a number, one space and a unit: "9.5 mm"."""

_EXAMPLES = """\
examples:
  winder recipe new kalimba.toml           write a recipe to change
  winder recipe check kalimba.toml         list everything wrong with it
  winder recipe check kalimba.toml --json  the same for another program"""

_NEW_DESCRIPTION = """\
Write a recipe with the twelve lines that matter; --full writes every key. It
works as it is; replace the values with yours. An existing file is left alone."""

_NEW_EXAMPLES = """\
examples:
  winder recipe new kalimba.toml
  winder recipe new kalimba.toml --full    every key, with what it means"""

_CHECK_DESCRIPTION = """\
Read a recipe and calculate its coil. Everything wrong is listed at once, with the
line and the fix. If nothing is, you see what was read and what it will give."""

_CHECK_EXAMPLES = """\
examples:
  winder recipe check kalimba.toml
  winder recipe check kalimba.toml --machine bench.toml
  winder recipe check kalimba.toml --json

exit codes: 0 the recipe can be wound, 2 it cannot as it stands"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    recipe = verb_parser(subparsers, "recipe", "write or check a recipe", _DESCRIPTION, _EXAMPLES)
    verbs = recipe.add_subparsers(title="verbs", metavar="VERB", required=True)
    new = verb_parser(verbs, "new", "write a commented recipe", _NEW_DESCRIPTION, _NEW_EXAMPLES)
    new.add_argument("file", metavar="FILE", type=Path, help="the file to write")
    new.add_argument("--full", action="store_true", help="write every key there is")
    new.set_defaults(run=write_new)
    check = verb_parser(verbs, "check", "check a recipe", _CHECK_DESCRIPTION, _CHECK_EXAMPLES)
    check.add_argument("file", metavar="FILE", type=Path, help="the recipe to read")
    check.add_argument(
        "--machine",
        metavar="FILE",
        help="machine file (default: an ordinary bench, and it says so)",
    )
    add_spool_option(check)
    check.add_argument("--json", action="store_true", help="print one JSON object")
    check.set_defaults(run=check_recipe)


def write_new(arguments: argparse.Namespace) -> int:
    """Writes the template. ``UserMistake`` when the file exists or cannot be written."""
    from winder.recipe.samples import new_recipe_text, short_recipe_text

    file: Path = arguments.file
    text = new_recipe_text if arguments.full else short_recipe_text
    write_new_file(file, text(file.stem), "recipe")
    name = one_line(file)
    print(f"{name} is written; put your values in, then: winder recipe check {name}")
    return 0


def check_recipe(arguments: argparse.Namespace) -> int:
    """Prints what the recipe says and gives, or raises what is wrong; with ``--json`` prints both."""
    file = str(arguments.file)
    if not arguments.json:
        machine = _machine(arguments.machine)
        recipe, coil, remarks = _read_and_figure(file, machine)
        given = supplied_by(arguments, coil)
        coil = coil if given is None else given.coil
        told = [*_recipe_lines(recipe, coil), _coil_line(coil), _bench_line(coil, machine)]
        told += [*remarks, *supply_lines(given)]
        print("\n".join(told))
        return 0
    try:
        machine = _machine(arguments.machine)
        recipe, coil, remarks = _read_and_figure(file, machine)
        given = supplied_by(arguments, coil)
        coil = coil if given is None else given.coil
    except WinderError as error:
        listed = [complaint._asdict() for complaint in complaints_of(error, file)]
        print(json.dumps({"file": file, "good": False, "complaints": listed}, indent=2))
        return error.exit_code
    facts = {"file": file, "good": True, "complaints": [], "remarks": list(remarks)}
    facts["supply"] = supply_facts(given)
    facts["machine"] = None if machine is None else machine.name
    print(json.dumps(facts | _facts(recipe, coil), indent=2))
    return 0


def _machine(file: str | None) -> MachineProfile | None:
    """What it is wound and measured on; None: nobody said. Raises as ``read_machine``."""
    from winder.machine.reader import read_machine

    return None if file is None else read_machine(file)


def _read_and_figure(
    file: str, machine: MachineProfile | None = None
) -> tuple[Recipe, Coil, tuple[str, ...]]:
    """The recipe, its coil, and remarks. ``UserMistake`` with complaints from either."""
    from winder.coil.winding import complaints, remarks

    recipe, coil = figured(file, machine)
    if wrong := complaints(coil):
        raise _placed(file, recipe, wrong)
    return recipe, coil, remarks(coil)


def figured(file: str, machine: MachineProfile | None = None) -> tuple[Recipe, Coil]:
    """The recipe and its coil, whether it fits or not. ``UserMistake`` with lines from either."""
    from winder.coil.known import coil_of
    from winder.recipe.reader import read_recipe

    recipe = read_recipe(file)
    try:
        return recipe, coil_of(recipe, machine)
    except FileComplaints:
        raise
    except WinderError as error:
        raise _placed(file, recipe, complaints_of(error, file)) from None


def _placed(file: str, recipe: Recipe, found: tuple[Complaint, ...]) -> FileComplaints:
    """The coil knows the recipe's facts but not its file: gives its complaints their lines."""
    from winder.files.tomlfile import read_toml_text

    text = read_toml_text(recipe.text, file)
    placed = []
    for each in found:
        line = each.line or text.line_of(tuple(each.field.split(".")))
        placed.append(Complaint(line, each.field, each.what, each.remedy))
    return FileComplaints(file, placed)


def _recipe_lines(recipe: Recipe, coil: Coil) -> list[str]:
    """What was read, in two lines."""
    from winder.files.quantities import show_length, show_speed

    margin = f", margins {show_length(recipe.margin_m)}" if recipe.margin_m else ""
    rims = f", {show_length(recipe.rim_width_m)} at the rims" if recipe.rim_width_m else ""
    speed = f", at most {show_speed(recipe.speed_rpm)}" if recipe.speed_rpm else ""
    why = dict(recipe.pause_reasons)
    pauses = ", ".join(
        f"{at} ({why[at]})" if at in why else str(at) for at in recipe.pause_at_turns
    )
    return [
        f"{recipe.name}: {coil.wire.label} on {core_words(recipe.core)}, "
        f"{show_length(recipe.width_m)} wide{rims}, flanges {show_length(recipe.height_m)} high{margin}",
        f"target {target_words(recipe)}, {recipe.direction.value} seen from the top{speed}"
        + (f", pauses at {pauses}" if pauses else ""),
        *_known_lines(recipe),
    ]


def _known_lines(recipe: Recipe) -> list[str]:
    """What was measured, where the recipe says so."""
    from winder.coil.known import observation_words

    if not recipe.readings:
        return []
    return ["known: " + ", ".join(observation_words(each) for each in recipe.readings)]


def target_words(recipe: Recipe) -> str:
    """What the recipe asks for: ``5000 turns``, ``350 ohm at 20 C``."""
    from winder.files.dimensions import INDUCTANCE, TEMPERATURE
    from winder.files.quantities import copper_factor, show_length, show_quantity, show_resistance
    from winder.recipe.model import (
        BuildTarget,
        FullTarget,
        ResistanceTarget,
        TurnsTarget,
        WireTarget,
    )

    target = recipe.target
    if isinstance(target, TurnsTarget):
        return f"{target.turns} turns"
    if isinstance(target, ResistanceTarget):
        ohm = show_resistance(target.ohm_20c * copper_factor(recipe.temperature_c), 9)
        long = ", wound long" if target.wind_long else ""
        return f"{ohm} at {show_quantity(recipe.temperature_c, TEMPERATURE)}{long}"
    if isinstance(target, BuildTarget):
        return f"full to {show_length(target.build_m)}"
    if isinstance(target, FullTarget):
        return f"full to {show_length(target.below_rim_m)} below the rims"
    if isinstance(target, WireTarget):
        return f"{show_length(target.length_m)} of wire"
    return f"{show_quantity(target.henry, INDUCTANCE)} without a core"


def core_words(core: Core) -> str:
    from winder.files.quantities import show_length
    from winder.recipe.model import CustomCore, ObroundCore, RoundCore

    if isinstance(core, RoundCore):
        return f"a round core of {show_length(core.diameter_m)}"
    if isinstance(core, CustomCore):
        around = show_length(core.perimeter_m)
        return f"a measured core, {around} around and {core.area_m2 * 1e6:.6g} mm2"
    sides = f"{show_length(core.length_m)} x {show_length(core.thickness_m)}"
    if isinstance(core, ObroundCore):
        return f"an obround core of {sides}"
    return f"a rectangular core of {sides}, corners {show_length(core.corner_radius_m)}"


def _coil_line(coil: Coil) -> str:
    from winder.files.quantities import show_length, show_resistance

    ohm = coil.resistance_ohm_20c
    low, high = show_resistance(ohm.low, 3), show_resistance(ohm.high, 3)
    fit = "fits" if coil.fits else "may not fit"
    return (
        f"gives {coil.turns} turns, {show_resistance(ohm.nominal, 3)} at 20 C ({low} to {high}), "
        f"{show_length(coil.wire_length_m, 3)} of wire, build {show_length(coil.build_m, 2)}: {fit}"
    )


def _bench_line(coil: Coil, machine: MachineProfile | None) -> str:
    """By which instruments and tensioner the figures are."""
    if machine is not None:
        return f"calculated for the bench of '{machine.name}'"
    meter = coil.instruments
    return (
        f"calculated for an ordinary bench (a hand meter of {meter.counts} counts, {100 * meter.gain_share:g} % and"
        f" {meter.digits:g} digits); for your own add --machine bench.toml"
    )


def _facts(recipe: Recipe, coil: Coil) -> dict[str, Any]:
    """What ``--json`` tells of a good recipe: SI units, named."""
    return {
        "name": recipe.name,
        "wire": coil.wire.label,
        "direction": recipe.direction.value,
        "turns": coil.turns,
        "wind_long": coil.wind_long,
        "resistance_ohm_20c": coil.resistance_ohm_20c.facts(),
        "wire_length_m": coil.wire_length_m,
        "build_m": coil.build_m,
        "fits": coil.fits,
    }
