"""``winder shelf show``: one coil with its readings, its runs and their journals."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from winder.commands.plain_lines import print_lines
from winder.commands.plain_table import PlainTable
from winder.files.digits import show_number

if TYPE_CHECKING:
    from winder.shelf.model import CoilRecord, CoilRow, RunRecord
    from winder.shelf.readings import Reading


def show_coil(arguments: argparse.Namespace) -> int:
    from winder.shelf import Logbook
    from winder.shelf.readings import Readings

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        record = logbook.coil(arguments.coil)
        readings = Readings(logbook.book).of(record.row.coil_id)
    if arguments.json:
        print(json.dumps(_record_facts(record, readings), indent=2))
        return 0
    row = record.row
    facts = PlainTable("coil", f"number {row.coil_id}")
    for name, value in (
        ("name", row.name),
        ("state", row.state),
        ("turns", row.turns_text),
        ("turns wanted", str(row.target_turns)),
        ("direction", direction_words(row)),
        ("leads", _leads(row)),
        ("wire", row.wire),
        ("ohms at 20 C", _ohms(row)),
        ("begun", row.date),
        ("how sure", row.truth_text),
        ("spool", row.said.spool),
        ("place", row.said.place),
        ("note", row.said.note),
        ("spoiled", row.said.spoiled),
        ("hidden", "in lists, but with --hidden" if row.said.hidden else ""),
        ("simulated", "on the simulated machine" if row.simulated else ""),
        ("splices", splices(record)),
    ):
        if value:
            facts.add_row(name, value)
    facts.print()
    _print_readings(readings)
    for run in record.runs:
        _print_run(run, every_line=arguments.all)
    if record.recipe_text:
        print_lines("", "recipe as it was read:", record.recipe_text)
    return 0


def _print_readings(readings: Sequence[Reading]) -> None:
    from winder.shelf.readings import RESONANCE

    if not readings:
        return
    print()
    table = PlainTable("reading", "day", "text", "ohms at 20 C")
    for each in readings:
        measured = each.measured
        text = measured.text + (f", {each.meter}" if each.meter else "")
        if measured.kind == RESONANCE and measured.henry is not None:
            text += f" ({measured.henry:.4g} H)"
        text += f" (struck out: {each.struck})" if each.struck else ""
        at_20c = ohms_at_20c(measured.ohm, measured.temperature_c)
        value = "" if at_20c is None else show_number(at_20c, 5)
        table.add_row(str(each.reading_id), each.date[:10], text, value)
    table.print()


def ohms_at_20c(ohm: float | None, temperature_c: float | None) -> float | None:
    """As shown, brought to 20 C; without a temperature as it is."""
    from winder.files.quantities import copper_factor

    if ohm is None or temperature_c is None:
        return ohm
    return ohm / copper_factor(temperature_c)


def direction_words(row: CoilRow) -> str:
    said = ", as declared" if row.said.direction else ""
    said = ", by a tap test" if row.tapped else said
    return f"{row.as_wound}, seen from the top of the coil{said}"


def _leads(row: CoilRow) -> str:
    start, finish = row.said.colours
    told = [("S, the start", start), ("F, the finish", finish)]
    return ", ".join(f"{name}: {colour}" for name, colour in told if colour)


def splices(record: CoilRecord) -> str:
    """Joints of the wire as the journals tell them."""
    lines = (line for run in record.runs for line in run.lines if line.kind == "wire")
    return ", ".join(line.text for line in lines if line.text.startswith("splice"))


def _print_run(run: RunRecord, *, every_line: bool) -> None:
    seed = "" if run.simulated_seed is None else f", simulated with seed {run.simulated_seed}"
    end = f"ended {run.ended}: {run.how}" if run.ended else "has no recorded end"
    print_lines(
        "",
        f"run {run.run_id} on {run.machine_name} at {run.port}{seed}, wind {run.wind}",
        f"from turn {run.first_turn}, started {run.started}, {end}",
    )
    table = PlainTable("line", "time", "kind", "turn", "text")
    for line in run.lines:
        if line.kind == "count" and not every_line:
            continue
        turn = "" if line.counts is None else f"{line.counts / run.counts_per_turn:.2f}"
        seconds = f"{(line.at_ns - run.lines[0].at_ns) / 1e9:.2f} s"
        table.add_row(str(line.number), seconds, line.kind, turn, line.text)
    table.print()
    routine = sum(line.kind == "count" for line in run.lines)
    if routine and not every_line:
        print_lines(f"and {routine} counts committed while winding; --all shows them")


def _band(coil: CoilRow) -> str:
    _, low, high = coil.ohm_20c
    return f"{show_number(low, 4)} to {show_number(high, 4)}"


def _ohms(coil: CoilRow) -> str:
    text = f"{show_number(coil.ohm_20c[0], 4)} ({_band(coil)})" if coil.is_known else "not known"
    if coil.measured_ohm is not None:
        at = "" if coil.measured_at_c is None else f" at {coil.measured_at_c:g} C"
        text += f", measured {show_number(coil.measured_ohm, 5)}{at}"
    return text


def row_facts(coil: CoilRow) -> dict[str, Any]:
    facts = _fields(coil)
    del facts["truth"]
    facts["said"] = _fields(coil.said)
    facts["count"] = _count_facts(coil)
    facts["turns"] = coil.turns
    facts["turns_text"] = coil.turns_text
    facts["state_text"] = coil.state_text
    facts["as_wound"] = coil.as_wound
    facts["measured_ohm_20c"] = ohms_at_20c(coil.measured_ohm, coil.measured_at_c)
    return facts


def _fields(of: Any) -> dict[str, Any]:
    """As ``asdict``, without copies: a shelf has thousands."""
    return {name: getattr(of, name) for name in of.__slots__}


def _record_facts(record: CoilRecord, readings: Sequence[Reading]) -> dict[str, Any]:
    import dataclasses

    runs = []
    for run in record.runs:
        facts = dataclasses.asdict(run)
        for line in facts["lines"]:
            del line["deeds"]
        for leg in facts["plan"]["legs"]:
            leg["at_end"] = leg["at_end"].value
        runs.append(facts)
    return {
        **row_facts(record.row),
        "recipe_text": record.recipe_text,
        "recipe": record.recipe_facts,
        "expected": record.coil_facts,
        "readings": [reading_facts(each) for each in readings],
        "runs": runs,
    }


def reading_facts(reading: Reading) -> dict[str, Any]:
    """One reading as ``--json`` tells it."""
    measured = reading.measured
    return {
        "reading": reading.reading_id,
        "kind": measured.kind,
        "text": measured.text,
        "ohm": measured.ohm,
        "temperature_c": measured.temperature_c,
        "ohm_20c": ohms_at_20c(measured.ohm, measured.temperature_c),
        "henry": measured.henry,
        "direction": None if measured.direction is None else measured.direction.value,
        "meter": reading.meter,
        "date": reading.date,
        "struck": reading.struck,
    }


def _count_facts(coil: CoilRow) -> dict[str, Any]:
    """Counts of the coil and how sure they are; ``high`` null: nobody knows how many more."""
    truth = coil.truth
    return {
        "certainty": truth.certainty.value,
        "low": truth.low,
        "best": truth.best,
        "high": None if truth.is_open else truth.high,
        "by": truth.by,
        "why": truth.why,
        "counts_per_turn": coil.counts_per_turn,
    }
