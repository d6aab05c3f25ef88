"""A mate for a finished coil: as many turns, as many ohms, or as much turns-area, from what it became.

What it aims at is the coil as wound, not its recipe. On a bobbin of the same kind, from the same spool, the
expected turns are the same by all three; readings of the first coil then move the target, because its own
packing is not the mate's. The reading goes along as an earlier coil, so that the mate's readings on the
way are judged with the same meter.
"""

from __future__ import annotations

import dataclasses
import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band
from winder.coil.doubts import Doubtful, exactly
from winder.coil.model import Coil
from winder.coil.turns_area import growth, packing_slopes, turns_of_area
from winder.errors import UserMistake
from winder.files.digits import show_number
from winder.pair.finished import FinishedCoil, logs_of, ohms_read, packing_of
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


def mate_target(
    first: FinishedCoil, by: By, mate: Coil | None = None, *, same_spool: bool = True
) -> MateTarget:
    """Turns for a mate on its own bobbin (``mate`` as its recipe gives it) or one of the same kind.

    ``UserMistake`` by resistance where the first coil was never read.
    """
    on = mate or first.coil
    same_kind = mate is None or FinishedCoil("", mate, first.turns).kind == first.kind
    logs = logs_of(first, "first", one_kind=same_kind, one_spool=same_spool)
    read = ohms_read(first, "first", one_sitting=False)
    miss = exactly(0.0) if read is None else logs.ohm_20c.less(read)
    area = logs.turns_area_m2.knowing(miss)
    if by is By.TURNS:
        turns = first.turns
    elif by is By.HUM:
        turns = _turns_by_hum(on, area, miss, same_kind=same_kind)
    else:
        if first.ohm_20c is None:
            raise UserMistake(
                f"{first.name} was never measured",
                where="reading",
                remedy="measure its ohms first, or make the mate by turns",
            )
        turns = _turns_by_ohms(on, first.ohm_20c, miss, same_kind=same_kind)
    return MateTarget(by, turns, first.ohm_20c, area.log_band)


def _turns_by_hum(on: Coil, area: Doubtful, miss: Doubtful, *, same_kind: bool) -> Band:
    """Turns with the turns-area of the first coil; the habit of packing is common to one kind."""
    packing = packing_of(on, "mate", one_kind=same_kind).knowing(miss)
    area_m2 = math.exp(packing.value)
    turns = turns_of_area(on.ground, math.exp(area.value), area_m2)
    _, slope = packing_slopes(on.ground, turns, area_m2)
    doubt = Doubtful(0.0, packing.causes).times(slope).less(area).doubt
    share = doubt / growth(on.ground, turns, area_m2)
    return Band(turns, turns * math.exp(-share), turns * math.exp(share))


def _turns_by_ohms(on: Coil, ohm_20c: float, miss: Doubtful, *, same_kind: bool) -> Band:
    """Turns with these ohms; what the first coil's reading told of wire and packing goes in."""
    leads_m = on.recipe.leads_m
    wire = on.wire.ohm_per_m
    spool = Doubtful(math.log(wire.nominal), {"wire": math.log(wire.high / wire.low) / 2})
    spool = spool.knowing(miss)
    packing = packing_of(on, "mate", one_kind=same_kind).knowing(miss)
    area_m2, length_m = math.exp(packing.value), ohm_20c / math.exp(spool.value)
    turns = on.ground.turns_of(max(length_m - leads_m, 0.0), area_m2)
    if turns <= 0:
        raise UserMistake(
            f"{show_number(ohm_20c, 6)} ohm is no more than the leads have",
            where="reading",
            remedy="check the reading and the recipe's leads",
        )
    slope, _ = packing_slopes(on.ground, turns, area_m2, leads_m)
    doubt = spool.plus(Doubtful(0.0, packing.causes), slope).doubt
    ends = [
        on.ground.turns_of(max(length_m * math.exp(each) - leads_m, 0.0), area_m2)
        for each in (-doubt, doubt)
    ]
    return Band(turns, *ends)


def mate_recipe(
    first: FinishedCoil, by: By, recipe: Recipe | None = None, *, mirrored: bool = False
) -> Recipe:
    """The recipe to wind the mate by: the first coil's (or ``recipe`` for another bobbin), aimed at it.

    Mirrored is wound the other way. By resistance the target is the first coil's ohms at 20 C.
    """
    from winder.coil.known import coil_of

    base = recipe or first.coil.recipe
    mate = None if recipe is None else coil_of(recipe)
    target = mate_target(first, by, mate, same_spool=bool(first.spool))
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
