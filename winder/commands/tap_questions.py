"""The tap test without a screen: one question after the other, answered by typing."""

from __future__ import annotations

from winder.errors import UserMistake
from winder.service.tap_test import Question, coil_questions, coil_reading, pair_questions

ASKED = "ask"  # instead of the answers
TRIES = 3


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
        if len(found) == 1:
            return found[0]
    raise UserMistake(
        "no answer that could be used",
        where="tap test",
        remedy=f"answer {choices}; or give it all at once, see --help",
    )


def ask_tap() -> str:
    """The reading of one coil, as one would type it at once."""
    return coil_reading(*(ask(each) for each in coil_questions()))


def ask_taps(*, stacked: bool, poles: str | None) -> tuple[str, str | None]:
    """Both kicks of a pair, and its poles where they had to be asked, as ``--taps`` and ``--poles`` have them."""
    said = [ask(each) for each in pair_questions(stacked=stacked, poles_known=poles is not None)]
    return ",".join(said[-2:]), ",".join(said[:-2]) or poles
