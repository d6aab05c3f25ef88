"""Facts of the bench that its machine file does not say yet: asked once, in one breath, by keys, and kept there.

Enter takes the value in brackets. Who leaves the questions (Ctrl-C, the end of the input) winds with the usual values, and is
asked again next time; what was answered till then is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from winder.errors import UserMistake, WinderError

if TYPE_CHECKING:
    from winder.machine.asking import Purpose, Question

TRIES_MAX = 5  # at one question; then its usual value is taken this once


def ask_bench(
    machine_file: str,
    purposes: Sequence[Purpose],
    read: Callable[[str], str] = input,
    say: Callable[[str], None] = print,
) -> None:
    """Asks what is missing for these purposes and writes it into the file. Raises as ``read_machine``."""
    from winder.machine.asking import answered, missing
    from winder.machine.reader import read_machine

    path = Path(machine_file)
    machine = read_machine(path)
    questions = [each for purpose in purposes for each in missing(machine, purpose)]
    if not questions:
        return
    say(
        f"{path.name} lacks {_how_many(len(questions))} about your bench. Press Enter for the value in brackets;"
        " your answers are saved there."
    )
    for question in questions:
        try:
            value = _answer(question, read, say)
        except (EOFError, KeyboardInterrupt):
            say("\nno more questions: using the usual values this time")
            return
        if value:
            _keep(path, answered(path.read_text(encoding="utf-8"), question.path, value, str(path)))


def purposes_of(measures_ohms: bool, measures_build: bool) -> tuple[Purpose, ...]:
    """What a wind needs to know: the tensioner always, instruments where they are used."""
    from winder.machine.asking import Purpose

    ohms = (Purpose.OHMS,) if measures_ohms else ()
    build = (Purpose.CALIPER,) if measures_build else ()
    return (Purpose.WINDING, *ohms, *build)


def _how_many(questions: int) -> str:
    return "one thing" if questions == 1 else f"{questions} things"


def _answer(question: Question, read: Callable[[str], str], say: Callable[[str], None]) -> str:
    """A TOML value; "" where no answer was found."""
    from winder.machine.asking import objection

    for _ in range(TRIES_MAX):
        typed = read(_prompt(question)).strip()
        value = _value(question, typed)
        wrong = objection(question.path, value)
        if not wrong:
            return value
        say(f"  {wrong}")
    say("  skipped: using the usual value this time")
    return ""


def _prompt(question: Question) -> str:
    shown = [choice.strip('"') for choice in question.choices]
    if not _is_text(question):
        among = f" ({', '.join(shown)})" if shown else ""
        return f"  {question.words}{among} [{question.default}]: "
    if not shown:
        return f"  {question.words} [{question.default.strip(chr(34))}]: "
    keys = ", ".join(f"{number} {each}" for number, each in enumerate(shown, 1))
    return f"  {question.words} {keys} [{question.choices.index(question.default) + 1}]: "


def _value(question: Question, typed: str) -> str:
    """What was typed as a TOML value: a key for one of the choices, or the value itself."""
    if not typed:
        return question.default
    if not _is_text(question):
        return typed
    if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(question.choices):
        return question.choices[int(typed) - 1]
    plain = typed.strip('"').replace("\\", "").replace('"', "")
    return f'"{plain}"'


def _is_text(question: Question) -> bool:
    return question.default.startswith('"')


def _keep(path: Path, text: str) -> None:
    from winder.files.whole_file import replace_file

    try:
        replace_file(path, text)
    except OSError as wrong:
        raise UserMistake(
            f"the answer cannot be saved: {wrong.strerror or wrong}",
            where=str(path),
            remedy="make the file writable, or add the line yourself",
        ) from None


def wants_instruments(recipe_file: str | None, readings: Sequence[object]) -> tuple[bool, bool]:
    """Whether ohms, and whether a build, were or will be measured of a wind of this recipe."""
    from winder.recipe.model import ResistanceTarget
    from winder.recipe.observations import BuildCaliper, FinishedDiameter
    from winder.recipe.reader import read_recipe

    known = list(readings)
    measures = False
    if recipe_file is not None:
        try:
            recipe = read_recipe(recipe_file)
        except WinderError:  # opening it will say what is wrong
            return False, False
        known += recipe.readings
        # A pause is for measuring, as a rule.
        measures = isinstance(recipe.target, ResistanceTarget) or bool(recipe.pause_at_turns)
    by_caliper = [isinstance(each, BuildCaliper | FinishedDiameter) for each in known]
    return measures or not all(by_caliper), any(by_caliper)
