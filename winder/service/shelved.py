"""A coil of the shelf as the formulas want it: its coil by recipe, its turns as wound, its newest reading.

What was measured before it was begun is known of it; its own readings come beside it, to be judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, get_args

from firmware_protocol.records import dataclass
from winder.coil.bands import Band
from winder.coil.desk import ReadingAt, reading_at
from winder.coil.diagnosis import Diagnosis, diagnose
from winder.coil.knowledge import prior, resistance_band
from winder.coil.known import coil_as_known, coil_of, knowledge_of
from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.machine.instruments import Instruments
from winder.pair.finished import FinishedCoil, finished_coil
from winder.recipe.model import Direction, Target, TurnsTarget
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    Observation,
    OhmReading,
    SpoolTail,
)
from winder.recipe.reader import read_recipe_text
from winder.recipe.readings import read_reading
from winder.shelf.model import CoilRecord
from winder.shelf.readings import OHM, Reading
from winder.wind.account import Account

OBSERVATIONS: dict[str, type[Any]] = {
    kind.__name__: kind
    for kind in (SpoolTail, BuildCaliper, FinishedDiameter, OhmReading, EarlierCoil)
}
TARGETS: dict[str, type[Any]] = {kind.__name__: kind for kind in get_args(Target)}


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading of ohms beside what was expected of the coil as wound, both at 20 C."""

    reading: ReadingAt
    expected_ohm_20c: Band
    diagnosis: Diagnosis | None  # None: as expected

    @property
    def beyond(self) -> bool:
        """Whether the limits of both leave room between them: odd, if not so odd that something must be wrong."""
        read, expected = self.reading.at_wanted, self.expected_ohm_20c
        return read.high < expected.low or expected.high < read.low

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
            remedy=f"give them with 'winder shelf edit {record.row.coil_id} --recipe FILE'",
        )
    recipe = read_recipe_text(record.recipe_text, where)
    return coil_of(
        replace(
            recipe,
            name=record.row.name,
            target=_target_at_begin(record) or recipe.target,
            readings=readings_at_begin(record),
            tension_n=_tension_set(record, recipe.tension_n),
            direction=Direction(record.row.as_wound),
        )
    )


def _target_at_begin(record: CoilRecord) -> Target | None:
    """What this coil aimed at: a mate aims at the first coil, whatever the text of its recipe says."""
    try:
        told = dict(record.recipe_facts["target"])
        made: Target = TARGETS[told.pop("kind")](**told)
    except (KeyError, TypeError):  # entered by an earlier version: the text is all there is
        return None
    return made


def _tension_set(record: CoilRecord, by_recipe_n: float | None) -> float | None:
    """What was last said at the machine, which says more than the recipe; None: by feel."""
    lines = (line for run in record.runs for line in run.lines)
    said = [float(line.facts["tension_cn"]) for line in lines if "tension_cn" in line.facts]
    return (said[-1] / 100 or None) if said else by_recipe_n


def readings_at_begin(record: CoilRecord) -> tuple[Observation, ...]:
    """What its recipe and ``--known`` said was measured, as it was entered."""
    found = []
    for facts in record.recipe_facts.get("readings", ()):
        told = dict(facts)
        found.append(OBSERVATIONS[told.pop("kind")](**told))
    return tuple(found)


def coil_as_begun(record: CoilRecord) -> Coil:
    """The same with what its spool had taught of the wire by then, as it was shown when it was begun."""
    coil = coil_on_shelf(record)
    wire = ((record.coil_facts.get("knowledge") or {}).get("wound") or {}).get("wire") or {}
    told = wire.get("ohm_per_m")
    if coil.recipe.readings or told is None:
        return coil  # its readings have taught all
    ohm_per_m = Band(told["nominal"], told["low"], told["high"])
    wound = replace(coil.wound, wire=replace(coil.wire, ohm_per_m=ohm_per_m))
    return coil_as_known(coil, prior(wound))


def coil_as_wound(record: CoilRecord) -> Coil:
    """The coil by its recipe with the turns that are on it. ``UserMistake`` also as ``turns_on``."""
    coil, turns = coil_on_shelf(record), turns_on(record)
    target = TurnsTarget(max(1, round(sum(turns) / 2)))
    return coil_of(replace(coil.recipe, target=target, pause_at_turns=()))


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
            remedy="continue it (winder wind ... --continue) and give the turns on it",
        )
    return turns


def readings_on_the_way(record: CoilRecord) -> tuple[OhmReading, ...]:
    """Ohms that were measured while it was wound and that its winds learnt from, oldest first."""
    made = []
    for line in (line for run in record.runs for line in run.lines if line.kind == "measured"):
        if not line.facts.get("learnt") or not line.facts.get("reading"):
            continue
        try:
            reading = read_reading(str(line.facts["reading"]))
        except UserMistake:  # written by another version of this program
            continue
        if isinstance(reading, OhmReading) and reading.ohm is not None:
            made.append(reading)
    return tuple(made)


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
        instruments=_instruments_of(record),
        spool=spool,
    )


def _instruments_of(record: CoilRecord) -> Instruments:
    """Of the bench it was begun on; an ordinary one's where an earlier version entered it."""
    told = dict(record.coil_facts.get("instruments") or {})
    told.pop("kind", None)
    try:
        return Instruments(**told)
    except TypeError:
        return Instruments()


def expected_ohms(coil: Coil, turns: tuple[float, float]) -> Band:
    """Ohms at 20 C of the turns as wound, before any reading of the coil itself."""
    knowledge = knowledge_of(coil)
    low, high = (resistance_band(knowledge, each) for each in turns)
    return Band((low.nominal + high.nominal) / 2, low.low, high.high)


def judge(record: CoilRecord, ohm: float, temperature_c: float) -> Judged:
    """A reading against the coil as wound. ``UserMistake`` for what no meter shows of a coil."""
    coil, turns = coil_as_begun(record), turns_on(record)
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
