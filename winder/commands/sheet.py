"""``winder sheet``: all that a recipe will give, each figure with its doubt, before any wire is cut."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from winder.commands.known_option import add_known_option
from winder.commands.spool_option import add_spool_option, supplied_by, supply_facts, supply_lines
from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake

if TYPE_CHECKING:
    from collections.abc import Iterator

    from winder.coil.bands import Band
    from winder.coil.known import Known
    from winder.coil.model import Coil
    from winder.coil.sheet import Sheet
    from winder.files.dimensions import Dimension
    from winder.machine.model import MachineProfile
    from winder.recipe.observations import Observation

DESCRIPTION = """\
What a recipe will give: turns and layers, build and fit, wire and mass,
resistance, inductance, hum, capacitance, tension, speed and time. What is not
exact is shown with its 95 % limits."""

EXAMPLES = """\
examples:
  winder sheet kalimba.toml                        the whole sheet
  winder sheet kalimba.toml --machine bench.toml   time by your machine
  winder sheet kalimba.toml --picture coil.svg     and a cross-section to scale
  winder sheet kalimba.toml --json                 for another program
  winder sheet kalimba.toml --known 'tail, 20 m, 107.8 ohm, 22 C'
                                                   with a piece of the spool measured

exit codes: 0 the sheet was written, 2 something to correct"""

FIGURES = 4  # significant, in the table

Row = tuple[str, str, str, str]


def add_parser(subparsers: Any) -> None:
    parser = verb_parser(subparsers, "sheet", "what a recipe will give", DESCRIPTION, EXAMPLES)
    parser.add_argument("recipe", metavar="RECIPE", help="recipe file")
    parser.add_argument(
        "--machine", metavar="FILE", help="machine file (default: the simulated bench)"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument(
        "--picture", metavar="FILE.svg", type=Path, help="draw the cross-section into a new file"
    )
    add_spool_option(parser)
    add_known_option(parser, "; without the value: what measuring it would gain")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Prints the sheet. ``UserMistake`` for a recipe, machine or picture that cannot be."""
    from winder.coil.known import with_readings
    from winder.coil.sheet import figure_sheet, sheet_facts
    from winder.commands.known_words import known_facts, print_known
    from winder.commands.recipe import figured
    from winder.recipe.observations import is_made
    from winder.recipe.readings import read_reading

    machine = _machine(arguments.machine)
    _, coil = figured(arguments.recipe, machine)
    readings = [read_reading(text) for text in arguments.known]
    coil = with_readings(coil, [each for each in readings if is_made(each)])
    given = supplied_by(arguments, coil)
    coil = coil if given is None else given.coil
    known = _known(coil, [each for each in readings if not is_made(each)])
    duration_s, note = _duration(coil, machine)
    sheet = figure_sheet(coil, duration_s, machine=machine)
    if arguments.picture is not None:
        _draw(sheet, arguments.picture)
    if arguments.json:
        facts = sheet_facts(sheet)
        facts["remarks"] += [note] if note else []
        if given is not None:
            facts["supply"] = supply_facts(given)
        if known is not None:
            facts["known"] = known_facts(known)
        print(json.dumps(facts, indent=2))
        return 0
    _print_table(sheet, [*sheet.remarks, *([note] if note else [])])
    if known is not None:
        print_known(known)
    for line in supply_lines(given):
        print(line)
    return 0


def _known(coil: Coil, not_made: list[Observation]) -> Known | None:
    """What each reading of the coil told, and what others would tell; None where there is neither."""
    from winder.coil.known import figure_known

    readings = [*coil.recipe.readings, *not_made]
    return figure_known(coil, readings) if readings else None


def _machine(machine_file: str | None) -> MachineProfile:
    from winder.machine.model import SIMULATED_BENCH
    from winder.machine.reader import read_machine

    return SIMULATED_BENCH if machine_file is None else read_machine(machine_file)


def _duration(coil: Coil, machine: MachineProfile) -> tuple[float | None, str]:
    """Seconds by the plan for the machine; or nothing, and why no plan can be made."""
    from winder.coil.winding import complaints
    from winder.plan.planner import make_plan

    if complaints(coil):
        return None, ""  # told by the sheet itself
    try:
        return make_plan(coil, machine).duration_s, ""
    except UserMistake as error:
        return None, f"no time: {machine.name} cannot wind it: {error.what}; {error.remedy}"


def _draw(sheet: Sheet, file: Path) -> None:
    from winder.coil.section_picture import section_svg
    from winder.files.whole_file import write_new_file

    if file.suffix != ".svg":
        raise UserMistake(
            "the picture is an SVG drawing", where=str(file), remedy="give it a name ending in .svg"
        )
    write_new_file(file, section_svg(sheet), "picture")


def _print_table(sheet: Sheet, remarks: list[str]) -> None:
    from winder.coil.narrowing import narrowing_words
    from winder.commands.plain_lines import print_lines
    from winder.commands.plain_table import print_ruled
    from winder.commands.recipe import target_words

    coil = sheet.coil
    print_lines(f"{coil.recipe.name}: {coil.wire.label}, target {target_words(coil.recipe)}")
    print_ruled(("", "value", "95 % low", "95 % high"), list(rows(sheet)), numbers=True)
    print_lines(
        f"band: {narrowing_words(coil)}",
        f"speed: {sheet.speed_advice.why}",
        f"wire: {coil.wire.source}",
        *(f"note: {remark}" for remark in remarks),
    )


def rows(sheet: Sheet) -> Iterator[Row]:
    """The table: name, value, and the 95 % limits of what is not exact."""
    from winder.coil.sheet import turns_in_layer
    from winder.files.dimensions import FLUX_DENSITY, LENGTH, MASS, RESISTANCE, TEMPERATURE
    from winder.files.quantities import show_quantity as show

    coil, recipe = sheet.coil, sheet.coil.recipe
    expected = sheet.turns_for_target
    if coil.wind_long:
        yield ("turns to wind, long", str(coil.turns), "exact", "")
    else:
        yield ("turns", str(coil.turns), "exact", "")
    if expected is not None:
        ends = (f"{expected.nominal:.1f}", f"{expected.low:.1f}", f"{expected.high:.1f}")
        yield ("turns for the target", *ends)
    yield ("turns per layer", f"{coil.turns_per_layer:.1f}", "", "")
    if coil.window is not None:
        first, last = (turns_in_layer(coil, height) for height in (0.0, coil.build_m))
        yield ("  first and last layer", f"{first:.1f} and {last:.1f}", "", "")
    yield ("layers", f"{coil.layers:.1f}", "", "")
    yield _banded("build", sheet.build_m, LENGTH)
    if sheet.flats_build_m != sheet.build_m:
        yield _banded("  on the flat sides", sheet.flats_build_m, LENGTH)
    yield (_fit_words(sheet), *_banded("", sheet.spare_m, LENGTH)[1:])
    yield _scaled("fill, wire with enamel", sheet.fill_fraction, 100, "%")
    yield ("fill, copper", f"{100 * sheet.copper_fill_fraction:.1f} %", "", "")
    yield _banded("wire", sheet.wire_length_m, LENGTH)
    yield _banded("outermost turn", sheet.outer_turn_m, LENGTH)
    if sheet.spool_left:
        yield _banded("left on the spool", sheet.spool_left.length_m, LENGTH)
        yield _banded("left on the spool", sheet.spool_left.mass_kg, MASS)
    yield _banded("resistance at 20 C", coil.resistance_ohm_20c, RESISTANCE)
    if recipe.temperature_c != 20.0:
        at = show(recipe.temperature_c, TEMPERATURE)
        yield _banded(f"resistance at {at}", sheet.resistance_ohm, RESISTANCE)
    yield _banded("copper", sheet.copper_kg, MASS)
    yield _banded("copper and enamel", sheet.wire_kg, MASS)
    yield from _field_rows(sheet, show(recipe.surroundings.field_t, FLUX_DENSITY))
    yield _scaled("tension to wind with", sheet.tension_n, 100, "cN")
    yield ("  at most, where copper yields", f"{sheet.tension_max_n * 100:.3g} cN", "", "")
    advised = sheet.speed_advice.rpm
    yield (
        "speed the wire likes",
        "any" if advised is None else f"up to {advised:.0f} rpm",
        "",
        "",
    )
    yield ("time", _time_words(sheet.duration_s), "", "")


def _field_rows(sheet: Sheet, field: str) -> Iterator[Row]:
    """Inductance, hum, capacitance, resonance."""
    from winder.coil.hum import MAINS_HZ, NEAR_TRANSFORMER_T
    from winder.files.dimensions import CAPACITANCE, INDUCTANCE
    from winder.files.quantities import show_quantity

    around = sheet.coil.recipe.surroundings
    yield _banded("inductance, air core", sheet.inductance_h, INDUCTANCE)
    if around.core_factor != 1.0:
        name = f"inductance, core factor {around.core_factor:g}"
        yield _banded(name, sheet.cored_inductance_h, INDUCTANCE)
    yield _scaled("turns-area", sheet.turns_area_m2, 1, "m2")
    for frequency_hz, band in zip(MAINS_HZ, sheet.hum_v, strict=True):
        yield _scaled(f"hum, {field} along axis, {frequency_hz:.0f} Hz", band, 1e6, "uV")
    if 0 < around.field_t < NEAR_TRANSFORMER_T:
        times = NEAR_TRANSFORMER_T / around.field_t
        yield _scaled("  near a transformer, 1 uT, 50 Hz", sheet.hum_v[0], 1e6 * times, "uV")
    if sheet.self_capacitance_f is None:
        yield ("self-capacitance", "fewer than two layers: not calculated", "", "")
    else:
        yield _banded("self-capacitance, bare coil", sheet.self_capacitance_f, CAPACITANCE)
    if sheet.resonance_hz:
        yield _scaled("resonance alone", sheet.resonance_hz, 1e-3, "kHz")
    if sheet.cable_resonance_hz and around.cable_f:
        cable = show_quantity(around.cable_f, CAPACITANCE, FIGURES)
        yield _scaled(f"resonance with {cable}", sheet.cable_resonance_hz, 1e-3, "kHz")


def _fit_words(sheet: Sheet) -> str:
    if sheet.coil.fits:
        return "fits, room to spare"
    return "may not fit, room to spare" if sheet.spare_m.high > 0 else "does not fit, room to spare"


def _banded(name: str, band: Band, dimension: Dimension) -> Row:
    from winder.files.quantities import show_quantity

    value, low, high = (
        show_quantity(number, dimension, FIGURES) for number in (band.nominal, band.low, band.high)
    )
    return (name, value, low, high)


def _scaled(name: str, band: Band, per_unit: float, unit: str) -> Row:
    value, low, high = (
        f"{number * per_unit:.{FIGURES}g} {unit}" for number in (band.nominal, band.low, band.high)
    )
    return (name, value, low, high)


def _time_words(duration_s: float | None) -> str:
    from winder.files.digits import show_duration

    return "no plan" if duration_s is None else show_duration(duration_s)
