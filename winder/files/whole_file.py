"""Files of the user's own, written whole or not at all; a disk without room leaves no part of one behind."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import IO

from winder.errors import NO_ROOM, UserMistake, WinderError


def write_new_file(file: Path, text: str, kind: str) -> None:
    """Writes ``text``, never over another file. ``UserMistake`` when the file exists or cannot be written,
    ``WinderError`` where there is no room."""
    try:
        # "x" also settles the race with another program that writes the same name.
        with open(file, "x", encoding="utf-8", newline="") as new:
            _write(new, text, file)
    except FileExistsError:
        raise name_taken(file) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or str(error)
        what = f"the {kind} cannot be written here ({reason})"
        if getattr(error, "errno", None) in NO_ROOM:
            remedy = "nothing was written; make room on the disk, then try again"
            raise WinderError(what, where=str(file), remedy=remedy) from None
        remedy = "choose a directory that exists and that you can write to"
        raise UserMistake(what, where=str(file), remedy=remedy) from None


def name_taken(file: Path) -> UserMistake:
    return UserMistake(
        "this name is taken already",
        where=str(file),
        remedy="nothing was written; choose another name, or move the old file away",
    )


def replace_file(file: Path, text: str) -> None:
    """The old file is there whole until the new one is; a link stays a link. Raises ``OSError``, and nothing changed."""
    import tempfile  # seldom needed, and not quickly there

    target = file.resolve()
    with tempfile.NamedTemporaryFile(
        "w", encoding="utf-8", newline="", dir=target.parent, prefix=".", delete=False
    ) as beside:
        path = Path(beside.name)
        _write(beside, text, path)
        try:
            os.fsync(beside.fileno())
            if target.exists():
                os.chmod(path, target.stat().st_mode & 0o777)
            os.replace(path, target)
        except BaseException:
            path.unlink(missing_ok=True)
            raise


def _write(file: IO[str], text: str, path: Path) -> None:
    try:
        file.write(text)
        file.flush()
    except BaseException:  # a text that is no UTF-8, a Ctrl-C: no part of it is left either
        with suppress(OSError):
            path.unlink()
        raise
