"""The whole shelf as plain rows, out and in again without loss, and a copy of the file while it is in use.

Rows go out as they are in the tables. Coming in, everything gets new numbers beside what is there, references
go along, and all of it is entered or nothing.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from winder.errors import UserMistake
from winder.files.whole_file import name_taken
from winder.shelf import access
from winder.shelf.book import IN_MEMORY, Book, clean
from winder.shelf.schema import VERSION

KIND = "exact-turns shelf"
# Parents before children; what of a row points to which table.
TABLES: dict[str, dict[str, str]] = {
    "spools": {},
    "spool_tails": {"spool": "spools"},
    "coils": {"spool": "spools"},
    "weighings": {"spool": "spools", "after_coil": "coils"},
    "runs": {"coil": "coils"},
    "journal": {"run": "runs"},
    "readings": {"coil": "coils"},
}


def shelf_rows(book: Book) -> dict[str, Any]:
    """Every row of every table, in one moment."""
    with book.reading() as execute:
        execute("BEGIN")
        try:
            tables = {
                table: [dict(row) for row in execute(f"SELECT * FROM {table} ORDER BY 1, 2")]
                for table in TABLES
            }
        finally:
            execute("ROLLBACK")
    return {"kind": KIND, "version": VERSION, **tables}


def take_in(book: Book, told: object, where: str) -> int:
    """Enters rows of ``shelf_rows``; how many coils. ``UserMistake`` for anything else, and nothing is entered then."""
    if not isinstance(told, dict) or told.get("kind") != KIND:
        raise UserMistake(
            "is not an exported shelf", where=where, remedy="name a file of 'shelf export'"
        )
    if told.get("version") != VERSION:
        raise UserMistake(
            f"was exported in format {told.get('version')!r}, and this program has {VERSION}",
            where=where,
            remedy="import it with the version that exported it, and copy the logbook",
        )
    new: dict[str, dict[Any, int]] = {table: {0: 0} for table in TABLES}
    try:
        with book.transaction() as execute:
            for table, references in TABLES.items():
                for row in told[table]:
                    _enter(execute, table, dict(row), references, new)
        return len(told["coils"])
    except sqlite3.Error:
        raise
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise UserMistake(
            f"is missing parts of a shelf ({type(error).__name__}: {error})",
            where=where,
            remedy="export it again; nothing was imported",
        ) from None


def _enter(
    execute: Any,
    table: str,
    row: dict[str, Any],
    references: dict[str, str],
    new: dict[str, dict[Any, int]],
) -> None:
    columns = [each["name"] for each in execute(f"PRAGMA table_info({table})").fetchall()]
    if set(row) != set(columns):
        raise ValueError(f"columns of {table}")
    old = row.pop("id") if "id" in row else None
    for column, parent in references.items():
        if row[column] is not None:
            row[column] = new[parent][row[column]]
    values = [clean(value) if isinstance(value, str) else value for value in row.values()]
    if table == "spools":
        values[list(row).index("name")] = _free_name(execute, str(row["name"]))
    places = ", ".join("?" * len(values))
    cursor = execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({places})", values)
    if old is not None:
        new[table][old] = int(cursor.lastrowid)


def _free_name(execute: Any, name: str) -> str:
    """A spool of this name may be there already: the one that comes in gets a number."""
    name, number, tried = clean(name), 1, clean(name)
    while execute("SELECT 1 FROM spools WHERE name = ?", (tried,)).fetchone():
        number += 1
        tried = f"{name} ({number})"
    return tried


def copy_to(book: Book, file: Path) -> None:
    """A copy of the logbook as it is now, also while another program writes it. ``UserMistake`` for a file that is there."""
    if book.where != IN_MEMORY and Path(book.where).resolve() == file.resolve():
        raise UserMistake("is the logbook itself", where=str(file), remedy="name another file")
    access.check_place(file)
    try:
        file.open("xb").close()
    except FileExistsError:
        raise name_taken(file) from None
    except OSError as error:
        raise access.trouble(file, error) from error
    try:
        with book.reading():
            _copy(book, file)
    except BaseException:
        file.unlink(missing_ok=True)  # the name is free, once there is room
        raise


def _copy(book: Book, file: Path) -> None:
    try:
        with closing(access.connect(file, "rw")) as copy:
            book.connection.backup(copy)
            # One file and no log beside it: a copy is carried about.
            copy.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        raise access.trouble(file, error) from error  # of the copy, not of the logbook
