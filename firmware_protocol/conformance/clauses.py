"""What a clause is, how it is entered into the list, and what became of it.

A clause is a function that talks to a board through an ``Examiner`` and comes back if the board kept to it. It
raises ``Breach`` with what the board did instead, or ``Unready`` where the board could not be brought to the place
where the clause begins: then nothing is known of this clause, and another one tells why.
"""

from __future__ import annotations

import enum
from collections.abc import Callable
from typing import TYPE_CHECKING

from firmware_protocol.records import dataclass

from ..vocabulary import Has
from ..wire import Group

if TYPE_CHECKING:
    from .examiner import Examiner

Trial = Callable[["Examiner"], None]
NO_MATTER_WHAT = Has(0)  # is wired


class Breach(Exception):
    """What the board did, or left undone, against the clause."""


class Unready(Exception):
    """Why the clause could not be tried."""


class Outcome(enum.Enum):
    PASSED = "passed"
    FAILED = "failed"
    NOT_TESTED = "not tested"


@dataclass(frozen=True, slots=True)
class Clause:
    """``number`` is section and place, ``needs`` the groups without which it says nothing."""

    number: str
    sentence: str
    trial: Trial
    needs: tuple[Group, ...] = ()
    motion: str = ""  # what will move; "": nothing
    wired: Has = NO_MATTER_WHAT  # what must be wired to the board

    @property
    def section(self) -> int:
        return int(self.number.partition(".")[0])


@dataclass(frozen=True, slots=True)
class Finding:
    clause: Clause
    outcome: Outcome
    why: str = ""


CLAUSES: dict[str, Clause] = {}


def clause(
    number: str, sentence: str, *needs: Group, motion: str = "", wired: Has = NO_MATTER_WHAT
) -> Callable[[Trial], Trial]:
    """Enter a trial into the list. ``TypeError`` for a number that is taken."""

    def enter(trial: Trial) -> Trial:
        if number in CLAUSES:
            raise TypeError(f"clause {number} is there twice")
        CLAUSES[number] = Clause(number, sentence, trial, needs, motion, wired)
        return trial

    return enter


def require(holds: bool, otherwise: str) -> None:
    """Raise ``Breach`` with what was seen instead."""
    if not holds:
        raise Breach(otherwise)
