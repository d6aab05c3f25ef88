"""How many whole turns a target means, whatever it is said in.

Turns are taken as they are. A resistance or an inductance is met by the whole turn whose nominal
value comes nearest; a build and a length of wire are never exceeded at nominal packing.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from firmware_protocol.records import dataclass
from winder.coil.allowances import BULGE_MOST, flats_m
from winder.coil.core import Outline
from winder.coil.window import Ground
from winder.coil.wire import WireFacts
from winder.errors import UserMistake
from winder.files.dimensions import INDUCTANCE
from winder.files.quantities import show_length, show_quantity, show_resistance
from winder.recipe.model import (
    BuildTarget,
    FullTarget,
    InductanceTarget,
    ResistanceTarget,
    Target,
    TurnsTarget,
    WireTarget,
)

RATIO_STEPS = 6
TURNS_MAX = 10_000_000  # beyond this a target is a slip of the pen


@dataclass(frozen=True, slots=True)
class Winding:
    """What the wire is wound on and how much room a turn takes, nominal."""

    wire: WireFacts
    outline: Outline  # of the core with the tape on it
    ground: Ground
    area_per_turn_m2: float
    leads_m: float
    room_m: float  # below the flanges and the tape over the wire

    def length_m(self, turns: float) -> float:
        return self.ground.length_m(turns, self.area_per_turn_m2)

    def turns_of(self, length_m: float) -> float:
        return self.ground.turns_of(length_m, self.area_per_turn_m2)


def turns_asked(target: Target, winding: Winding) -> int:
    """Whole turns for the target. ``UserMistake`` where it makes no coil."""
    if isinstance(target, TurnsTarget):
        turns = target.turns
        if turns < 1:
            raise UserMistake(
                f"{turns} turns make no coil", where="target", remedy="ask for one turn or more"
            )
    elif isinstance(target, ResistanceTarget):
        turns = _turns_for_resistance(target.ohm_20c, winding)
    elif isinstance(target, BuildTarget):
        full = winding.ground.turns_in_build(target.build_m, winding.area_per_turn_m2)
        turns = _no_more(full, show_length(target.build_m), "build")
    elif isinstance(target, FullTarget):
        turns = _turns_for_full(target, winding)
    elif isinstance(target, WireTarget):
        wound_m = max(target.length_m - winding.leads_m, 0.0)
        turns = _no_more(
            winding.turns_of(wound_m),
            f"{show_length(target.length_m)} of wire",
            "wire_length",
        )
    else:
        turns = _turns_for_inductance(target, winding)
    if turns > TURNS_MAX:
        raise UserMistake(
            f"the target takes {turns} turns, more than anyone winds",
            where="target",
            remedy="check the unit of the target",
        )
    return turns


def _turns_for_full(target: FullTarget, winding: Winding) -> int:
    """By the flats, where there are any: there the winding stands highest."""
    left_m = winding.room_m - target.below_rim_m
    if left_m <= 0:
        raise UserMistake(
            f"{show_length(target.below_rim_m)} left free is all the height there is",
            where="target.full",
            remedy="leave less free, or take higher flanges",
        )
    loose = 1 + BULGE_MOST / 2 if flats_m(winding.outline) else 1.0
    full = winding.ground.turns_in_build(left_m / loose, winding.area_per_turn_m2)
    return _no_more(full, show_length(left_m), "full")


def _no_more(turns: float, asked: str, key: str) -> int:
    # The slack keeps a target that was figured from whole turns from losing one to rounding.
    whole = math.floor(turns * (1 + 1e-12) + 1e-9)
    if whole < 1:
        raise UserMistake(
            f"{asked} is less than one turn", where=f"target.{key}", remedy="ask for more"
        )
    return whole


def _turns_for_resistance(ohm_20c: float, winding: Winding) -> int:
    wire = winding.wire
    length_m = ohm_20c / wire.ohm_per_m.nominal - winding.leads_m
    below = math.floor(winding.turns_of(max(length_m, 0.0)))
    one_m = winding.length_m(1)
    if below < 1 and not length_m > one_m / 2:
        leads = " besides the leads" if winding.leads_m else ""
        raise UserMistake(
            f"{show_resistance(ohm_20c)} is less than half a turn of {wire.label} on this core{leads}"
            f" (one turn has {show_resistance(one_m * wire.ohm_per_m.nominal, 3)})",
            where="target",
            remedy="ask for more resistance, or give the turns",
        )
    return min(
        (max(below, 1), below + 1),
        key=lambda turns: abs(winding.length_m(turns) - length_m),
    )


def _turns_for_inductance(target: InductanceTarget, winding: Winding) -> int:
    """The whole turn whose inductance comes nearest.

    Solved on the round core of the same perimeter, which is quick, by its ratio to the core as it is;
    the ratio hardly changes from step to step.
    """
    from winder.coil.inductance import inductance_of  # numpy, only where it is needed

    circle = Outline(0.0, 0.0, winding.outline.perimeter_m / (2 * math.pi))

    def henry(turns: float, outline: Outline) -> float:
        build_m = winding.ground.build_m(turns, winding.area_per_turn_m2)
        window = winding.ground.window
        return inductance_of(outline, window, build_m, turns, winding.wire.bare_m)

    one = henry(1, winding.outline)
    if target.henry < one / 2:
        raise UserMistake(
            f"{show_quantity(target.henry, INDUCTANCE)} is less than half of what one turn has"
            f" ({show_quantity(one, INDUCTANCE, 3)})",
            where="target.inductance",
            remedy="ask for more inductance, or give the turns",
        )
    turns, ratio = 1.0, one / henry(1, circle)
    for _ in range(RATIO_STEPS):
        before = turns
        turns = _solved(lambda n: henry(n, circle), target.henry / ratio)
        if turns > TURNS_MAX or abs(turns - before) < 0.05:
            break
        ratio = henry(turns, winding.outline) / henry(turns, circle)
    below = max(math.floor(turns), 1)
    return min((below, below + 1), key=lambda n: abs(henry(n, circle) * ratio - target.henry))


def _solved(henry: Callable[[float], float], asked: float) -> float:
    """Turns with the inductance asked for: L goes nearly with a power of N, so secants in logarithms."""
    turns, slope = 1000.0, 2.0
    value = henry(turns)
    for _ in range(40):
        further: float = min(turns * (asked / value) ** (1 / slope), float(TURNS_MAX + 1))
        if abs(further - turns) < 0.01 or turns > TURNS_MAX:
            return further
        value_there = henry(further)
        if value_there != value:
            slope = math.log(value_there / value) / math.log(further / turns)
            slope = min(max(slope, 0.5), 4.0)
        turns, value = further, value_there
    return turns
