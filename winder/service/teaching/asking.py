"""Questions to the person at the machine; 'leave' ends the lesson at each of them."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TypeVar

from winder.errors import WinderError

from .bench import Stopped
from .dialogue import Deed, Kind, Person, Question

TRIES = 3
NOTHING_WRITTEN = "no machine file was written; teach again when you like"

Measured = TypeVar("Measured")


class Ended(WinderError):
    """The person ended the lesson."""


def put(person: Person, question: Question) -> str:
    told = person.ask(question).strip()
    if told.lower() in ("leave", "quit"):
        raise Ended("you left the lesson", remedy=NOTHING_WRITTEN)
    return told


def ask(person: Person, text: str) -> str:
    return put(person, Question(text))


def done(person: Person, text: str, deed: Deed | None = None, turns: int = 0) -> None:
    """The person does something and says so."""
    put(person, Question(text, Kind.DONE, deed, turns))


def yes(person: Person, text: str, kind: Kind = Kind.YES) -> bool:
    for _ in range(TRIES):
        told = put(person, Question(text, kind)).lower()
        if told in ("y", "yes"):
            return True
        if told in ("n", "no"):
            return False
        person.tell("Please type yes or no, or leave.")
    raise Ended("no clear yes or no", remedy=NOTHING_WRITTEN)


def agree(person: Person, what: str) -> None:
    """A movement is announced; only a yes lets it be made."""
    if not yes(person, f"{what} Keep hands, hair and sleeves clear. Go ahead?", Kind.MOVE):
        raise Ended("you did not agree to it", remedy=NOTHING_WRITTEN)


def measured(person: Person, measure: Callable[[], Measured]) -> Measured:
    """Measures, and again for as long as the person wants: what was found they have been told."""
    while True:
        try:
            found = measure()
        except Stopped:
            if not yes(person, "You stopped it. Measure this again?"):
                raise Ended("you stopped it", remedy=NOTHING_WRITTEN) from None
            continue
        if kept(person):
            return found


def kept(person: Person) -> bool:
    for _ in range(TRIES):
        told = put(person, Question("Keep this?", Kind.KEEP)).lower()
        if told in ("", "k", "keep", "y", "yes"):
            return True
        if told in ("a", "again", "n", "no"):
            return False
        person.tell("Please press Enter to keep it, or type again, or leave.")
    raise Ended("neither kept nor measured again", remedy=NOTHING_WRITTEN)


def number(person: Person, text: str) -> float:
    told = number_or_none(person, text, may_be_none=False)
    assert told is not None
    return told


def number_or_none(person: Person, text: str, *, may_be_none: bool = True) -> float | None:
    """``None``: just Enter."""
    for _ in range(TRIES):
        told = ask(person, text)
        if may_be_none and not told:
            return None
        if re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,4})?", told):
            return float(told)
        person.tell(f"'{told[:40]}' is not a number; write it with digits, as in 20 or 19.8.")
    raise Ended("no number was given", remedy=NOTHING_WRITTEN)
