"""Boards that break one clause each, on top of the reference, and the clause that must be named."""

from __future__ import annotations

from dataclasses import dataclass

import wrong_guides
import wrong_motion
import wrong_pedals
import wrong_sessions
from reference_board import FULL_BOARD, AttendedBoard, CarefulBody, ReferenceBoard
from wrong_frames import COUNTER, Ends, Sends

__all__ = [
    "COUNTER",
    "WRONG_BOARDS",
    "wrong_guides",
    "wrong_motion",
    "wrong_pedals",
    "wrong_sessions",
]


@dataclass(frozen=True, slots=True)
class WrongBoard:
    name: str
    clause: str
    make: type

    def board(self):
        if issubclass(self.make, Sends):
            return self.make(getattr(self.make, "identity_of", FULL_BOARD))
        if issubclass(self.make, CarefulBody):
            return ReferenceBoard(body=self.make())
        if self.clause.startswith("22."):
            return AttendedBoard(end=self.make)
        return ReferenceBoard(self.make.identity_of, self.make)


def _all(base: type) -> list[type]:
    found = []
    for each in base.__subclasses__():
        found += [each, *_all(each)]
    return found


WRONG_BOARDS = [
    WrongBoard(each.__name__, each.clause, each)
    for base in (Sends, Ends, CarefulBody)
    for each in _all(base)
    if hasattr(each, "clause")
]
