"""A coil by its name, if only one has it."""

from __future__ import annotations

from collections.abc import Sequence

from winder.errors import UserMistake
from winder.files.nearest import nearest
from winder.shelf.model import CoilRow


def find_coil(coils: Sequence[CoilRow], wanted: str, where: str) -> CoilRow:
    """The one that is meant. Raises ``UserMistake`` for none and for several."""
    found = [coil for coil in coils if coil.name == wanted]
    if len(found) == 1:
        return found[0]
    if found:
        numbers = ", ".join(str(coil.coil_id) for coil in found)
        raise UserMistake(
            f"{len(found)} coils are called '{wanted}'",
            where=where,
            remedy=f"give the number of the one you mean: {numbers}",
        )
    names = {coil.name.casefold(): coil.name for coil in coils}
    near = nearest(wanted.casefold(), names)
    if near:
        remedy = f"did you mean '{names[near]}'?"
    else:
        remedy = "'winder shelf list' shows the coils" if coils else "the shelf is empty"
    raise UserMistake(f"there is no coil '{wanted}'", where=where, remedy=remedy)
