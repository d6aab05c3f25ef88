"""What is asked without a screen: one question after the other, answered by typing."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from winder.errors import UserMistake
from winder.service.tap_test import (
    COILS,
    POLE,
    POLES,
    Question,
    coil_questions,
    coil_reading,
    pair_questions,
)

ASKED = "ask"  # instead of the answers
TRIES = 3
STACKED, BESIDE, NOT_YET = "stacked", "side by side", "not yet"
SIT = Question(
    """\
How do the two sit in the instrument? Then the four ways to join them are
compared, and you get the wiring.""",
    (STACKED, BESIDE, NOT_YET),
)
GAP, APART = "gap between the two windings, as in 2 mm", "from axis to axis, as in 22 mm"
NO_IDEA = "not known"


def ask(question: Question) -> str:
    """One of the answers, typed in full or by its first letters. ``UserMistake`` if none comes."""
    print(question.words)
    choices = " or ".join(question.answers)
    for _ in range(TRIES):
        try:
            said = input(f"  {choices}: ").strip().casefold()
        except EOFError:
            break
        found = [answer for answer in question.answers if said and answer.startswith(said)]
        if len(found) == 1 or said in found:
            return said if said in found else found[0]
    raise _no_answer(f"answer {choices}")


def ask_words(prompt: str) -> str:
    """Anything but nothing. ``UserMistake`` if none comes."""
    try:
        said = input(f"  {prompt}: ").strip()
    except EOFError:
        said = ""
    if not said:
        raise _no_answer("answer in words")
    return said


def ask_which(what: str, question: str, names: Sequence[str], none: str = "") -> int | None:
    """One of these names of a ``what``, by its place; None: just Enter, which means ``none``. ``UserMistake`` else."""
    print(question)
    for place, name in enumerate(names, 1):
        print(f"  {place}  {name}")
    try:
        said = input(f"number{f', or Enter for {none}' if none else ''}: ").strip()
    except EOFError:
        said = ""
    if not said:
        return None
    if said in names:
        return list(names).index(said)
    if said.isascii() and said.isdigit() and len(said) < 9 and 1 <= int(said) <= len(names):
        return int(said) - 1
    raise UserMistake(
        f"'{said[:40]}' is not one of these {what}s", where=what, remedy="type its number"
    )


def _no_answer(what: str) -> UserMistake:
    return UserMistake(
        "no usable answer",
        where="winder shelf",
        remedy=f"{what}; or give it all at once, see --help",
    )


def somebody_there() -> bool:
    """A person reads what is printed and can answer."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()


def ask_tap() -> str:
    """The reading of one coil, as one would type it at once."""
    return coil_reading(*(ask(each) for each in coil_questions()))


def ask_taps(*, stacked: bool, poles: str | None) -> tuple[str, str | None]:
    """Both kicks of a pair, and its poles where they had to be asked, as ``--taps`` and ``--poles`` have them."""
    said = [ask(each) for each in pair_questions(stacked=stacked, poles_known=poles is not None)]
    return ",".join(said[-2:]), ",".join(said[:-2]) or poles


def ask_mounting(arguments: argparse.Namespace, irons: Sequence[str], which: Sequence[str]) -> None:
    """How a pair sits, and what of poles and iron counts then, into the options of ``shelf pair``."""
    place = ask(SIT)
    if place == NOT_YET:
        return
    if place == STACKED:
        arguments.stacked = ask_words(GAP)
    else:
        arguments.side_by_side = ask_words(APART)
    if arguments.taps is not None or arguments.hears is not None:
        return  # the taps ask for the poles themselves, and what is heard needs none
    if arguments.poles is None:
        coils = ("",) if place == STACKED else COILS
        poles = [ask(Question(POLE.format(which=f"{each} at the string"), POLES)) for each in coils]
        arguments.poles = ",".join(poles)
    if arguments.iron is None:
        iron = ask(Question("What iron is in the coils or beside them?", (*irons, NO_IDEA)))
        arguments.iron = None if iron == NO_IDEA else iron
        if "in-one" in iron:
            arguments.iron_in = ask(Question("Which one has it?", tuple(which)))
