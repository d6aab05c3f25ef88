"""``winder desk``: sums that are wanted at the bench outside any wind.

``reading`` brings ohms to another temperature, ``turns`` tells how many turns an unknown coil has and what to
take off, ``gauge`` which wire a piece is. Nothing is read or written but the recipe.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from winder.commands.known_option import add_known_option, readings_of
from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake
from winder.files.digits import show_number

if TYPE_CHECKING:
    from winder.coil.desk import GaugeFound, ReadingAt, UnknownCoil
    from winder.coil.model import Coil
    from winder.files.amounts import MeasuredOhms
    from winder.files.dimensions import Dimension
    from winder.machine.instruments import Instruments
    from winder.machine.model import MachineProfile

_DESCRIPTION = """\
Sums for the bench: a reading at another temperature, the turns of an unknown
coil, the gauge of a wire. Every quantity is a number, one space and a unit.
Limits are 95 %, for the instruments in your machine file (--machine), or for
an ordinary hand meter and thermometer."""

_EXAMPLES = """\
examples:
  winder desk reading '832 ohm, 27 C'               what it is at 20 C
  winder desk turns kalimba.toml '812 ohm, 23 C'    how many turns it has
  winder desk gauge --over '0.071 mm'               which wire this is"""

_READING = """\
Correct the ohms of a copper coil to 20 C, or to another temperature. Copper
changes by 0.39 % a kelvin."""

_READING_EXAMPLES = """\
examples:
  winder desk reading '832 ohm, 27 C'
  winder desk reading '832 ohm, 27 C' --to '23 C'
  winder desk reading '5.6 kohm, 24 C' --json"""

_TURNS = """\
Estimate how many turns an unknown coil has. The recipe gives the wire and bobbin;
its target does not matter. A measured build and readings of the wire
narrow the answer."""

_TURNS_EXAMPLES = """\
examples:
  winder desk turns kalimba.toml '812 ohm, 23 C'
  winder desk turns kalimba.toml '812 ohm, 23 C' --build '1.9 mm'
  winder desk turns kalimba.toml '812 ohm, 23 C' --reach '780 ohm'
                                       what to take off for 780 ohm at 20 C
  winder desk turns kalimba.toml '812 ohm' --known 'tail, 20 m, 108 ohm, 22 C'"""

_GAUGE = """\
Find which wire in the tables a piece may be: by its diameter, over the enamel or
bare, or by the ohms of a length. Ohms say nothing about the enamel."""

_GAUGE_EXAMPLES = """\
examples:
  winder desk gauge --over '0.071 mm'
  winder desk gauge --bare '2.5 mil'
  winder desk gauge --piece '20 m, 108.6 ohm, 22 C'"""

READING_LIKE = "'832 ohm, 27 C'"
PIECE_LIKE = "'20 m, 108 ohm, 22 C'"
PIECE_SHORT_OHM = 100.0


def add_parser(subparsers: Any) -> None:
    desk = verb_parser(subparsers, "desk", "sums for the bench", _DESCRIPTION, _EXAMPLES)
    verbs = desk.add_subparsers(title="verbs", metavar="VERB", required=True)
    reading = verb_parser(
        verbs, "reading", "ohms at another temperature", _READING, _READING_EXAMPLES
    )
    reading.add_argument("reading", metavar="READING", help="as in '832 ohm, 27 C'")
    reading.add_argument("--to", metavar="C", default="20 C", help="temperature (default: 20 C)")
    _json(reading, run_reading)
    turns = verb_parser(verbs, "turns", "turns of an unknown coil", _TURNS, _TURNS_EXAMPLES)
    turns.add_argument("recipe", metavar="RECIPE", help="recipe with its wire and bobbin")
    turns.add_argument("reading", metavar="READING", help="of the coil, as in '812 ohm, 23 C'")
    turns.add_argument("--build", metavar="LENGTH", help="height of the winding above the core")
    turns.add_argument("--reach", metavar="OHMS", help="ohms you want at 20 C")
    add_known_option(turns)
    _json(turns, run_turns)
    gauge = verb_parser(verbs, "gauge", "which wire a piece is", _GAUGE, _GAUGE_EXAMPLES)
    ways = gauge.add_mutually_exclusive_group(required=True)
    ways.add_argument("--over", metavar="LENGTH", help="diameter over the enamel")
    ways.add_argument("--bare", metavar="LENGTH", help="diameter of the bare copper")
    ways.add_argument(
        "--piece", metavar="PIECE", help="length and ohms, as in '20 m, 108 ohm, 22 C'"
    )
    _json(gauge, run_gauge)


def _bench(arguments: argparse.Namespace) -> MachineProfile | None:
    """What is measured with; None: an ordinary hand meter. ``UserMistake`` as ``read_machine``."""
    from winder.machine.reader import read_machine

    return None if arguments.machine is None else read_machine(arguments.machine)


def _meter(arguments: argparse.Namespace) -> Instruments | None:
    bench = _bench(arguments)
    return None if bench is None else bench.instruments


def _json(parser: argparse.ArgumentParser, run: Any) -> None:
    parser.add_argument(
        "--machine",
        metavar="FILE",
        help="machine file that says what you measure with (default: an ordinary hand meter)",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.set_defaults(run=run)


# --- reading ------------------------------------------------------------------------------------


def run_reading(arguments: argparse.Namespace) -> int:
    """Prints the reading at the other temperature. ``UserMistake`` for what is no reading."""
    from winder.coil.desk import reading_at
    from winder.files.dimensions import TEMPERATURE

    read = _measured(arguments.reading)
    wanted = _quantity(arguments.to, TEMPERATURE, "--to")
    told = reading_at(read.ohm, read.celsius, _meter(arguments), wanted)
    if arguments.json:
        return _print_json(_reading_facts(told))
    if not read.noted_c:
        print("no temperature given: assuming the coil is at 20 C")
    band = told.at_wanted
    print(
        f"{_ohms(band.nominal)} at {wanted:g} C, between {_ohms(band.low)} and {_ohms(band.high)}"
    )
    print(
        f"one kelvin makes {_ohms(told.by_kelvin)}; the meter leaves {_ohms(told.by_meter)} open,"
        f" the thermometer {_ohms(told.by_thermometer)}"
    )
    return 0


def _reading_facts(told: ReadingAt) -> dict[str, Any]:
    return {
        "ohm": told.ohm,
        "temperature_c": told.temperature_c,
        "to_c": told.wanted_c,
        "ohm_there": told.at_wanted.facts(),
        "ohm_per_kelvin": told.by_kelvin,
        "ohm_by_meter": told.by_meter,
        "ohm_by_thermometer": told.by_thermometer,
    }


# --- turns --------------------------------------------------------------------------------------


def run_turns(arguments: argparse.Namespace) -> int:
    """Prints the turns and what to take off. ``UserMistake`` for recipe, reading or values that cannot be."""
    from winder.coil.desk import reading_at, unknown_coil
    from winder.coil.known import with_readings
    from winder.commands.recipe import figured
    from winder.files.dimensions import LENGTH, RESISTANCE

    read = _measured(arguments.reading)
    build = None if arguments.build is None else _quantity(arguments.build, LENGTH, "--build")
    reach = None if arguments.reach is None else _quantity(arguments.reach, RESISTANCE, "--reach")
    _, coil = figured(arguments.recipe, _bench(arguments))
    coil = with_readings(coil, readings_of(arguments))
    at_20c = reading_at(read.ohm, read.celsius, _meter(arguments))
    found = unknown_coil(coil, at_20c, build_m=build, reach_ohm_20c=reach)
    if arguments.json:
        return _print_json(_turns_facts(found))
    if not read.noted_c:
        print("no temperature given: assuming the coil is at 20 C")
    _print_turns(found, coil)
    return 0


def _print_turns(found: UnknownCoil, coil: Coil) -> None:
    turns = found.turns
    print(
        f"about {turns.nominal:.0f} turns, between {turns.low:.0f} and {turns.high:.0f};"
        f" {show_number(found.wire_m, 4)} m of {coil.wire.label}"
    )
    if found.build_m is None:
        print("measure the build (--build): then it no longer matters how tightly it is wound")
    if not coil.recipe.readings:
        print(
            "measure a piece of the same wire (--known 'tail, 20 m, ... ohm, 22 C') for a narrower band"
        )
    off, reach = found.take_off, found.reach_ohm_20c
    if off is None or reach is None:
        return
    if round(off.nominal) > 0:
        print(
            f"take off {off.nominal:.0f} turns for {_ohms(reach)} at 20 C"
            f" (between {off.low:.0f} and {off.high:.0f}); take off fewer first, and measure again"
        )
    elif round(off.nominal) < 0:
        print(f"{-off.nominal:.0f} turns are missing for {_ohms(reach)} at 20 C")
    else:
        print(f"it has {_ohms(reach)} at 20 C, within half a turn")


def _turns_facts(found: UnknownCoil) -> dict[str, Any]:
    return {
        "ohm_20c": found.ohm_20c.facts(),
        "turns": found.turns.facts(),
        "wire_m": found.wire_m,
        "outer_turn_ohm_20c": found.outer_turn_ohm,
        "reach_ohm_20c": found.reach_ohm_20c,
        "take_off_turns": None if found.take_off is None else found.take_off.facts(),
    }


# --- gauge --------------------------------------------------------------------------------------


def run_gauge(arguments: argparse.Namespace) -> int:
    """Prints the wires that the piece may be of. ``UserMistake`` where there are none."""
    from winder.coil.desk import gauge_by_diameter, gauge_by_ohms
    from winder.files.dimensions import LENGTH

    short = False
    if arguments.piece is not None:
        piece = _measured(arguments.piece, piece=True)
        found = gauge_by_ohms(piece.length_m, piece.ohm, piece.celsius, _meter(arguments))
        short = piece.ohm < PIECE_SHORT_OHM
    else:
        bare = arguments.bare is not None
        option = "--bare" if bare else "--over"
        text = arguments.bare if bare else arguments.over
        found = gauge_by_diameter(_quantity(text, LENGTH, option), bare=bare)
    if arguments.json:
        return _print_json(_gauge_facts(found))
    _print_gauge(found, film=arguments.over is not None)
    if short:
        print("this piece is short: measure one with more than 100 ohm")
    return 0


def _print_gauge(found: GaugeFound, *, film: bool) -> None:
    scale, unit = (1.0, "ohm/m at 20 C") if found.by_ohms else (1e3, "mm")
    band = found.measured
    print(
        f"{band.nominal * scale:.4g} {unit}, between {band.low * scale:.4g} and {band.high * scale:.4g}"
    )
    for match in found.matches:
        verdict = "can be" if match.fits else "not to standard"
        print(
            f"  {_label(match.facts.label, film):22} {verdict:16} {100 * match.off:+.1f} % off nominal"
        )


def _label(label: str, film: bool) -> str:
    """Without the film where it was not measured."""
    return label if film else label.split(" single")[0].split(" grade")[0]


def _gauge_facts(found: GaugeFound) -> dict[str, Any]:
    return {
        "by": "ohms" if found.by_ohms else "diameter",
        "measured": found.measured.facts(),
        "wires": [
            {
                "wire": match.facts.label,
                "fits": match.fits,
                "off_share": match.off,
                "bare_m": match.facts.bare_m,
                "overall_m": match.facts.overall_m,
                "ohm_per_m": match.facts.ohm_per_m.facts(),
            }
            for match in found.matches
        ],
    }


# --- small change -------------------------------------------------------------------------------


def _measured(text: str, *, piece: bool = False) -> MeasuredOhms:
    from winder.files.amounts import read_measured_ohms
    from winder.files.quantities import QuantityError

    try:
        return read_measured_ohms(text, PIECE_LIKE if piece else READING_LIKE, length=piece)
    except QuantityError as wrong:
        raise UserMistake(wrong.what, where="reading", remedy=wrong.remedy) from None


def _quantity(text: str, dimension: Dimension, where: str) -> float:
    from winder.files.quantities import QuantityError, read_quantity

    try:
        return read_quantity(text, dimension)
    except QuantityError as wrong:
        raise UserMistake(wrong.what, where=where, remedy=wrong.remedy) from None


def _ohms(ohm: float) -> str:
    from winder.files.quantities import show_resistance

    return show_resistance(ohm, 4)


def _print_json(facts: dict[str, Any]) -> int:
    import json

    print(json.dumps(facts, indent=2))
    return 0
