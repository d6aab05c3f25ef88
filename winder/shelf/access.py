"""Getting at the file: is it a logbook, may we write it, and are we the only ones who do.

A file is first looked at with a read-only connection, so that nothing which is not a logbook of ours
is ever changed. One process writes: a small database beside the logbook holds a lock that ends with
the process, however it dies, and names who holds it. Readers need no lock. The file is never opened
by anything but SQLite: closing another descriptor of it would drop this process's locks
(sqlite.org/howtocorrupt.html, 2.2).

A file that is open goes on taking commits after somebody deleted, moved or replaced it, and all of them
are lost; so whoever writes asks before each commit whether the file at the path is still the one that was
opened (``still_there``, five system calls).
"""

from __future__ import annotations

import os
import sqlite3
import stat
from pathlib import Path
from urllib.parse import quote

from firmware_protocol.records import dataclass
from winder.clock import date_now
from winder.errors import UserMistake, WinderError
from winder.shelf.schema import APPLICATION_ID, VERSION

LOCK_WAIT_S = 0.2  # for somebody who is only reading who holds it; a holder keeps it for hours
DATABASE_BYTES_MIN = 512  # the smallest page (sqlite.org/fileformat.html, 1.3)
COMMIT_WAIT_S = 2.0  # a reader's moment in the way of a checkpoint

LOG = ("-wal", "-shm")  # what SQLite lays beside a database in use (sqlite.org/tempfiles.html)
BESIDE = (*LOG, "-journal", ".lock", ".lock-journal")
KINDS = {
    stat.S_IFDIR: "a folder",
    stat.S_IFIFO: "a pipe",
    stat.S_IFSOCK: "a socket",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
}


def connect(path: Path, mode: str) -> sqlite3.Connection:
    """A connection in autocommit mode; ``mode`` is "ro", "rw" or "rwc"."""
    address = f"file:{quote(os.fsencode(path.absolute()))}?mode={mode}"
    return sqlite3.connect(
        address, uri=True, isolation_level=None, check_same_thread=False, timeout=COMMIT_WAIT_S
    )


def in_memory() -> sqlite3.Connection:
    return sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)


def check_place(path: Path) -> None:
    """What can be wrong before the file is looked at. Raises ``UserMistake``."""
    if "\0" in str(path):
        raise UserMistake(
            "a file name has no zero byte in it", where=ascii(str(path)), remedy="name another file"
        )
    if path.is_dir():
        raise UserMistake(
            "is a folder, not a logbook",
            where=str(path),
            remedy=f"name a file in it, such as {path / 'logbook.sqlite'}",
        )
    for file in (path, *(_beside(path, ending) for ending in BESIDE)):
        # Opening a pipe waits for whoever writes into it, and reading a device for what it says.
        if (kind := _strange_kind(file)) is not None:
            raise UserMistake(
                f"is {kind}, not a file of a logbook",
                where=str(file),
                remedy="name another file; this one was not changed",
            )
    if not path.parent.is_dir():
        raise UserMistake(
            "there is no folder for this logbook",
            where=str(path),
            remedy=f"make the folder {path.parent} first, or correct the name",
        )


def _beside(path: Path, ending: str) -> Path:
    return path.with_name(path.name + ending)


def _strange_kind(file: Path) -> str | None:
    """What this is, if it is there and no plain file. Raises ``OSError`` where it cannot be seen."""
    try:
        mode = file.stat().st_mode
    except FileNotFoundError:
        return None
    return None if stat.S_ISREG(mode) else KINDS.get(stat.S_IFMT(mode), "something else")


@dataclass(frozen=True, slots=True)
class Identity:
    """Which files a logbook is: device and inode of the file, its log, and their index."""

    files: tuple[tuple[str, int, int], ...]  # ending of the name, device, inode


def identity_of(path: Path) -> Identity:
    """The files at ``path`` now, those of its log where there is one. Raises ``WinderError``."""
    found = []
    for ending in ("", *LOG):
        try:
            facts = os.stat(f"{path}{ending}")
        except FileNotFoundError as error:
            if not ending:
                raise trouble(path, error) from error
        except OSError as error:
            raise trouble(path, error) from error
        else:
            found.append((ending, facts.st_dev, facts.st_ino))
    return Identity(tuple(found))


def still_there(path: Path, identity: Identity) -> None:
    """Raises ``WinderError`` unless ``path`` still leads to these files and they may be written.

    Noticed are a file or its log deleted, moved or replaced, its folder gone or closed to us, a file or
    folder (or a whole file system) that has become read-only.
    """
    for ending, device, inode in identity.files:
        file = f"{path}{ending}"
        try:
            facts = os.stat(file)
        except FileNotFoundError:
            raise _gone(path, f"{file} was deleted or moved away") from None
        except OSError as error:
            raise _gone(path, f"{file} can no longer be reached ({error.strerror})") from None
        if (facts.st_dev, facts.st_ino) != (device, inode):
            raise _gone(path, f"{file} was replaced by another file")
    if not os.access(path, os.W_OK):
        raise _gone(path, "it can no longer be written")
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise _gone(path, "its folder can no longer be written")


def _gone(path: Path, why: str) -> WinderError:
    return WinderError(
        f"what is counted can no longer be kept: {why}",
        where=str(path),
        remedy="stop the wind and note the count; then put the file and its folder back, or name a new file",
    )


def is_fresh(path: Path) -> bool:
    """True for a file with nothing in it yet; raises for anything that is not a logbook."""
    if 0 < path.stat().st_size < DATABASE_BYTES_MIN:
        raise _not_a_logbook(str(path))  # SQLite would take it for an empty database
    connection = None
    try:
        connection = connect(path, "ro")
        (application,) = connection.execute("PRAGMA application_id").fetchone()
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        (things,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.Error as error:
        raise trouble(path, error) from error
    finally:
        if connection is not None:
            connection.close()
    if application == 0 and version == 0 and things == 0:
        return True
    if application != APPLICATION_ID:
        raise UserMistake(
            "is a database of another program, not a logbook",
            where=str(path),
            remedy="name another file; this one was not changed",
        )
    if version > VERSION:
        raise WinderError(
            f"was written by a newer version of this program (format {version}, known {VERSION})",
            where=str(path),
            remedy="install the newer version, or name another file; this one was not changed",
        )
    return False


def trouble(path: Path | str, error: Exception) -> WinderError:
    """What SQLite says, as one of our errors."""
    name = getattr(error, "sqlite_errorname", "") or ""
    where = str(path)
    if isinstance(error, OSError):
        return WinderError(
            f"cannot be opened ({error.strerror})",
            where=where,
            remedy="check your rights to this file and its folder, or name another file",
        )
    if isinstance(error, sqlite3.ProgrammingError):
        return WinderError("was closed already", where=where, remedy="open it again")
    if name.startswith("SQLITE_NOTADB"):
        return _not_a_logbook(where)
    if name.startswith("SQLITE_CORRUPT"):
        return WinderError(
            "is damaged and cannot be read",
            where=where,
            remedy="keep a copy of it, restore your last backup, or name a new file",
        )
    if name.startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH")):
        return WinderError(
            "cannot be opened for writing" if "READONLY" in name else "cannot be opened",
            where=where,
            remedy="check that you can write this file and its folder, or name another file",
        )
    if name.startswith(("SQLITE_FULL", "SQLITE_IOERR")):
        return WinderError(
            f"could not be written ({error})",
            where=where,
            remedy="stop the wind, make room on the disk or repair it, then try again",
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return in_use(where, "another program")
    return WinderError(
        f"is missing parts of a logbook ({error})",
        where=where,
        remedy="keep a copy of it, restore your last backup, or name a new file",
    )


def _not_a_logbook(where: str) -> UserMistake:
    return UserMistake(
        "is not a logbook", where=where, remedy="name another file; this one was not changed"
    )


def in_use(where: str, holder: str) -> WinderError:
    return WinderError(
        f"is in use by {holder}",
        where=where,
        remedy="end that program first, or name another file",
    )


class WriterLock:
    """Held while this process may write the logbook. Raises ``WinderError`` when another does."""

    def __init__(self, logbook: Path) -> None:
        self.path = _beside(logbook, ".lock")
        try:
            self._connection = connect(self.path, "rwc")
        except sqlite3.Error as error:
            raise trouble(self.path, error) from error
        try:
            self._connection.execute(f"PRAGMA busy_timeout = {round(LOCK_WAIT_S * 1000)}")
            self._sign()
            self._connection.execute("BEGIN IMMEDIATE")  # held from here on
        except sqlite3.Error as error:
            holder = self._holder()
            self._connection.close()
            if getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY"):
                raise in_use(str(logbook), holder) from None
            raise trouble(self.path, error) from error

    def release(self) -> None:
        self._connection.close()

    def _sign(self) -> None:
        """Leave our number for whoever finds the lock taken."""
        execute = self._connection.execute
        execute("BEGIN IMMEDIATE")
        execute("CREATE TABLE IF NOT EXISTS holder (process INTEGER, since TEXT) STRICT")
        execute("DELETE FROM holder")
        execute("INSERT INTO holder VALUES (?, ?)", (os.getpid(), date_now()))
        execute("COMMIT")

    def _holder(self) -> str:
        try:
            row = self._connection.execute("SELECT process, since FROM holder").fetchone()
        except sqlite3.Error:
            row = None
        return f"process {row[0]} since {row[1]}" if row else "another program"
