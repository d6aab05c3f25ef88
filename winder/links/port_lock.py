"""Our own lock on a port: two hosts must never talk to one board.

The exclusive mode of a serial port is advisory and differs between systems, so a lock file of our
own stands beside it, in the user's runtime folder. The lock itself is the kernel's (``flock``): it
ends with the process that holds it, however that dies, so a file left behind by a dead process is
simply taken over. The process number in the file only serves to say who holds the lock. Files are
never removed, because removing one that somebody just opened would let two in.

A port has several names (its lasting one, the device behind it), so a lock has several files, and all
are held or none. The temporary folder is shared with strangers: a folder there is used only if it is a
real one, ours and nobody else's, and what is opened in it must be a plain file of ours with one name,
reached through no link. Windows opens serial ports exclusively by itself and has no ``flock``: there
this lock does nothing.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import stat
import sys
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from winder.errors import WinderError

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]


# What opening a link, a folder, a socket or the file of somebody else gives.
_NO_FILE = (errno.ELOOP, errno.EISDIR, errno.ENXIO, errno.EACCES, errno.EPERM)


class PortBusy(Exception):
    """Another process (or this one) holds the lock; ``holder`` says who, as well as we know."""

    def __init__(self, holder: str) -> None:
        super().__init__(holder)
        self.holder = holder


def lock_folder() -> Path:
    """The first folder that is ours alone: in the runtime folder, else in the temporary one.

    Raises ``WinderError`` where there is none.
    """
    if fcntl is None:  # nothing is locked by files there
        return Path(tempfile.gettempdir())
    places = [Path(tempfile.gettempdir()) / f"exact-turns-{os.geteuid()}"]
    if runtime := os.environ.get("XDG_RUNTIME_DIR"):  # XDG Base Directory Specification
        places.insert(0, Path(runtime) / "exact-turns")
    for place in places:
        try:
            with suppress(FileExistsError):
                place.mkdir(mode=0o700)
            os.close(_open_folder(place))
        except OSError as error:
            trouble = WinderError(
                f"nowhere to keep a port's lock ({error.strerror})",
                where=str(place),
                remedy="make this folder writable for you",
            )
        except WinderError as unsafe:
            trouble = unsafe
        else:
            return place
    raise trouble


class PortLock:
    """The lock of one port under all its names, from ``take`` to ``release``."""

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._files: dict[str, int] = {}  # name of the port -> open file

    def take(self, names: Iterable[str]) -> None:
        """Hold all these names. Names held from before are kept; those not among these are let go.

        Raises ``PortBusy`` when another holds one of them, ``WinderError`` for a folder or a file that
        is not safe to use, ``OSError`` when the system refuses; then all is as it was before.
        """
        if fcntl is None:
            return
        wanted = dict.fromkeys(names)
        place = self._folder or lock_folder()
        folder = _open_folder(place)
        taken: dict[str, int] = {}
        try:
            for name in wanted:
                if name not in self._files:
                    taken[name] = _take_file(folder, place / f"{_file_name(name)}.lock")
        except BaseException:
            for file in taken.values():
                _let_go(file)
            raise
        finally:
            os.close(folder)
        for name in self._files.keys() - wanted.keys():
            _let_go(self._files.pop(name))
        self._files |= taken

    def release(self) -> None:
        """Give the port free; more than once does no harm."""
        while self._files:
            _let_go(self._files.popitem()[1])


def _open_folder(place: Path) -> int:
    """A descriptor of a folder that nobody else can put anything into. Raises ``WinderError``."""
    try:
        folder = os.open(place, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except OSError as error:
        if error.errno not in (errno.ENOTDIR, errno.ELOOP):
            raise
        raise _unsafe(place, "is a link or a file, not a folder") from None
    facts = os.fstat(folder)
    if facts.st_uid == os.geteuid() and not stat.S_IMODE(facts.st_mode) & 0o077:
        return folder
    os.close(folder)
    if facts.st_uid != os.geteuid():
        raise _unsafe(place, "belongs to somebody else")
    raise _unsafe(place, "can be entered by others")


def _take_file(folder: int, path: Path) -> int:
    """An open, locked, signed file. Raises ``PortBusy``, ``WinderError``, ``OSError``."""
    # O_NONBLOCK: whatever lies there, opening it never waits.
    flags = os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK
    try:
        file = os.open(path.name, flags, 0o600, dir_fd=folder)
    except OSError as error:
        if error.errno not in _NO_FILE:
            raise
        raise _unsafe(path, "is not a lock of ours") from None
    try:
        facts = os.fstat(file)
        if not (stat.S_ISREG(facts.st_mode) and facts.st_uid == os.geteuid()):
            raise _unsafe(path, "is not a lock of ours")
        if facts.st_nlink != 1:  # to write into it is to write into another file
            raise _unsafe(path, "is a file of several names, not a lock of ours")
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = os.pread(file, 200, 0).decode(errors="replace").strip()
            raise PortBusy(_describe(holder)) from None
    except BaseException:
        os.close(file)
        raise
    program = Path(sys.argv[0]).name if sys.argv and sys.argv[0] else "python"
    with suppress(OSError):  # a full disk: the lock holds without a name in it
        os.ftruncate(file, 0)
        os.pwrite(file, f"{os.getpid()} {program}\n".encode(errors="replace"), 0)
    return file


def _let_go(file: int) -> None:
    with suppress(OSError):
        os.ftruncate(file, 0)
    os.close(file)


def _unsafe(place: Path, what: str) -> WinderError:
    return WinderError(
        f"{what}, so no lock can be kept there",
        where=str(place),
        remedy="move it away, or set XDG_RUNTIME_DIR to a folder that only you can enter",
    )


def _file_name(key: str) -> str:
    """Readable and never the same for two ports."""
    readable = re.sub(r"[^A-Za-z0-9]+", "-", key).strip("-")[-60:]
    return f"{readable}-{hashlib.sha256(os.fsencode(key)).hexdigest()[:12]}"


def _describe(holder: str) -> str:
    number, _, program = holder.partition(" ")
    if not number.isdecimal():
        return "another process"
    return f"{program or 'a process'} (process {number})"
