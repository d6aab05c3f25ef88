"""Our own lock on a port: two hosts must never talk to one board.

The exclusive mode of a serial port is advisory and differs between systems, so a lock file of our
own stands beside it, in the user's runtime folder. The lock itself is the kernel's (``flock``): it
ends with the process that holds it, however that dies, so a file left behind by a dead process is
simply taken over. The process number in the file only serves to say who holds the lock. Files are
never removed, because removing one that somebody just opened would let two in. Windows opens serial
ports exclusively by itself and has no ``flock``: there this lock does nothing.
"""

from __future__ import annotations

import hashlib
import os
import re
import sys
import tempfile
from pathlib import Path

from winder.errors import WinderError

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]


class PortBusy(Exception):
    """Another process (or this one) holds the lock; ``holder`` says who, as well as we know."""

    def __init__(self, holder: str) -> None:
        super().__init__(holder)
        self.holder = holder


def lock_folder() -> Path:
    """The first folder of the user's that can be written: runtime folder, else temporary folder."""
    user = os.getuid() if hasattr(os, "getuid") else 0
    places = [Path(tempfile.gettempdir()) / f"exact-turns-{user}"]
    if runtime := os.environ.get("XDG_RUNTIME_DIR"):  # XDG Base Directory Specification
        places.insert(0, Path(runtime) / "exact-turns")
    for place in places:
        try:
            place.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError:
            continue
        if os.access(place, os.W_OK | os.X_OK):
            return place
    raise WinderError(
        "no place to keep the lock of a port",
        where=str(places[-1]),
        remedy="make this folder writable for you",
    )


class PortLock:
    """The lock of one port, held from construction to ``release``. Raises ``PortBusy``."""

    def __init__(self, key: str, folder: Path | None = None) -> None:
        folder = lock_folder() if folder is None else folder
        self.path = folder / f"{_file_name(key)}.lock"
        self._file: int | None = None
        if fcntl is None:
            return
        file = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = os.pread(file, 200, 0).decode(errors="replace").strip()
            os.close(file)
            raise PortBusy(_describe(holder)) from None
        program = Path(sys.argv[0]).name if sys.argv and sys.argv[0] else "python"
        os.ftruncate(file, 0)
        os.pwrite(file, f"{os.getpid()} {program}\n".encode(errors="replace"), 0)
        self._file = file

    def release(self) -> None:
        """Give the port free; more than once does no harm."""
        file, self._file = self._file, None
        if file is not None:
            os.ftruncate(file, 0)
            os.close(file)


def _file_name(key: str) -> str:
    """Readable and never the same for two ports."""
    readable = re.sub(r"[^A-Za-z0-9]+", "-", key).strip("-")[-60:]
    return f"{readable}-{hashlib.sha256(os.fsencode(key)).hexdigest()[:12]}"


def _describe(holder: str) -> str:
    number, _, program = holder.partition(" ")
    if not number.isdecimal():
        return "another process"
    return f"{program or 'a process'} (process {number})"
