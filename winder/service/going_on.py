"""A coil that goes on: what its earlier winds left, as an account, and what was measured in them.

Nothing is set on the board. A wind that is still open there goes on as that wind; else a new one counts from zero and
the account adds them. A count in doubt stays in doubt until a person sets it, here (``turns``) or before the start.
"""

from __future__ import annotations

import math
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.coil.known import coil_of
from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.machine.model import MachineProfile
from winder.recipe.counted import CountOnly
from winder.recipe.model import Direction, Recipe, TurnsTarget
from winder.recipe.observations import Observation
from winder.recipe.readings import read_reading
from winder.service.shelved import coil_on_shelf, turns_on
from winder.shelf.logbook import Logbook
from winder.shelf.model import CoilRecord, JournalLine
from winder.wind.account import Account, whole_counts
from winder.wind.deeds import PERSON, Deed, Vouch
from winder.wind.guards import TURNS_MAX
from winder.wind.wire_place import WirePlace


@dataclass(frozen=True, slots=True)
class GoesOn:
    """Which coil of the shelf shall go on, and the turns on it if the person has counted them.

    ``take_off``: turns that shall come off it; its target is what is on it less these.
    """

    coil: str
    turns: float | None = None
    take_off: int | None = None


@dataclass(frozen=True, slots=True)
class Earlier:
    """What a wind needs to know of a coil's winds so far. ``deeds``: what was said of it just now."""

    coil_id: int
    account: Account
    deeds: tuple[Deed, ...] = ()
    settings_hash: int | None = None
    board_number: int | None = None  # of the board that counted last; None: nobody asked it
    readings: tuple[str, ...] = ()  # that were learnt in them, oldest first, as one writes them
    laid: tuple[WirePlace, ...] = ()  # where the guide laid its wire, turns rising
    adopted_turns: int | None = None  # the target that a person adopted last


def coil_to_go_on(logbook: Logbook, wish: GoesOn, machine: MachineProfile | None = None) -> Coil:
    """The coil by the recipe on record, with its target or with so many turns fewer than are on it.

    ``UserMistake`` where there are not so many, or nobody knows how many there are.
    """
    record = logbook.coil(wish.coil)
    row, where = record.row, f"coil {record.row.coil_id}"
    target = row.target_turns
    if wish.take_off is not None:
        low, high = (wish.turns, wish.turns) if wish.turns is not None else turns_on(record)
        if high - low >= 1:
            raise UserMistake(
                f"its count is in doubt: {row.turns_text}",
                where=where,
                remedy="count the turns on it and add --turns N",
            )
        target = math.floor(low) - wish.take_off
        if wish.take_off < 1 or target < 1:
            raise UserMistake(
                f"{wish.take_off} turns cannot come off {low:g}",
                where="--take-off",
                remedy="name fewer turns than are on the coil, and at least one",
            )
    recipe = coil_on_shelf(record).recipe
    direction = Direction(row.direction)
    pauses = tuple(turn for turn in recipe.pause_at_turns if turn < target)
    made = replace(recipe, target=TurnsTarget(target), direction=direction, pause_at_turns=pauses)
    return coil_of(made, machine)


def earlier_winds(
    logbook: Logbook, wish: GoesOn, wanted: Recipe | CountOnly, machine: MachineProfile
) -> Earlier:
    """Look the coil up. Raises ``UserMistake`` where it cannot go on."""
    record = logbook.coil(wish.coil)
    row, where = record.row, f"coil {record.row.coil_id}, '{record.row.name}'"
    if not record.runs:
        raise UserMistake(
            "has no recorded wind", where=where, remedy="wind the recipe without --continue"
        )
    if row.name != wanted.name or row.direction != wanted.direction.value:
        raise UserMistake(
            f"was wound as '{row.name}', {row.direction}, and the recipe is "
            f"'{wanted.name}', {wanted.direction.value}",
            where=where,
            remedy="give the recipe this coil was begun with",
        )
    lines = [line for run in record.runs for line in run.lines]
    return Earlier(
        row.coil_id,
        record.account,
        _said_now(record, wish, machine, where),
        _newest(lines, "settings_hash"),
        _newest(lines, "board_number"),
        tuple(
            str(line.facts["reading"])
            for line in lines
            if line.kind == "measured" and line.facts.get("learnt") and line.facts.get("reading")
        ),
        laid_in(record),
        None
        if wish.take_off is not None
        else _newest([line for line in lines if line.kind == "plan"], "target_turns"),
    )


def laid_in(record: CoilRecord) -> tuple[WirePlace, ...]:
    """Where the guide laid the wire, as the journals of a coil's winds tell it."""
    account, laid = Account(record.row.counts_per_turn or 1), []
    for run in record.runs:
        for line in run.lines:
            for deed in line.deeds:
                account = account.take(deed)
            if line.facts.get("guide_um") is not None:
                turns = account.truth().best / account.per_turn
                place = int(line.facts["guide_um"]), bool(line.facts["rightward"])
                laid.append(WirePlace(turns, *place))
    return tuple(laid)


def _said_now(
    record: CoilRecord, wish: GoesOn, machine: MachineProfile, where: str
) -> tuple[Deed, ...]:
    counts_per_turn = machine.counts_per_turn
    if wish.turns is not None:
        if not 0 <= wish.turns <= TURNS_MAX:
            raise UserMistake(
                f"{wish.turns:g} turns", where="--turns", remedy=f"say 0 to {TURNS_MAX}"
            )
        counts = whole_counts(wish.turns, counts_per_turn)
        number = record.account.number(Vouch)
        return (Vouch(counts, counts_per_turn, PERSON, "counted by the person", None, number),)
    if record.row.counts_per_turn != counts_per_turn:
        raise UserMistake(
            f"was wound with {record.row.counts_per_turn} counts a turn and this machine has "
            f"{counts_per_turn}: how its turns lie to this sensor nobody knows",
            where=where,
            remedy=f"count the turns on it and say --turns {record.row.turns_text}",
        )
    return ()


def _newest(lines: list[JournalLine], fact: str) -> int | None:
    said = [int(line.facts[fact]) for line in lines if line.facts.get(fact) is not None]
    return said[-1] if said else None


def earlier_readings(earlier: Earlier, coil: Coil) -> tuple[Observation, ...]:
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
