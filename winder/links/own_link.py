"""A symbolic link to a port, for as long as the port is served, and never somebody else's link.

Beside the link ``PATH`` stands a marker, ``PATH.served``: it names where the link leads, and whoever serves the port
holds its lock (``flock``), which ends with the process however that dies. So a link that a killed server left behind
is known for certain: the marker is ours, nobody holds it, and the link leads where it says. Any other link is left
alone.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from winder.errors import UserMistake, WinderError

try:
    import fcntl
except ImportError:  # Windows, where there are no pseudo-terminals to link to
    fcntl = None  # type: ignore[assignment]

FIRST_LINE = b"the link beside this file leads to a simulated bench at\n"
MARKER_BYTES_MAX = 4096


@contextmanager
def own_link(path: str, target: str) -> Iterator[None]:
    """Keep a link at ``path``. ``UserMistake`` for what is there and not ours, ``WinderError`` for the rest."""
    marker = _hold_marker(path)
    try:
        _make_link(path, target, marker)
        try:
            yield
        finally:
            with suppress(OSError):
                if os.readlink(path) == target:  # not one that somebody made since
                    os.unlink(path)
    finally:
        with suppress(OSError):
            os.unlink(_marker_path(path))
        os.close(marker)


def _marker_path(path: str) -> str:
    return f"{path}.served"


def _hold_marker(path: str) -> int:
    """The marker's descriptor, locked. What is at its place and not a marker of this user's is refused."""
    assert fcntl is not None, "served on pseudo-terminals only"
    place = _marker_path(path)
    try:
        marker = os.open(place, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK, 0o600)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise WinderError(
            f"no link can be made here ({reason})", where=repr(path), remedy="name another place"
        ) from None
    try:
        about = os.fstat(marker)
        words = os.pread(marker, MARKER_BYTES_MAX, 0) if stat.S_ISREG(about.st_mode) else b"?"
        if about.st_uid != os.geteuid() or (words and not words.startswith(FIRST_LINE)):
            raise UserMistake(
                "is not a file that a simulated bench left",
                where=place,
                remedy="name another link, or move this file away first",
            )
        fcntl.flock(marker, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(marker)
        raise UserMistake(
            "leads to a bench that is served now", where=path, remedy="name another link"
        ) from None
    except BaseException:
        os.close(marker)
        raise
    return marker


def _make_link(path: str, target: str, marker: int) -> None:
    told = os.pread(marker, MARKER_BYTES_MAX, 0).removeprefix(FIRST_LINE)
    try:
        if told and os.path.islink(path) and os.fsencode(os.readlink(path)) == told:
            os.unlink(path)  # a bench that was killed left it
        os.ftruncate(marker, 0)
        os.pwrite(marker, FIRST_LINE + os.fsencode(target), 0)
        os.symlink(target, path)
    except FileExistsError:
        raise UserMistake(
            "already exists, and no bench of yours left it",
            where=path,
            remedy="name another link, or remove this one first if nobody needs it",
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise WinderError(
            f"no link can be made here ({reason})", where=repr(path), remedy="name another place"
        ) from None
