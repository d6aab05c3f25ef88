"""From a coil and a machine to legs: bedding, body, pauses, landing.

The wind is cut into *stretches* from rest to rest, at the pauses the recipe asks for. The first stretch
begins with a slow bedding leg, so that the first turns can be watched as they find their place; the
last ends with a landing leg that has the speed out of the spindle well before the target. The board
slows down at the end of every leg by itself; a leg's speed is kept so low that speeding up and
slowing down fit its stretch twice. Leg ends are whole turns and all lie on or before the target.
"""

from __future__ import annotations

import itertools

from firmware_protocol.records import dataclass
from winder.coil.model import Coil
from winder.coil.winding import complaints
from winder.coil.winding import remarks as coil_remarks
from winder.errors import UserMistake
from winder.files.quantities import show_speed
from winder.machine.model import MachineProfile
from winder.plan.bands import Piece, banded, lead_in, taper_remarks
from winder.plan.duration import duration_s
from winder.plan.facing import Facing
from winder.plan.model import AtEnd, Leg, Plan
from winder.plan.motion import Motion, figure_motion, speed_ceiling, wire_advice
from winder.plan.traverse import (
    Lay,
    Strip,
    figure_strip,
    lay_between,
    lay_led_in,
    lay_remarks,
    narrowest_strip_m,
)
from winder.recipe.model import Direction

BEDDING_TURNS = 10  # enough to see the start lie down; common practice, no source
BEDDING_RPM = 120.0
LANDING_TURNS = 10  # beyond what slowing down takes
LANDING_RPM = 300.0
COUNTS_MAX = 1 << 30  # what the board accepts as an end count


@dataclass(frozen=True, slots=True)
class Stretch:
    """Turns from rest to rest, of the coil."""

    start: int
    end: int
    at_end: AtEnd


def make_plan(
    coil: Coil,
    machine: MachineProfile,
    *,
    legs_max: int = 8,
    edge_rate_max_cps: float | None = None,
    first_turn: int = 0,
    scatter: bool | None = None,
    seed: int = 1,
    facing: Facing | None = None,
) -> Plan:
    """How ``machine`` winds ``coil`` from ``first_turn`` (turns that are on it already) to its target.

    ``legs_max`` and ``edge_rate_max_cps`` (counts per second) are the board's. ``scatter`` asks for
    scattered lay by ``seed`` (1 to 65535) or for an even one; None: as the recipe has it. ``facing``
    says which way round the bobbin is mounted; without it clockwise is the motor's +. ``UserMistake``
    with a remedy where it cannot be wound like this.
    """
    assert 1 <= seed <= 0xFFFF
    _refuse_impossible(coil, machine, first_turn)
    if not machine.motor:
        return _counted_by_hand(coil, machine, edge_rate_max_cps, first_turn, facing)
    motion = figure_motion(coil.recipe, machine, edge_rate_max_cps, wire_advice(coil, machine))
    refuse_pauses(coil, first_turn, legs_max)
    stretches, remarks = _stretches(coil, first_turn)
    pieces = pieces_that_fit(stretches, motion, machine.counts_per_turn, legs_max, remarks)
    remarks += _slow_stretches(pieces, motion, first_turn)
    scatter_seed = coil.recipe.scatter_seed if scatter is None else seed if scatter else 0
    strip = figure_strip(coil, machine, scatter_seed)
    pieces, lays, told = _laid(pieces, coil, strip, first_turn, legs_max)
    cpt = machine.counts_per_turn
    legs = tuple(
        leg_of(piece, motion, lay, cpt, first_turn) for piece, lay in zip(pieces, lays, strict=True)
    )
    remarks += [*told, *lay_remarks(coil, strip, lays[-1], machine.steps_per_mm)]
    return Plan(
        legs=legs,
        counts_per_turn=machine.counts_per_turn,
        spindle=_spindle(coil, facing),
        first_turn=first_turn,
        target_turns=coil.turns,
        duration_s=duration_s(legs, machine.counts_per_turn),
        measure_at_end=coil.wind_long,
        remarks=(*coil_remarks(coil), *motion.remarks, *remarks),
        pauses=_pauses(coil, first_turn),
    )


def _refuse_impossible(coil: Coil, machine: MachineProfile, first_turn: int) -> None:
    for complaint in complaints(coil):
        raise UserMistake(complaint.what, where=complaint.field, remedy=complaint.remedy)
    if not 0 <= first_turn < coil.turns:
        raise UserMistake(
            f"{first_turn} of {coil.turns} turns are wound already: there is nothing to wind",
            where="first turn",
            remedy="begin a new coil, or ask for more turns",
        )
    counts = (coil.turns - first_turn) * machine.counts_per_turn
    if counts > COUNTS_MAX:
        raise UserMistake(
            f"{coil.turns - first_turn} turns at {machine.counts_per_turn} counts a turn are"
            f" {counts} counts, the board counts to {COUNTS_MAX}",
            where="target",
            remedy="ask for fewer turns or use a sensor with fewer counts per turn",
        )


def refuse_pauses(coil: Coil, first_turn: int, legs_max: int) -> None:
    """``UserMistake`` when the pauses alone take more legs than the board holds."""
    if legs_max < 1:
        raise UserMistake(
            "the board cannot hold a plan, and the machine file says there is a motor",
            where="legs",
            remedy="use firmware that stops the motor by itself, or a counter's profile",
        )
    stretches, _ = _stretches(coil, first_turn)
    if len(stretches) > legs_max:
        raise UserMistake(
            f"{len(stretches) - 1} pauses split the wind into {len(stretches)} legs, the board holds"
            f" {legs_max}",
            where="winding.pauses",
            remedy=f"keep at most {legs_max - 1} pauses",
        )


def _stretches(coil: Coil, first_turn: int) -> tuple[list[Stretch], list[str]]:
    asked = coil.recipe.pause_at_turns
    stops = sorted({turn for turn in asked if first_turn < turn < coil.turns})
    remarks = [
        f"the pause at turn {turn} is left out: the coil ends at turn {coil.turns}"
        for turn in asked
        if turn >= coil.turns
    ]
    starts = [first_turn, *stops]
    stretches = [
        Stretch(start, end, AtEnd.PAUSE) for start, end in zip(starts, stops, strict=False)
    ]
    stretches.append(Stretch(starts[-1], coil.turns, AtEnd.COMPLETE))
    return stretches, remarks


def pieces_that_fit(
    stretches: list[Stretch], motion: Motion, cpt: int, legs_max: int, remarks: list[str]
) -> list[Piece]:
    """The fullest plan the board can hold: give up the landing first, then the bedding."""
    _refuse_short(stretches, motion, cpt)
    reserve_turns = -(-motion.coast_counts // cpt)
    for bedding, landing in ((True, True), (True, False), (False, False)):
        pieces: list[Piece] = []
        for index, stretch in enumerate(stretches):
            bed = bedding and index == 0
            land = landing and stretch.at_end is AtEnd.COMPLETE
            pieces += _pieces(stretch, motion, reserve_turns, bed=bed, land=land)
        if len(pieces) <= legs_max:
            break
    if not bedding:
        remarks.append(f"no slow first turns: the board holds {legs_max} legs, the pauses take all")
    return pieces


def _refuse_short(stretches: list[Stretch], motion: Motion, cpt: int) -> None:
    for stretch in stretches:
        turns = stretch.end - stretch.start
        if turns * cpt <= motion.coast_counts:
            raise UserMistake(
                f"from turn {stretch.start} to {stretch.end} there are {turns} turns, and this"
                f" machine may coast {motion.coast_counts / cpt:.3g} turns in a stop",
                where="winding.pauses" if stretch.at_end is AtEnd.PAUSE else "target",
                remedy="put the stops further apart, or fit a brake or a sensor with more counts",
            )


def _pieces(
    stretch: Stretch, motion: Motion, reserve_turns: int, *, bed: bool, land: bool
) -> list[Piece]:
    """One stretch as bedding, body and landing; a short one has no room for all of them."""
    turns = stretch.end - stretch.start
    bedding_rpm = max(motion.floor_rpm, min(BEDDING_RPM, motion.speed_for(turns - reserve_turns)))
    if bed and turns <= 2 * BEDDING_TURNS + reserve_turns:
        return [Piece("bedding", stretch.end, stretch.at_end, bedding_rpm)]
    pieces = []
    if bed:
        bedded = stretch.start + BEDDING_TURNS
        pieces.append(Piece("bedding", bedded, AtEnd.CONTINUE, bedding_rpm))
        turns -= BEDDING_TURNS
    speed_rpm = motion.speed_for(turns - reserve_turns)
    landing_turns = int(motion.slowing_turns(speed_rpm)) + 1 + LANDING_TURNS + reserve_turns
    if land and speed_rpm > LANDING_RPM and turns >= 2 * landing_turns:
        begun = stretch.end - landing_turns
        pieces.append(Piece("body", begun, AtEnd.CONTINUE, speed_rpm))
        pieces.append(Piece("landing", stretch.end, stretch.at_end, LANDING_RPM))
    else:
        pieces.append(Piece("body", stretch.end, stretch.at_end, speed_rpm))
    return pieces


def _slow_stretches(pieces: list[Piece], motion: Motion, first_turn: int) -> list[str]:
    starts = [first_turn, *(piece.end for piece in pieces)]
    return [
        f"turns {start + 1} to {piece.end}: {show_speed(piece.speed_rpm, 4)}, no more in so short a stretch"
        for start, piece in zip(starts, pieces, strict=False)
        if piece.name == "body" and piece.speed_rpm < motion.speed_rpm
    ]


def _laid(
    pieces: list[Piece], coil: Coil, strip: Strip, first_turn: int, legs_max: int
) -> tuple[list[Piece], list[Lay], list[str]]:
    """Every leg with its lay: turns grow with the winding, and flanges may taper; and what to know of it."""
    led: list[Piece] = []
    if strip.traversed:
        led = lead_in(pieces, coil, first_turn, legs_max)
        pieces = banded(pieces, coil, first_turn, legs_max - len(led))
    starts = [first_turn, *(piece.end for piece in pieces)]
    bands = list(itertools.pairwise(starts))
    lays = [lay_between(coil, strip, begin, end) for begin, end in bands]
    told = taper_remarks(coil, bands, led=bool(led)) if strip.traversed else []
    return [*led, *pieces], [*map(lay_led_in, lays[: len(led)]), *lays], told


def leg_of(piece: Piece, motion: Motion, lay: Lay, cpt: int, first_turn: int) -> Leg:
    stops = piece.at_end is not AtEnd.CONTINUE
    return Leg(
        name=piece.name,
        end_counts=(piece.end - first_turn) * cpt,
        at_end=piece.at_end,
        speed_rpm=piece.speed_rpm,
        acceleration_rpm_s=motion.acceleration_rpm_s,
        creep_rpm=min(motion.creep_rpm, piece.speed_rpm),
        coast_counts=motion.coast_counts if stops else 0,
        pitch_m=lay.pitch_m,
        left_m=lay.left_m,
        right_m=lay.right_m,
        dwell_counts=lay.dwell_counts,
        scatter_seed=lay.scatter_seed,
    )


def _counted_by_hand(
    coil: Coil,
    machine: MachineProfile,
    edge_rate_max_cps: float | None,
    first_turn: int,
    facing: Facing | None,
) -> Plan:
    """No motor: the person turns and stops; one leg says where. Its speed is the most to turn at."""
    cpt = machine.counts_per_turn
    speed_rpm, remarks = speed_ceiling(coil.recipe, machine, edge_rate_max_cps)
    left_m, right_m = narrowest_strip_m(coil, first_turn, coil.turns)
    leg = Leg(
        name="body",
        end_counts=(coil.turns - first_turn) * cpt,
        at_end=AtEnd.COMPLETE,
        speed_rpm=speed_rpm,
        acceleration_rpm_s=machine.acceleration_rpm_s,
        creep_rpm=0.0,  # nothing drives
        coast_counts=0,
        pitch_m=0.0,
        left_m=left_m,
        right_m=right_m,
        dwell_counts=0,
        scatter_seed=0,
    )
    pauses = _pauses(coil, first_turn)
    if pauses:
        places = ", ".join(f"{turn} ({why})" if why else str(turn) for turn, why in pauses)
        remarks.append(f"the pauses are yours to make: at turn {places}")
    return Plan(
        legs=(leg,),
        counts_per_turn=cpt,
        spindle=_spindle(coil, facing),
        first_turn=first_turn,
        target_turns=coil.turns,
        duration_s=60 * (coil.turns - first_turn) / speed_rpm,
        measure_at_end=coil.wind_long,
        remarks=(*coil_remarks(coil), *remarks),
        pauses=_pauses(coil, first_turn),
    )


def _pauses(coil: Coil, first_turn: int) -> tuple[tuple[int, str], ...]:
    reasons = dict(coil.recipe.pause_reasons)
    asked = coil.recipe.pause_at_turns
    return tuple((at, reasons.get(at, "")) for at in asked if first_turn < at < coil.turns)


def _spindle(coil: Coil, facing: Facing | None) -> int:
    if facing is not None:
        return facing.spindle
    return 1 if coil.recipe.direction is Direction.CLOCKWISE else -1
