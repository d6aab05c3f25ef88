"""A file of the user's own, written once and never over another: what is there already is left alone."""

from __future__ import annotations

from pathlib import Path

from winder.errors import UserMistake


def write_new_file(file: Path, text: str, kind: str) -> None:
    """Writes ``text``. ``UserMistake`` when the file exists or cannot be written."""
    try:
        # "x" also settles the race with another program that writes the same name.
        with open(file, "x", encoding="utf-8", newline="\n") as new:
            new.write(text)
    except FileExistsError:
        raise UserMistake(
            "this name is taken already",
            where=str(file),
            remedy="nothing was written; choose another name, or move the old file away",
        ) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise UserMistake(
            f"the {kind} cannot be written here ({reason})",
            where=str(file),
            remedy="choose a directory that exists and that you can write to",
        ) from None
