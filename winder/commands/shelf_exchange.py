"""``winder shelf export``, ``import`` and ``copy``: the whole shelf out, in again, and a copy to keep."""

from __future__ import annotations

import argparse
import csv
import io
import json
from pathlib import Path
from typing import Any

from winder.errors import UserMistake

IN_A_SHEET_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
COLUMNS = (
    "number", "name", "state", "turns_low", "turns_high", "wanted", "wire", "direction", "begun",
    "ohm_20c_measured", "ohm_20c_expected", "ohm_20c_low", "ohm_20c_high", "spool", "place",
    "start_colour", "finish_colour", "note", "spoiled", "hidden", "simulated",
)  # fmt: skip


def export_shelf(arguments: argparse.Namespace) -> int:
    """Writes a new file: everything as JSON, or a table of the coils as CSV."""
    from winder.files.whole_file import write_new_file
    from winder.shelf import Logbook
    from winder.shelf.exchange import shelf_rows

    file: Path = arguments.file
    if file.suffix not in (".json", ".csv"):
        raise UserMistake(
            "a shelf is exported as .json, whole, or as .csv, a table",
            where=str(file),
            remedy="give the file one of these endings",
        )
    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        coils = logbook.coils()
        if file.suffix == ".json":
            text = json.dumps(shelf_rows(logbook.book), indent=1) + "\n"
        else:
            text = csv_text(coils)
    write_new_file(file, text, "export")
    print(f"{len(coils)} {'coil is' if len(coils) == 1 else 'coils are'} in {file}")
    return 0


def csv_text(coils: Any) -> str:
    """One line for each coil. Words that a table program would take for a formula get an apostrophe before them."""
    from winder.commands.shelf_show import ohms_at_20c

    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    for coil in coils:
        said, expected = coil.said, coil.ohm_20c if coil.is_known else ("", "", "")
        turns = coil.turns or ("", "")
        measured = ohms_at_20c(coil.measured_ohm, coil.measured_at_c)
        row = (
            coil.coil_id, coil.name, coil.state, *turns, coil.target_turns, coil.wire,
            coil.as_wound, coil.date, measured, *expected, said.spool, said.place,
            *said.colours, said.note, said.spoiled, int(said.hidden), int(coil.simulated),
        )  # fmt: skip
        table.writerow([defused(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()


def defused(text: str) -> str:
    """Words that no table program takes for a formula (OWASP, CSV injection)."""
    return f"'{text}" if text.startswith(IN_A_SHEET_A_FORMULA) else text


def import_shelf(arguments: argparse.Namespace) -> int:
    """Enters an exported shelf beside what is there, all of it or nothing."""
    from winder.service.workbench import open_logbook
    from winder.shelf.exchange import take_in

    file: Path = arguments.file
    try:
        told = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        reason = getattr(error, "strerror", None) or "it is not JSON"
        raise UserMistake(
            f"cannot be read ({reason})", where=str(file), remedy="name a file of 'shelf export'"
        ) from None
    with open_logbook(getattr(arguments, "logbook", None)) as logbook:
        coils = take_in(logbook.book, told, str(file))
    print(f"{coils} coils came in, with new numbers")
    return 0


def copy_shelf(arguments: argparse.Namespace) -> int:
    """A copy of the logbook, also while a wind goes on."""
    from winder.shelf import Logbook
    from winder.shelf.exchange import copy_to

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        copy_to(logbook.book, arguments.file)
    print(f"copied to {arguments.file}; use it with --logbook {arguments.file}")
    return 0
