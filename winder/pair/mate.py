"""A mate for a finished coil: as many turns, as many ohms, or as much turns-area, from what it became.

What it aims at is the coil as wound, not its recipe. On a bobbin of the same kind, from the same spool, the
expected turns are the same by all three; readings of the first coil then move the target, because its own
packing is not the mate's. The reading goes along as an earlier coil, so that the mate's readings on the
way are judged with the same meter.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

from winder.coil.model import Band, Coil
from winder.coil.turns_area import turns_of_area
from winder.errors import UserMistake
from winder.pair.finished import FinishedCoil, logs_of, reading_log
from winder.pair.likeness import By
from winder.recipe.model import Direction, Recipe, ResistanceTarget, TurnsTarget
from winder.recipe.observations import EarlierCoil


@dataclass(frozen=True, slots=True)
class MateTarget:
    """What the mate aims at. Turns with 95 % limits; the ohms and turns-area are of the first coil."""

    by: By
    turns: Band
    ohm_20c: float | None  # of the first coil, as read; None: not read
    turns_area_m2: Band


def mate_target(first: FinishedCoil, by: By, mate: Coil | None = None) -> MateTarget:
    """Turns for a mate on its own bobbin (``mate`` as its recipe gives it) or one of the same kind.

    ``UserMistake`` by resistance where the first coil was never read.
    """
    on = mate or first.coil
    same = mate is None or FinishedCoil("", mate, first.turns).kind == first.kind
    logs = logs_of(first, "first", one_kind=same, one_spool=True)
    read = reading_log(first, "first", one_sitting=False)
    area = logs.turns_area_m2
    if read is not None:
        area = area.knowing(logs.ohm_20c.less(read))
    turns = _turns(first, by, on, area.value, same)
    return MateTarget(by, turns, first.ohm_20c, area.log_band)


def _turns(first: FinishedCoil, by: By, on: Coil, area_log: float, same: bool) -> Band:
    if by is By.TURNS:
        return first.turns
    area = on.area_per_turn_m2
    ground = on.ground
    if by is By.HUM:
        wanted = math.exp(area_log)

        def turns_at(area_m2: float) -> float:
            return turns_of_area(ground, wanted, area_m2)
    else:
        if first.ohm_20c is None:
            raise UserMistake(
                f"{first.name} was never measured",
                where="reading",
                remedy="measure its ohms first, or make the mate by turns",
            )
        length_m = first.ohm_20c / on.wire.ohm_per_m.nominal - on.recipe.leads_m

        def turns_at(area_m2: float) -> float:
            return ground.turns_of(length_m, area_m2)

    ends = [turns_at(each) for each in (area.nominal, area.low, area.high)]
    return Band(ends[0], min(ends), max(ends))


def mate_recipe(
    first: FinishedCoil, by: By, recipe: Recipe | None = None, *, mirrored: bool = False
) -> Recipe:
    """The recipe to wind the mate by: the first coil's (or ``recipe`` for another bobbin), aimed at it.

    Mirrored is wound the other way. By resistance the target is the first coil's ohms at 20 C.
    """
    from winder.coil.known import coil_of

    base = recipe or first.coil.recipe
    target = mate_target(first, by, None if recipe is None else coil_of(recipe))
    direction = _turned(base.direction) if mirrored else base.direction
    aim: TurnsTarget | ResistanceTarget = TurnsTarget(round(target.turns.nominal))
    if by is By.RESISTANCE and target.ohm_20c is not None:
        aim = ResistanceTarget(target.ohm_20c)
    readings = base.readings
    if recipe is None and first.spool and first.reading is not None:
        earlier = EarlierCoil(first.turns.nominal, first.reading.ohm, first.reading.temperature_c)
        readings = (*readings, earlier)
    return dataclasses.replace(base, target=aim, direction=direction, readings=readings)


def _turned(direction: Direction) -> Direction:
    clockwise = direction is Direction.CLOCKWISE
    return Direction.COUNTER_CLOCKWISE if clockwise else Direction.CLOCKWISE
