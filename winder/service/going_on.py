"""A coil that goes on in a new wind: what its earlier winds left, and how sure that is.

Nothing is set on the board: the new wind counts from zero, and the session adds what is on record. A count
in doubt stays in doubt until a person settles it, here (``turns``) or on the screen before the start.
"""

from __future__ import annotations

from dataclasses import dataclass

from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.machine.model import MachineProfile
from winder.recipe.observations import Observation
from winder.recipe.readings import read_reading
from winder.shelf.logbook import Logbook
from winder.shelf.model import CoilRecord, RunRecord
from winder.wind.model import CountTruth
from winder.wind.truth import vouched

TURNS_MAX = 10_000_000


@dataclass(frozen=True, slots=True)
class Wish:
    """Which coil of the shelf shall go on, and the turns on it if the person has counted them."""

    coil: str
    turns: float | None = None


@dataclass(frozen=True, slots=True)
class EarlierWinds:
    """What a session needs to know of a coil's winds so far."""

    coil_id: int
    truth: CountTruth  # counts of the coil, in this machine's counts
    last_kept: tuple[int, int] | None  # the last wind's number and the board's count at its end
    settings_hash: int | None
    readings: tuple[str, ...] = ()  # that were learnt in them, oldest first, as one writes them
    adopted_turns: int | None = None  # the target that a person adopted last


def earlier_winds(
    logbook: Logbook, wish: Wish, coil: Coil, machine: MachineProfile
) -> EarlierWinds:
    """Look the coil up. Raises ``UserMistake`` where it cannot go on."""
    record = logbook.coil(wish.coil)
    where = f"coil {record.row.coil_id}, '{record.row.name}'"
    if not record.runs:
        raise UserMistake(
            "has no wind on record", where=where, remedy="wind the recipe without --continue"
        )
    if record.row.name != coil.recipe.name or record.row.direction != coil.recipe.direction.value:
        raise UserMistake(
            f"was wound as '{record.row.name}', {record.row.direction}, and the recipe is "
            f"'{coil.recipe.name}', {coil.recipe.direction.value}",
            where=where,
            remedy="give the recipe this coil was begun with",
        )
    last = record.runs[-1]
    return EarlierWinds(
        record.row.coil_id,
        _truth(record, last, wish, machine, where),
        (last.wind, last.lines[-1].counts or 0) if last.lines else None,
        _settings_hash(last),
        tuple(
            str(line.facts["reading"])
            for run in record.runs
            for line in run.lines
            if line.kind == "measured" and line.facts.get("learnt") and line.facts.get("reading")
        ),
        _adopted_turns(record),
    )


def _adopted_turns(record: CoilRecord) -> int | None:
    adopted = [
        int(line.facts["target_turns"])
        for run in record.runs
        for line in run.lines
        if line.kind == "plan" and "target_turns" in line.facts
    ]
    return adopted[-1] if adopted else None


def earlier_readings(earlier: EarlierWinds, coil: Coil) -> tuple[Observation, ...]:
    """What was measured in the earlier winds and is not in the recipe by now."""
    made: list[Observation] = []
    for text in earlier.readings:
        try:
            reading = read_reading(text)
        except UserMistake:
            continue  # written by another version of this program: it stands in the journal
        if reading not in made and reading not in coil.recipe.readings:
            made.append(reading)
    return tuple(made)


def _truth(
    record: CoilRecord, last: RunRecord, wish: Wish, machine: MachineProfile, where: str
) -> CountTruth:
    counts_per_turn = machine.counts_per_turn
    if wish.turns is not None:
        if not 0 <= wish.turns <= TURNS_MAX:
            raise UserMistake(
                f"{wish.turns:g} turns", where="--turns", remedy=f"say 0 to {TURNS_MAX}"
            )
        return vouched(round(wish.turns * counts_per_turn), "operator", "counted by the person")
    if last.truth is None:
        raise UserMistake(
            "its last wind has no end on record",
            where=where,
            remedy="count the turns on it and say --turns N",
        )
    if last.counts_per_turn != counts_per_turn:
        raise UserMistake(
            f"was wound with {last.counts_per_turn} counts a turn and this machine has "
            f"{counts_per_turn}",
            where=where,
            remedy=f"say how many turns are on it: --turns {record.row.turns_text}",
        )
    return last.truth


def _settings_hash(run: RunRecord) -> int | None:
    """The board's settings by which the turns so far were counted, as its first word told them."""
    for line in run.lines:
        if "settings_hash" in line.facts:
            return int(line.facts["settings_hash"])
    return None
