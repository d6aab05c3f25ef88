"""Readings of a coil on the shelf: added, struck out with a reason, never changed.

As a person writes them: ``812 ohm, 23 C``, ``inductance, 1.8 H``, ``resonance, 7.1 kHz with 470 pF, 9.8 kHz with
100 pF`` or ``tap, up, north``. The words are always kept, and what they are worth: ohms and inductance as the meter
showed them, of two resonances the inductance, of a tap test the direction of the winding.
"""

from __future__ import annotations

import itertools
import math
import sqlite3
from typing import Any

from firmware_protocol.records import dataclass
from winder.clock import date_now
from winder.coil.capacitance import of_two_resonances
from winder.errors import UserMistake
from winder.files.amounts import parts_of, read_measured_ohms
from winder.files.dimensions import CAPACITANCE, FREQUENCY, INDUCTANCE, Dimension
from winder.files.quantities import QuantityError, quoted, read_quantity
from winder.pair.backwards import tapped_direction
from winder.pair.signs import Mounted, Pole
from winder.recipe.model import Direction
from winder.shelf.book import Book, clean

OHM, INDUCTANCE_KIND, RESONANCE, TAP = "ohm", "inductance", "resonance", "tap"
TEXT_MAX = 200
LIKE = "'812 ohm, 23 C', 'inductance, 1.8 H', 'resonance, 7.1 kHz with 470 pF' or 'tap, up, north'"
TAP_LIKE = "write 'tap, up, north' or 'tap, down, south, top away'"
KICKS = {"up": 1, "down": -1}  # of the meter when steel is pulled off the pole
SIDES = {"top to the string": Mounted.TOP_TO_STRING, "top away": Mounted.TOP_AWAY}
# How far a person's instruments may be off; our judgement of usual ones, no source.
FREQUENCY_SHARE, CAPACITOR_SHARE = 0.01, 0.05


@dataclass(frozen=True, slots=True)
class Measured:
    """What one reading says, before it is on record. ``ohm`` as shown, at ``temperature_c``."""

    kind: str
    text: str
    ohm: float | None = None
    temperature_c: float | None = None
    henry: float | None = None
    farad: float | None = None  # of the coil's own, by two resonances
    said_temperature: bool = True
    direction: Direction | None = None  # by a tap test


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
        raise _mistake(f"a reading of {len(text)} letters", "use fewer words")
    try:
        first, *rest = parts_of(text)
    except QuantityError as wrong:
        raise _mistake(wrong.what, wrong.remedy) from None
    if first == RESONANCE:
        if not any(rest):
            raise _mistake(f"{quoted(text)} has no measured value", f"write {LIKE}")
        return _resonance(text, rest)
    if first == TAP:
        return _tap(text, rest)
    if first == INDUCTANCE_KIND:
        if len(rest) != 1:
            raise _mistake(f"{quoted(text)} is not an inductance", f"write {LIKE}")
        return Measured(INDUCTANCE_KIND, text, henry=_positive(rest[0], INDUCTANCE))
    try:
        found = read_measured_ohms(", ".join(rest if first == OHM else [first, *rest]), LIKE)
    except QuantityError as wrong:
        raise _mistake(wrong.what, wrong.remedy) from None
    return Measured(OHM, text, found.ohm, found.celsius, said_temperature=found.noted_c)


def _resonance(text: str, rest: list[str]) -> Measured:
    """With two known capacitors it has an inductance; else the words are all."""
    parts = [part.partition(" with ") for part in rest]
    if len(parts) != 2 or not all(known for _, _, known in parts):
        return Measured(RESONANCE, text)
    pairs = [(_positive(hz, FREQUENCY), _positive(f, CAPACITANCE)) for hz, _, f in parts]
    try:
        henry, farad = of_two_resonances(*pairs[0], *pairs[1])
    except ValueError:
        raise _mistake(
            "the larger capacitor must give the lower frequency",
            "check which capacitor goes with which frequency, and use two that differ more",
        ) from None
    return Measured(RESONANCE, text, henry=henry, farad=farad)


def henry_limits(text: str) -> tuple[float, float] | None:
    """How far the inductance of two resonances may be off at worst; None: no limits."""
    parts = [part.split(" with ") for part in text.split(",")[1:]]
    (one_hz, one_f), (other_hz, other_f) = (
        (_positive(hz.strip(), FREQUENCY), _positive(f.strip(), CAPACITANCE)) for hz, f in parts
    )
    hz, f = (1 - FREQUENCY_SHARE, 1 + FREQUENCY_SHARE), (1 - CAPACITOR_SHARE, 1 + CAPACITOR_SHARE)
    try:
        worst = [
            of_two_resonances(one_hz * a, one_f * b, other_hz * c, other_f * d)[0]
            for a, b, c, d in itertools.product(hz, f, hz, f)
        ]
    except ValueError:  # too near each other to tell
        return None
    return min(worst), max(worst)


def _tap(text: str, rest: list[str]) -> Measured:
    """Which way the meter jumped when steel was pulled off, which pole that was, and whether at the top's side."""
    told = dict(enumerate(rest))
    kick, pole, side = told.get(0), told.get(1), told.get(2, "top to the string")
    if len(rest) > 3 or kick not in KICKS or side not in SIDES or pole not in _POLES:
        raise _mistake(f"{quoted(text)} is not a tap test", TAP_LIKE)
    return Measured(TAP, text, direction=tapped_direction(KICKS[kick], _POLES[pole], SIDES[side]))


_POLES = {pole.value: pole for pole in Pole}


def _positive(text: str, dimension: Dimension) -> float:
    value = _quantity(text, dimension)
    if not 0 < value < math.inf:
        raise _mistake(f"{quoted(text)} must be above zero", "measure again")
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
    if measured.kind == TAP:
        measured = read_measured(measured.text)
    return Reading(row["id"], row["coil"], measured, row["meter"], row["date"], row["struck"])
