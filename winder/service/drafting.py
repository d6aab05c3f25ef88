"""A recipe that is still being written: judged as it stands after every key, and saved without losing a word.

Judging reads the text as any recipe is read, figures its coil and plans it for the machine: what is wrong is
said of the field it is about. It takes a few milliseconds and touches no file.
"""

from __future__ import annotations

import re
from pathlib import Path

from firmware_protocol.records import dataclass
from winder.coil.known import coil_of
from winder.coil.model import Coil
from winder.coil.winding import remarks
from winder.errors import Complaint, FileComplaints, UserMistake, WinderError
from winder.files.whole_file import replace_file, write_new_file
from winder.machine.model import MachineProfile
from winder.plan.checks import refusals
from winder.plan.planner import make_plan
from winder.recipe.reader import read_recipe_text
from winder.service.planning import LEGS_USUAL


@dataclass(frozen=True, slots=True)
class Judged:
    """What is wrong with a draft, or what it will give. ``duration_s``: winding it on the machine."""

    complaints: tuple[Complaint, ...]
    coil: Coil | None = None
    duration_s: float | None = None
    remarks: tuple[str, ...] = ()


def judge(text: str, name: str, machine: MachineProfile) -> Judged:
    """What a person may know of a recipe's text. Raises nothing for whatever it says."""
    coil: Coil | None = None
    try:
        coil = coil_of(read_recipe_text(text, name), machine)
        if refused := refusals(coil, machine, legs_max=LEGS_USUAL):
            return Judged(tuple(refused), coil)
        plan = make_plan(coil, machine, legs_max=LEGS_USUAL)
    except FileComplaints as wrong:
        return Judged(wrong.complaints, coil)
    except WinderError as wrong:
        return Judged((Complaint(0, wrong.where, wrong.what, wrong.remedy),), coil)
    return Judged((), coil, plan.duration_s, remarks(coil))


def file_for(name: str, folder: Path) -> Path:
    """A file in the folder that is not there yet, named after the coil."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "coil"
    path, number = folder / f"{plain}.toml", 2
    while path.exists():
        path, number = folder / f"{plain}-{number}.toml", number + 1
    return path


def read_draft(path: Path) -> str:
    """The text of a recipe that is there, letter for letter. ``UserMistake`` where it cannot be read."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise _mistake("this file cannot be read", path, error) from None


def save_draft(path: Path, text: str, before: str | None) -> None:
    """Write the recipe. ``before`` is what was read from the file; None: it is to be a new one.

    The old file is there whole until the new one is. ``UserMistake`` where the file was changed meanwhile, is there
    already, or cannot be written.
    """
    if before is not None and read_draft(path) != before:
        raise UserMistake(
            "another program has changed this file",
            where=str(path),
            remedy="nothing was written; leave the form and open it again",
        )
    if before is None:
        write_new_file(path, text, "recipe")
        return
    try:
        replace_file(path, text)
    except (OSError, ValueError) as error:
        raise _mistake("the recipe cannot be written here", path, error) from None


def _mistake(what: str, path: Path, error: Exception) -> UserMistake:
    reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
    return UserMistake(
        f"{what} ({reason})",
        where=str(path),
        remedy="choose a folder or file that you can write to",
    )
