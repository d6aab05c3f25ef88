"""From a coil of the shelf to the next one: the same again, or a mate that is aimed at what it became."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.coil.known import coil_of, with_readings
from winder.coil.model import Coil
from winder.errors import UserMistake, WinderError
from winder.machine.model import MachineProfile
from winder.pair.likeness import By, Likeness, compare
from winder.pair.mate import mate_recipe
from winder.recipe.model import Recipe
from winder.recipe.observations import EarlierCoil, Observation
from winder.recipe.reader import read_recipe
from winder.service.shelved import coil_on_shelf, finished_of, name_of
from winder.shelf.logbook import Logbook
from winder.shelf.model import CoilRecord
from winder.shelf.readings import OHM, Reading, Readings


@dataclass(frozen=True, slots=True)
class Again:
    """Which coil, and how the next one follows it. ``by`` None: the same again."""

    coil: str
    by: By | None = None
    mirrored: bool = False

    @property
    def words(self) -> tuple[str, ...]:
        """The options that say it."""
        if self.by is None:
            return ("--like", self.coil)
        mirrored = ("--mirrored",) if self.mirrored else ()
        return ("--mate", self.coil, "--by", self.by.value, *mirrored)


@dataclass(frozen=True, slots=True)
class Followed:
    """The next coil, and the spool that the first one came from; "": not known, or of other wire."""

    coil: Coil
    spool: str


def coil_again(
    logbook: Logbook,
    again: Again,
    recipe_file: str | None,
    readings: Sequence[Observation] = (),
    machine: MachineProfile | None = None,
) -> Followed:
    """The next coil, its recipe with a remark what it follows.

    ``recipe_file``: of a mate on another bobbin. ``UserMistake`` for a coil that nothing can follow.
    """
    record = logbook.coil(again.coil)
    known = Readings(logbook.book).of(record.row.coil_id)
    first = finished_of(record, known)
    if again.by is None:
        recipe = coil_on_shelf(record).recipe
        if first.spool and first.reading is not None and first.reading.ohm is not None:
            read = first.reading
            earlier = EarlierCoil(first.turns.nominal, read.ohm, read.temperature_c)
            if earlier not in recipe.readings:
                recipe = replace(recipe, readings=(*recipe.readings, earlier))
    else:
        other = None if recipe_file is None else read_recipe(recipe_file)
        recipe = mate_recipe(first, again.by, other, mirrored=again.mirrored)
    try:
        coil = coil_of(_remarked(recipe, again, name_of(record)), machine)
    except UserMistake:
        raise
    except WinderError as wrong:
        raise _implausible(record, known, wrong) from None
    coil = with_readings(coil, readings)
    same_wire = coil.wire.label == first.coil.wire.label
    return Followed(coil, first.spool if same_wire else "")


def _implausible(record: CoilRecord, known: Sequence[Reading], wrong: WinderError) -> WinderError:
    """What to do where the first coil's newest reading cannot be of it; anything else stays as it is."""
    read = [each for each in known if each.measured.kind == OHM and not each.struck]
    if not read:
        return wrong
    coil, reading = record.row.coil_id, read[-1]
    return UserMistake(
        f"its reading '{reading.measured.text}' cannot be used: {wrong.what}",
        where=f"coil {coil}",
        remedy="measure it again; if the reading was wrong, strike it out:"
        f" winder shelf measure {coil} --strike {reading.reading_id} --because 'WHY'",
    )


def how_near(logbook: Logbook, first: str, second: str | int) -> Likeness:
    """The second coil against the first, as wound. ``UserMistake`` where one has nothing on it."""
    one, other = (
        finished_of(record, Readings(logbook.book).of(record.row.coil_id))
        for record in (logbook.coil(second), logbook.coil(first))
    )
    return compare(one, other)


def _remarked(recipe: Recipe, again: Again, name: str) -> Recipe:
    """The text on record says first what the coil followed: its own target is the first coil's."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in name)
    if again.by is None:
        remark = f"# the same again as {shown}"
    else:
        mirrored = ", mirrored" if again.mirrored else ""
        remark = (
            f"# mate of {shown} by {again.by.value}{mirrored}; aimed at it, not at the target here"
        )
    return replace(recipe, text=f"{remark}\n{recipe.text}")
