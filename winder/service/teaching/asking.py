"""Questions to the person at the machine; 'leave' ends the lesson at each of them."""

from __future__ import annotations

import re

from winder.errors import WinderError

from .bench import Person

TRIES = 3


class Ended(WinderError):
    """The person ended the lesson."""


def ask(person: Person, question: str) -> str:
    told = person.ask(question).strip()
    if told.lower() in ("leave", "quit"):
        raise Ended(
            "you left the lesson", remedy="no machine file was written; teach again when you like"
        )
    return told


def yes(person: Person, question: str) -> bool:
    for _ in range(TRIES):
        told = ask(person, f"{question} (yes or no)").lower()
        if told in ("y", "yes"):
            return True
        if told in ("n", "no"):
            return False
        person.tell("Please type yes or no, or leave.")
    raise Ended("no clear yes or no", remedy="no machine file was written; teach it again")


def number(person: Person, question: str) -> float:
    told = number_or_none(person, question, may_be_none=False)
    assert told is not None
    return told


def number_or_none(person: Person, question: str, *, may_be_none: bool = True) -> float | None:
    """``None``: just Enter."""
    for _ in range(TRIES):
        told = ask(person, question)
        if may_be_none and not told:
            return None
        if re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,4})?", told):
            return float(told)
        person.tell(f"'{told[:40]}' is not a number; write it with digits, as in 20 or 19.8.")
    raise Ended("no number was given", remedy="no machine file was written; teach it again")
