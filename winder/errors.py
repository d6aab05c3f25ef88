"""What a person can run into: what happened, where, and the remedy.

Errors are raised where they happen and turned into words once, at the edge (``commands`` and
``screens``). ``UserMistake`` ends a command with exit code 2, every other ``WinderError`` with 1.
"""

from __future__ import annotations

import errno
from collections.abc import Sequence
from typing import NamedTuple

NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)  # of the system's errors


class WinderError(Exception):
    """Trouble with a remedy. ``where`` names a file and line, a field, a port; may be empty."""

    exit_code = 1

    def __init__(self, what: str, *, remedy: str, where: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        return f"{place}{self.what}; {self.remedy}"


class UserMistake(WinderError):
    """Something the person asked for cannot be; they can put it right."""

    exit_code = 2


class Complaint(NamedTuple):
    """One thing wrong in a file: line (0 when no line is to blame), field, what, and what to do."""

    line: int
    field: str
    what: str
    remedy: str

    def text(self, file: str) -> str:
        return f"{file}:{self.line}: {self.field}: {self.what}; {self.remedy}"


class FileComplaints(UserMistake):
    """All that is wrong with one file of the user's, at once."""

    def __init__(self, file: str, complaints: Sequence[Complaint]) -> None:
        self.file = file
        self.complaints = tuple(sorted(complaints, key=lambda c: (c.line, c.field)))
        count = len(self.complaints)
        super().__init__(
            f"{count} thing{'s' if count != 1 else ''} wrong",
            where=file,
            remedy="fix what is listed and try again",
        )

    def __str__(self) -> str:
        return "\n".join(complaint.text(self.file) for complaint in self.complaints)
