"""A coil of the shelf as the formulas want it: its coil by recipe, its turns as wound, its newest reading.

What was measured before it was begun is known of it; its own readings come beside it, to be judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from winder.coil.bands import Band
from winder.coil.desk import ReadingAt, reading_at
from winder.coil.diagnosis import Diagnosis, diagnose
from winder.coil.knowledge import resistance_band
from winder.coil.known import coil_of, knowledge_of
from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.pair.finished import FinishedCoil, finished_coil
from winder.recipe.model import Direction
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    Observation,
    OhmReading,
    SpoolTail,
)
from winder.recipe.reader import read_recipe_text
from winder.shelf.model import CoilRecord
from winder.shelf.readings import OHM, Reading
from winder.wind.account import Account

OBSERVATIONS: dict[str, type[Any]] = {
    kind.__name__: kind
    for kind in (SpoolTail, BuildCaliper, FinishedDiameter, OhmReading, EarlierCoil)
}


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading of ohms beside what was expected of the coil as wound, both at 20 C."""

    reading: ReadingAt
    expected_ohm_20c: Band
    diagnosis: Diagnosis | None  # None: as expected

    @property
    def off_share(self) -> float:
        """How far it lies above the expectation; below zero: under it."""
        return self.reading.at_wanted.nominal / self.expected_ohm_20c.nominal - 1


def name_of(record: CoilRecord) -> str:
    """How a coil is called beside another: names need not differ, numbers do."""
    return f"{record.row.name} (no. {record.row.coil_id})"


def coil_on_shelf(record: CoilRecord) -> Coil:
    """The coil by its recipe and what was measured before it was begun, in the direction it has.

    ``UserMistake`` where the recipe on record cannot be read or figured by this version.
    """
    where = f"recipe of coil {record.row.coil_id}"
    if not record.row.is_known:
        raise UserMistake(
            "it was only counted: its wire and bobbin are not known",
            where=f"coil {record.row.coil_id}",
            remedy=f"tell them with 'winder shelf edit {record.row.coil_id} --recipe FILE'",
        )
    recipe = read_recipe_text(record.recipe_text, where)
    readings = readings_at_begin(record)
    direction = Direction(record.row.as_wound)
    return coil_of(replace(recipe, name=record.row.name, readings=readings, direction=direction))


def readings_at_begin(record: CoilRecord) -> tuple[Observation, ...]:
    """What its recipe and ``--known`` said was measured, as it was entered."""
    found = []
    for facts in record.recipe_facts.get("readings", ()):
        told = dict(facts)
        found.append(OBSERVATIONS[told.pop("kind")](**told))
    return tuple(found)


def turns_on(record: CoilRecord) -> tuple[float, float]:
    """Lowest and highest turns as wound. ``UserMistake`` where there are none or nobody knows how many."""
    turns, row = record.row.turns, record.row
    if turns is None or turns[1] <= 0:
        raise UserMistake(
            f"nothing is wound on coil {row.coil_id}",
            where=row.name,
            remedy="name a coil that was wound; 'winder shelf list' shows them",
        )
    if row.truth.is_open or turns[0] <= 0:
        raise UserMistake(
            f"nobody knows how many turns coil {row.coil_id} has",
            where=row.name,
            remedy="go on with it (winder wind ... --continue) and tell the turns that are on it",
        )
    return turns


def newest_ohms(readings: Sequence[Reading]) -> Reading | None:
    """The newest reading of ohms that was not struck out."""
    good = [each for each in readings if each.measured.kind == OHM and not each.struck]
    return good[-1] if good else None


def finished_of(record: CoilRecord, readings: Sequence[Reading]) -> FinishedCoil:
    """For pairs and mates. ``UserMistake`` as ``turns_on`` and ``coil_on_shelf``."""
    coil, turns = coil_on_shelf(record), turns_on(record)
    read, spool = newest_ohms(readings), record.row.said.spool
    if read is None:
        return finished_coil(name_of(record), coil, turns, spool=spool)
    at_c = read.measured.temperature_c
    return finished_coil(
        name_of(record),
        coil,
        turns,
        ohm=read.measured.ohm,
        temperature_c=20.0 if at_c is None else at_c,
        spool=spool,
    )


def expected_ohms(coil: Coil, turns: tuple[float, float]) -> Band:
    """Ohms at 20 C of the turns as wound, before any reading of the coil itself."""
    knowledge = knowledge_of(coil)
    low, high = (resistance_band(knowledge, each) for each in turns)
    return Band((low.nominal + high.nominal) / 2, low.low, high.high)


def judge(record: CoilRecord, ohm: float, temperature_c: float) -> Judged:
    """A reading against the coil as wound. ``UserMistake`` for what no meter shows of a coil."""
    coil, turns = coil_on_shelf(record), turns_on(record)
    read = reading_at(ohm, temperature_c)
    expected = expected_ohms(coil, turns)
    # Where the count is in doubt, the end that the reading suits best is judged.
    ends = (turns[0], turns[1], sum(turns) / 2)
    found = [diagnose(knowledge_of(coil), OhmReading(n, ohm, temperature_c)) for n in ends]
    fits = any(each is None for each in found)
    return Judged(read, expected, None if fits else found[-1])


def path_of(record: CoilRecord) -> tuple[float, ...]:
    """Turns on the coil at each turning back and at the end, whole turns apart, by its account."""
    account, heights = Account(record.row.counts_per_turn or 1), [0.0]
    for run in record.runs:
        for line in run.lines:
            for deed in line.deeds:
                account = account.take(deed)
                heights.append(account.truth().best / account.per_turn)
    return turning_points(heights)


def turning_points(heights: Sequence[float], least: float = 1.0) -> tuple[float, ...]:
    """Where a row of heights turned back by ``least`` or more, and where it ended."""
    path, rising, edge = [], True, heights[0]
    for height in heights[1:]:
        if (height > edge) is rising:
            edge = height
        elif abs(height - edge) >= least:
            path.append(edge)
            rising, edge = not rising, height
    return (*path, heights[-1])
