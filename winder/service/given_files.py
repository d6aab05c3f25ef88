"""The files that a command is given: the coil of a recipe, the profile of a machine."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from winder.coil.known import coil_of, with_readings
from winder.coil.model import Coil
from winder.errors import Complaint, FileComplaints, UserMistake, WinderError
from winder.files.tomlfile import read_toml_text
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.machine.reader import read_machine
from winder.recipe.observations import Observation
from winder.recipe.reader import read_recipe


def read_coil(
    recipe_path: str | Path,
    readings: Sequence[Observation] = (),
    machine: MachineProfile | None = None,
) -> Coil:
    """The coil a recipe file gives on this machine, by its readings and by these, which become part of it.

    Raises ``UserMistake`` for whatever is wrong with it, also where a reading of its own cannot be, and
    ``WinderError`` where one of ``readings`` cannot.
    """
    recipe = read_recipe(Path(recipe_path))
    try:
        coil = coil_of(recipe, machine)
    except UserMistake:
        raise
    except WinderError as wrong:  # a reading, which stands in the file
        line = read_toml_text(recipe.text, str(recipe_path)).line_of(tuple(wrong.where.split(".")))
        complaint = Complaint(line, wrong.where, wrong.what, wrong.remedy)
        raise FileComplaints(str(recipe_path), [complaint]) from None
    return with_readings(coil, readings)


def read_profile(machine_path: str | None) -> MachineProfile:
    return SIMULATED_BENCH if machine_path is None else read_machine(Path(machine_path))
