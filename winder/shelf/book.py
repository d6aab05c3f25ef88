"""The file of a logbook held open: opening, reading, and transactions that are committed or never were.

The file is in write-ahead-log mode with ``synchronous=FULL``: a commit is on the disk before the transaction is
left, and a log that was torn by a crash recovers as an exact prefix of the commits (sqlite.org/wal.html). One
process writes; others may read meanwhile. Every call may come from any thread; calls take turns.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any

from winder.errors import UserMistake
from winder.shelf import access
from winder.shelf.access import Identity, WriterLock, trouble
from winder.shelf.schema import VERSION, bring_up_to_date

IN_MEMORY = "logbook in memory"


def default_path() -> Path:
    """Where the logbook lives unless another file is named."""
    import platformdirs  # only where no file is named

    return Path(platformdirs.user_data_dir("exact-turns")) / "logbook.sqlite"


class Book:
    """An open file. Make one with ``open`` or ``in_memory``, and close it."""

    def __init__(
        self, connection: sqlite3.Connection, where: str, lock: WriterLock | None = None
    ) -> None:
        self.where = where
        self.connection = connection
        self.connection.row_factory = sqlite3.Row
        self._lock = lock
        self._turn = threading.RLock()
        self._identity: Identity | None = None  # of a file that is written

    @classmethod
    def open(cls, path: Path | str | None = None, *, read_only: bool = False) -> Book:
        """Open a file, by default ``default_path()``; for writing it is made if it is not there.

        For reading no lock is taken, and the default file may be missing: the shelf is empty then.
        Raises ``UserMistake`` or ``WinderError``; nothing that is not a logbook is ever changed.
        """
        file = default_path() if path is None else Path(path)
        if file == default_path():
            if read_only and not file.exists():
                return cls.in_memory()
            with suppress(OSError):  # what is wrong with the place is told below
                file.parent.mkdir(parents=True, exist_ok=True)
        try:
            access.check_place(file)
            if read_only:
                return cls._open_for_reading(file)
            if file.exists():
                access.is_fresh(
                    file
                )  # raises for what is not ours, before a lock is laid beside it
        except OSError as error:  # a name too long, a folder that may not be entered
            raise trouble(file, error) from error
        lock = WriterLock(file)
        try:
            return cls._open_for_writing(file, lock)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def in_memory(cls) -> Book:
        """A logbook that is forgotten when it is closed."""
        connection = access.in_memory()
        _empty().backup(connection)
        connection.execute("PRAGMA foreign_keys = ON")
        return cls(connection, IN_MEMORY)

    @classmethod
    def _open_for_reading(cls, file: Path) -> Book:
        if not file.exists():
            raise UserMistake(
                "there is no such logbook", where=str(file), remedy="correct the name of the file"
            )
        if access.is_fresh(file):
            return cls.in_memory()
        connection = access.connect(file, "ro")
        try:
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if version < VERSION:  # read as it would be after the steps; the file stays as it is
                older, connection = connection, access.in_memory()
                with closing(older):
                    older.backup(connection)
                bring_up_to_date(connection)
        except sqlite3.Error as error:
            connection.close()
            raise trouble(file, error) from error
        return cls(connection, str(file))

    @classmethod
    def _open_for_writing(cls, file: Path, lock: WriterLock) -> Book:
        connection = None
        try:
            connection = access.connect(file, "rwc")
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            bring_up_to_date(connection)
        except sqlite3.Error as error:
            if connection is not None:
                connection.close()
            raise trouble(file, error) from error
        opened = cls(connection, str(file), lock)
        opened._identity = access.identity_of(file)
        return opened

    def close(self) -> None:
        """Let go of the file; more than once does no harm."""
        with self._turn:
            self.connection.close()
            if self._lock is not None:
                self._lock.release()
                self._lock = None

    @contextmanager
    def transaction(self) -> Iterator[Any]:
        """One committed transaction, or none; gives the connection's ``execute``. A file that went takes no more.

        Inside another transaction it is part of that one.
        """
        execute = self.connection.execute
        with self._turn:
            try:
                inside = self.connection.in_transaction
            except sqlite3.Error as error:
                raise trouble(self.where, error) from error
            if inside:
                yield execute
                return
            if self._identity is not None and self._lock is not None:
                access.still_there(Path(self.where), self._identity)
            try:
                execute("BEGIN IMMEDIATE")
                try:
                    yield execute
                    execute("COMMIT")
                except BaseException:
                    with suppress(sqlite3.Error):  # some errors have rolled back already
                        execute("ROLLBACK")
                    raise
            except sqlite3.Error as error:
                raise trouble(self.where, error) from error

    @contextmanager
    def reading(self) -> Iterator[Any]:
        with self._turn:
            try:
                yield self.connection.execute
            except (sqlite3.Error, ValueError, KeyError, TypeError) as error:
                raise trouble(self.where, error) from error


@cache
def _empty() -> sqlite3.Connection:
    """An empty logbook, of which every one in memory is a copy: campaigns open thousands."""
    connection = access.in_memory()
    bring_up_to_date(connection)
    return connection


def clean(text: str) -> str:
    """Text that can be stored: half characters from outside become question marks."""
    return text.encode("utf-8", "replace").decode()
