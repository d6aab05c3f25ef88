"""Spools in the logbook: what each held, its tails and weighings, and which coils were wound from it."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from firmware_protocol.records import dataclass
from winder.clock import date_now
from winder.errors import UserMistake
from winder.recipe.model import AwgWire, MeasuredWire, MetricWire, Wire
from winder.recipe.observations import SpoolTail
from winder.shelf.book import Book, clean
from winder.shelf.facts import to_json

WIRES: dict[str, type[Any]] = {kind.__name__: kind for kind in (AwgWire, MetricWire, MeasuredWire)}
NAME_MAX = 60


@dataclass(frozen=True, slots=True)
class Weighing:
    gross_kg: float
    after_coil: int  # the newest coil of the spool then; 0: none
    date: str


@dataclass(frozen=True, slots=True)
class Spool:
    """One spool as told. Lengths in metres, masses in kilograms; ``coils`` by number, oldest first."""

    spool_id: int
    name: str
    wire: Wire
    label: str
    length_m: float | None
    gross_kg: float | None
    tare_kg: float
    note: str
    begun: str
    tails: tuple[SpoolTail, ...]
    weighings: tuple[Weighing, ...]
    coils: tuple[int, ...]


class Spools:
    """The spools in a book. Raises ``WinderError`` as ``Book`` does."""

    def __init__(self, book: Book) -> None:
        self._book = book

    def add(
        self,
        name: str,
        wire: Wire,
        label: str,
        *,
        length_m: float | None = None,
        gross_kg: float | None = None,
        tare_kg: float = 0.0,
        note: str = "",
    ) -> Spool:
        """A new one, committed. ``UserMistake`` for a name that is taken or cannot be one."""
        name = clean(name.strip())
        if not name or len(name) > NAME_MAX or not name.isprintable():
            raise UserMistake(
                "a spool needs a short name",
                where="name",
                remedy=f"give 1 to {NAME_MAX} letters that can be printed",
            )
        if any(each.name == name for each in self.all()):
            raise UserMistake(
                f"there is a spool '{name}' already",
                where="name",
                remedy="choose another name; 'winder spool list' shows them",
            )
        values = (name, to_json(wire), label, length_m, gross_kg, tare_kg, clean(note), date_now())
        sql = "INSERT INTO spools (name, wire, label, length_m, gross_kg, tare_kg, note, begun)"
        with self._book.transaction() as execute:
            execute(f"{sql} VALUES (?, ?, ?, ?, ?, ?, ?, ?)", values)
        return self.named(name)

    def add_tail(self, spool: Spool, text: str, tail: SpoolTail) -> None:
        values = (spool.spool_id, clean(text), tail.length_m, tail.ohm, tail.temperature_c)
        sql = "INSERT INTO spool_tails (spool, text, length_m, ohm, temperature_c, date)"
        with self._book.transaction() as execute:
            execute(f"{sql} VALUES (?, ?, ?, ?, ?, ?)", (*values, date_now()))

    def add_weighing(self, spool: Spool, text: str, gross_kg: float) -> None:
        newest = max(spool.coils, default=0)
        values = (spool.spool_id, clean(text), gross_kg, newest, date_now())
        sql = "INSERT INTO weighings (spool, text, gross_kg, after_coil, date)"
        with self._book.transaction() as execute:
            execute(f"{sql} VALUES (?, ?, ?, ?, ?)", values)

    def say(self, spool: Spool, *, note: str | None = None, tare_kg: float | None = None) -> None:
        """A note, or the empty spool's mass once it is known."""
        with self._book.transaction() as execute:
            sql = "UPDATE spools SET note = coalesce(?, note), tare_kg = coalesce(?, tare_kg)"
            told = None if note is None else clean(note)
            execute(f"{sql} WHERE id = ?", (told, tare_kg, spool.spool_id))

    def all(self) -> tuple[Spool, ...]:
        """Oldest first."""
        with self._book.reading() as execute:
            found = execute("SELECT * FROM spools ORDER BY id").fetchall()
            return tuple(self._spool(execute, row) for row in found)

    def named(self, name: str) -> Spool:
        """By name. ``UserMistake`` for one that is not there."""
        for spool in self.all():
            if spool.name == name:
                return spool
        raise UserMistake(
            f"no spool is called '{name}'",
            where=self._book.where,
            remedy="'winder spool list' shows them; 'winder spool new' adds one",
        )

    def _spool(self, execute: Any, row: sqlite3.Row) -> Spool:
        number = (row["id"],)
        tails = execute(
            "SELECT * FROM spool_tails WHERE spool = ? AND struck = '' ORDER BY id", number
        ).fetchall()
        weighings = execute(
            "SELECT * FROM weighings WHERE spool = ? AND struck = '' ORDER BY id", number
        ).fetchall()
        coils = execute("SELECT id FROM coils WHERE spool = ? ORDER BY id", number).fetchall()
        return Spool(
            spool_id=row["id"],
            name=row["name"],
            wire=wire_from_json(row["wire"]),
            label=row["label"],
            length_m=row["length_m"],
            gross_kg=row["gross_kg"],
            tare_kg=row["tare_kg"],
            note=row["note"],
            begun=row["begun"],
            tails=tuple(
                SpoolTail(each["length_m"], each["ohm"], each["temperature_c"]) for each in tails
            ),
            weighings=tuple(
                Weighing(each["gross_kg"], each["after_coil"], each["date"]) for each in weighings
            ),
            coils=tuple(each["id"] for each in coils),
        )


def wire_from_json(text: str) -> Wire:
    """Raises ``ValueError``, ``KeyError`` or ``TypeError`` for what is no wire."""
    facts = json.loads(text)
    wire: Wire = WIRES[facts.pop("kind")](**facts)
    return wire
