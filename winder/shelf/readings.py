"""Readings of a coil on the shelf: added, struck out with a reason, never changed.

As a person writes them: ``812 ohm, 23 C``, ``inductance, 1.8 H`` or ``resonance, 7.1 kHz with 470 pF``. Of a
resonance the words are kept; ohms and inductance are kept as values too, as the meter showed them.
"""

from __future__ import annotations

import math
import sqlite3
from dataclasses import dataclass
from typing import Any

from winder.clock import date_now
from winder.errors import UserMistake
from winder.files.amounts import parts_of, read_measured_ohms
from winder.files.dimensions import INDUCTANCE, Dimension
from winder.files.quantities import QuantityError, quoted, read_quantity
from winder.shelf.book import Book, clean

OHM, INDUCTANCE_KIND, RESONANCE = "ohm", "inductance", "resonance"
KINDS = (OHM, INDUCTANCE_KIND, RESONANCE)
TEXT_MAX = 200
LIKE = "'812 ohm, 23 C', 'inductance, 1.8 H' or 'resonance, 7.1 kHz with 470 pF'"


@dataclass(frozen=True, slots=True)
class Measured:
    """What one reading says, before it is on record. ``ohm`` as shown, at ``temperature_c``."""

    kind: str
    text: str
    ohm: float | None = None
    temperature_c: float | None = None
    henry: float | None = None
    said_temperature: bool = True


@dataclass(frozen=True, slots=True)
class Reading:
    """One on record."""

    reading_id: int
    coil_id: int
    measured: Measured
    meter: str
    date: str
    struck: str  # why it does not count; "": it counts


def read_measured(text: str) -> Measured:
    """A reading as typed. Raises ``UserMistake`` that says what is missing or wrong."""
    if len(text) > TEXT_MAX:
        raise _mistake(f"a reading of {len(text)} letters", "say it in fewer words")
    try:
        first, *rest = parts_of(text)
    except QuantityError as wrong:
        raise _mistake(wrong.what, wrong.remedy) from None
    if first == RESONANCE:
        if not any(rest):
            raise _mistake(f"{quoted(text)} says nothing that was measured", f"write {LIKE}")
        return Measured(RESONANCE, text)
    if first == INDUCTANCE_KIND:
        if len(rest) != 1:
            raise _mistake(f"{quoted(text)} is no inductance", f"write {LIKE}")
        return Measured(INDUCTANCE_KIND, text, henry=_positive(rest[0], INDUCTANCE))
    try:
        found = read_measured_ohms(", ".join(rest if first == OHM else [first, *rest]), LIKE)
    except QuantityError as wrong:
        raise _mistake(wrong.what, wrong.remedy) from None
    return Measured(OHM, text, found.ohm, found.celsius, said_temperature=found.noted_c)


def _positive(text: str, dimension: Dimension) -> float:
    value = _quantity(text, dimension)
    if not 0 < value < math.inf:
        raise _mistake(f"{quoted(text)} is not more than nothing", "measure again")
    return value


def _quantity(text: str, dimension: Dimension) -> float:
    try:
        return read_quantity(text, dimension)
    except QuantityError as wrong:
        raise _mistake(wrong.what, f"{wrong.remedy}; write {LIKE}") from None


def _mistake(what: str, remedy: str) -> UserMistake:
    return UserMistake(what, where="reading", remedy=remedy)


class Readings:
    """The readings in a book. Raises ``WinderError`` as ``Book`` does."""

    def __init__(self, book: Book) -> None:
        self._book = book

    def add(self, coil_id: int, measured: Measured, meter: str = "") -> Reading:
        """Enter one, committed."""
        with self._book.transaction() as execute:
            number = add_reading(execute, coil_id, measured, meter)
        (added,) = (each for each in self.of(coil_id) if each.reading_id == number)
        return added

    def strike(self, coil_id: int, reading_id: int, reason: str) -> None:
        """It stays to be seen and no longer counts. ``UserMistake`` for one that is not this coil's."""
        if not reason.strip():
            raise _mistake(
                "struck out without a reason", "say why, as in --because 'leads touched'"
            )
        if all(each.reading_id != reading_id for each in self.of(coil_id)):
            raise _mistake(
                f"coil {coil_id} has no reading {reading_id}",
                f"'winder shelf show {coil_id}' numbers its readings",
            )
        with self._book.transaction() as execute:
            sql = "UPDATE readings SET struck = ? WHERE id = ? AND struck = ''"
            execute(sql, (clean(reason.strip()), reading_id))

    def of(self, coil_id: int) -> tuple[Reading, ...]:
        """All of a coil, struck ones too, oldest first."""
        with self._book.reading() as execute:
            found = execute("SELECT * FROM readings WHERE coil = ? ORDER BY id", (coil_id,))
            return tuple(reading_row(row) for row in found)


def add_reading(execute: Any, coil_id: int, measured: Measured, meter: str = "") -> int:
    """Inside a transaction; the reading's number."""
    values = (
        coil_id,
        measured.kind,
        clean(measured.text),
        measured.ohm,
        measured.temperature_c,
        measured.henry,
        clean(meter),
        date_now(),
    )
    sql = "INSERT INTO readings (coil, kind, text, ohm, temperature_c, henry, meter, date)"
    return int(execute(f"{sql} VALUES (?, ?, ?, ?, ?, ?, ?, ?)", values).lastrowid)


def reading_row(row: sqlite3.Row) -> Reading:
    measured = Measured(row["kind"], row["text"], row["ohm"], row["temperature_c"], row["henry"])
    return Reading(row["id"], row["coil"], measured, row["meter"], row["date"], row["struck"])
