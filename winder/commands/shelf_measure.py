"""``winder shelf measure`` and ``winder shelf edit``: what a person measures and says of a coil later."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from winder.errors import UserMistake, WinderError
from winder.files.digits import show_number

if TYPE_CHECKING:
    from winder.service.shelved import Judged
    from winder.shelf import Logbook
    from winder.shelf.model import CoilRecord, CoilRow
    from winder.shelf.readings import Measured

CAUSES_TOLD = 3


def measure_coil(arguments: argparse.Namespace) -> int:
    """Enters or strikes a reading and tells the verdict. ``UserMistake`` for what is no reading."""
    from winder.commands.typed_answers import ask_tap
    from winder.service.workbench import open_logbook
    from winder.shelf.readings import TAP, Readings, read_measured

    if (arguments.reading is None) is (arguments.strike is None):
        raise UserMistake(
            "either a reading or --strike N",
            where="winder shelf measure",
            remedy="give one of them, as in winder shelf measure 12 '812 ohm, 23 C'",
        )
    if arguments.reading == TAP:
        arguments.reading = ask_tap()
    measured = None if arguments.reading is None else read_measured(arguments.reading)
    with open_logbook(getattr(arguments, "logbook", None)) as logbook:
        record = logbook.coil(arguments.coil)
        readings = Readings(logbook.book)
        if measured is None:
            readings.strike(record.row.coil_id, arguments.strike, arguments.because)
            print(f"reading {arguments.strike} of coil {record.row.coil_id} no longer counts")
            return 0
        judged, why_not = None, ""
        if measured.ohm is not None and measured.temperature_c is not None:
            judged, why_not = _judged(record, measured.ohm, measured.temperature_c)
        added = readings.add(record.row.coil_id, measured, arguments.meter)
    if arguments.json:
        told = {"reading": added.reading_id, "coil": record.row.coil_id, **_facts(judged)}
        told |= {"henry": measured.henry, "farad": measured.farad}
        told["direction"] = None if measured.direction is None else measured.direction.value
        print(json.dumps(told, indent=2))
        return 0
    print(f"reading {added.reading_id} of coil {record.row.coil_id} is in the logbook")
    if measured.ohm is not None and not measured.said_temperature:
        print("no temperature given: assuming the coil is at 20 C")
    for line in [why_not] if judged is None else verdict_lines(judged):
        if line:
            print(line)
    for line in (*_inductance_lines(record, measured), *_tap_lines(record, measured)):
        print(line)
    return 0


def _inductance_lines(record: CoilRecord, measured: Measured) -> list[str]:
    """An inductance, or what two resonances say of it, beside that of the winding in air."""
    from winder.coil.sheet import inductance_band
    from winder.files.dimensions import CAPACITANCE
    from winder.files.quantities import show_quantity
    from winder.service.shelved import coil_as_wound
    from winder.shelf.readings import CAPACITOR_SHARE, FREQUENCY_SHARE, RESONANCE, henry_limits

    if measured.henry is None:
        return []
    lines = []
    if measured.kind == RESONANCE and measured.farad is not None:
        limits = henry_limits(measured.text)
        between = "no limits: take capacitors that differ more"
        if limits is not None:
            between = f"between {_henry(limits[0])} and {_henry(limits[1])}"
        lines.append(
            f"{_henry(measured.henry)}, {between}, where each frequency is within"
            f" {100 * FREQUENCY_SHARE:g} % and each capacitor within {100 * CAPACITOR_SHARE:g} %"
        )
        if measured.farad > 0:
            own = show_quantity(measured.farad, CAPACITANCE, 3)
            lines.append(f"{own} of its own, with what hangs on it: cable and meter")
        else:
            lines.append(
                "that leaves nothing for the coil's own capacitance: check both capacitors"
            )
    try:
        air = inductance_band(coil_as_wound(record))
    except WinderError as error:
        return [*lines, f"no expectation: {error.what}"]
    lines.append(
        f"in air the winding should have {_henry(air.nominal)}, between {_henry(air.low)} and"
        f" {_henry(air.high)}; iron in it gives more"
    )
    return lines


def _henry(value: float) -> str:
    from winder.files.dimensions import INDUCTANCE
    from winder.files.quantities import show_quantity

    return show_quantity(value, INDUCTANCE, 4)


def _tap_lines(record: CoilRecord, measured: Measured) -> list[str]:
    """What a tap test says of the direction, and of what the shelf had."""
    if measured.direction is None:
        return []
    told, had = measured.direction.value, record.row.as_wound
    seen = f"wound {told} from start to finish, seen from the top"
    if told == had:
        return [f"{seen}: as the shelf has it"]
    return [
        f"{seen}: the shelf had {had}",
        "the card and the pair now go by the tap; if red was not on the finish, strike this reading and tap again",
    ]


def _judged(record: CoilRecord, ohm: float, temperature_c: float) -> tuple[Judged | None, str]:
    """The verdict; or why there is none: a reading is kept also where nothing can be expected of the coil."""
    from winder.coil.desk import reading_at
    from winder.service.shelved import judge

    reading_at(ohm, temperature_c)  # what no meter shows of a coil is not entered
    try:
        return judge(record, ohm, temperature_c), ""
    except WinderError as error:
        return None, f"no verdict: {error.what}"


def _ohms(ohm: float) -> str:
    return show_number(ohm, 5)


def verdict_lines(judged: Judged) -> list[str]:
    """What a reading is worth, in words."""
    at, expected = judged.reading.at_wanted, judged.expected_ohm_20c
    lines = [
        f"{_ohms(at.nominal)} ohm at 20 C, between {_ohms(at.low)} and {_ohms(at.high)}",
        f"expected of it as wound: {_ohms(expected.nominal)} ohm, between {_ohms(expected.low)} and"
        f" {_ohms(expected.high)}",
    ]
    if judged.diagnosis is None and judged.beyond:
        lines.append(
            f"{100 * judged.off_share:+.1f} % from the middle: a little outside what was expected; measure again"
        )
        return lines
    if judged.diagnosis is None:
        lines.append(f"as expected: {100 * judged.off_share:+.1f} % from the middle")
        return lines
    lines.append(judged.diagnosis.sentence)
    for cause in judged.diagnosis.causes[:CAUSES_TOLD]:
        lines.append(f"  {cause.words} ({100 * cause.share:.0f} %): {cause.remedy}")
    return lines


def _facts(judged: Judged | None) -> dict[str, Any]:
    if judged is None:
        return {"ohm_20c": None, "expected_ohm_20c": None, "as_expected": None, "causes": []}
    found = judged.diagnosis
    return {
        "ohm_20c": judged.reading.at_wanted.facts(),
        "expected_ohm_20c": judged.expected_ohm_20c.facts(),
        "as_expected": found is None,
        "causes": [
            {"fault": cause.fault.value, "share": cause.share, "words": cause.words}
            for cause in (found.causes if found else ())
        ],
    }


def edit_coil(arguments: argparse.Namespace) -> int:
    """Writes what was said of the coil. ``UserMistake`` where nothing was, or the spool is of other wire."""
    from winder.recipe.model import Direction
    from winder.service.workbench import open_logbook
    from winder.shelf.coil_words import CoilWords

    told = {
        "note": arguments.note,
        "place": arguments.place,
        "start_colour": arguments.start_colour,
        "finish_colour": arguments.finish_colour,
        "spoiled": arguments.spoiled,
    }
    hidden = True if arguments.hide else False if arguments.unhide else None
    direction = None if arguments.direction is None else Direction(arguments.direction)
    said = (*told.values(), hidden, direction, arguments.spool, arguments.recipe)
    nothing = all(each is None for each in said)
    if nothing:
        raise UserMistake(
            "no change was given",
            where="winder shelf edit",
            remedy="add --note, --place or another option; winder shelf edit --help lists them",
        )
    with open_logbook(getattr(arguments, "logbook", None)) as logbook:
        row = logbook.coil(arguments.coil).row
        if arguments.recipe is not None:
            row = tell_recipe(logbook, row, arguments.recipe)
        spool_id = None
        if arguments.spool is not None:
            spool_id = spool_for(logbook, arguments.spool, row.wire)
        CoilWords(logbook.book).say(
            row.coil_id, **told, direction=direction, hidden=hidden, spool_id=spool_id
        )
    print(f"coil {row.coil_id}: written")
    return 0


def tell_recipe(logbook: Logbook, row: CoilRow, path: str) -> CoilRow:
    """Wire and bobbin of a coil that was only counted, and the row as it is then. ``UserMistake`` where it has some."""
    from winder.service.given_files import read_coil

    if row.is_known:
        raise UserMistake(
            f"has wire and bobbin on record already: {row.wire}",
            where=f"coil {row.coil_id}",
            remedy="only a coil that was just counted can be given a recipe",
        )
    coil = read_coil(path)
    if coil.recipe.direction.value != row.direction:
        raise UserMistake(
            f"winds {coil.recipe.direction.value}, and coil {row.coil_id} was wound {row.direction}",
            where=path,
            remedy="change the direction in the recipe",
        )
    logbook.tell_recipe(row.coil_id, coil.recipe, coil)
    return logbook.coil(str(row.coil_id)).row


def spool_for(logbook: Logbook, name: str, wire: str) -> int:
    """The spool's number. ``UserMistake`` for one that is not there or has other wire."""
    from winder.shelf.spools import Spools

    spool = Spools(logbook.book).named(name)
    if spool.label != wire:
        raise UserMistake(
            f"spool '{name}' has {spool.label}, the coil {wire}",
            where="--spool",
            remedy="name the spool that it was wound from",
        )
    return spool.spool_id
