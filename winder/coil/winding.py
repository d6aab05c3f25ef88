"""Turns, length, resistance and build of a winding on a convex core.

Every turn takes the area a of the winding's cross-section, so n turns fill the width W to the height
n a / W. With g = a / W the n-th turn is P0 + 2 pi g n long (Steiner), and N turns take

    L(N) = P0 N + pi g N^2,    R = r L,    N = 2 L / (P0 + sqrt(P0^2 + 4 pi g L)),

the last form being stable as g goes to nothing. Two numbers are doubtful: r (ohms per metre: the
wire's tolerance) and a (packing: how the wire lies). They are taken as independent log-normal errors
known by their 95 % limits; each is carried to the resistance by itself, through the formula as it
stands, and the two log-errors are added as squares, upward and downward separately. Between flanges that
taper W goes with the height: the formulas are then those of ``window``.

The default packing: turn density 0.70 to 0.95 of a square lay (practice range, "Coil design", sec.
1.10 of an electric-motor handbook) is, within a hundredth, 0.815 with 15 % up or down, which is what
is used. Left out: bulging on flat sides, stretch by tension (R rises by twice the strain). Tape under
the wire swells the core; tape over it takes from the room below the flanges; leads add their length.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from winder.coil.asked import Winding, turns_asked
from winder.coil.bands import Band
from winder.coil.core import core_area_m2, core_outline, core_perimeter_m
from winder.coil.knowledge import (
    Knowledge,
    bands,
    resistance_band,
    turns_for,
    turns_to_wind_long,
)
from winder.coil.model import Coil
from winder.coil.steiner import turns_area_m2, turns_of_length, wound_length_m
from winder.coil.window import Ground, Window, window_of
from winder.coil.wire import WireFacts, wire_facts
from winder.errors import Complaint, UserMistake
from winder.files.quantities import show_length
from winder.recipe.model import Recipe, ResistanceTarget

__all__ = [
    "area_per_turn_m2",
    "build_at",
    "complaints",
    "figure_coil",
    "joined",
    "remarks",
    "resistance_at",
    "resistance_curve",
    "room_m",
    "turns_area_m2",
    "turns_for_resistance",
    "turns_of_length",
    "turns_that_fit",
    "wound_length_m",
]

TURN_DENSITY = 0.815  # of square lay; middle of the practice range 0.70 to 0.95
PACKING_FACTOR = 1.15  # 95 % limits of the area per turn: nominal divided and multiplied by this
LAY_PITCH = 1.05  # guide's advance per turn over the overall diameter; common practice, no source


def area_per_turn_m2(overall_m: float) -> Band:
    """Cross-section of the winding that one turn takes: overall diameter squared over the density."""
    nominal = overall_m**2 / TURN_DENSITY
    return Band(nominal, nominal / PACKING_FACTOR, nominal * PACKING_FACTOR)


def figure_coil(recipe: Recipe, knowledge: Knowledge | None = None) -> Coil:
    """What the recipe will give. ``UserMistake`` where nothing can be figured.

    By ``knowledge`` both bands are narrowed and the turns planned; without it by tables and practice alone,
    whatever readings the recipe has (``known.coil_of`` heeds them). A coil that does not fit its bobbin is
    still figured; see ``complaints`` and ``remarks``.
    """
    wire = wire_facts(recipe.wire)
    tape_m = recipe.tape_under_m
    core_m = core_perimeter_m(recipe.core)
    perimeter_m = core_m + 2 * math.pi * tape_m
    area_m2 = core_area_m2(recipe.core) + core_m * tape_m + math.pi * tape_m**2
    ground = Ground(_winding_window(recipe, wire), perimeter_m, area_m2)
    area = area_per_turn_m2(wire.overall_m)
    if knowledge is not None:
        ohm_per_m, area = bands(knowledge)
        told = "; ohms per metre: as measured" if knowledge.observations else ""
        wire = replace(wire, ohm_per_m=ohm_per_m, source=wire.source + told)
    outline = core_outline(recipe.core).swollen(tape_m)
    winding = Winding(wire, outline, ground, area.nominal, recipe.leads_m)
    turns = turns_asked(recipe.target, winding)
    if knowledge is not None and isinstance(recipe.target, ResistanceTarget):
        turns = _turns_as_known(recipe.target, knowledge)
    # A layer is as thick on any width: where the flanges taper its turns are those of the mean width.
    turns_per_layer = ground.mean_width_m(turns, area.nominal) / (LAY_PITCH * wire.overall_m)
    ohm = _resistance_curve(wire.ohm_per_m, ground, area, recipe.leads_m)
    return Coil(
        recipe=recipe,
        wire=wire,
        turns=turns,
        core_perimeter_m=perimeter_m,
        core_area_m2=area_m2,
        width_m=ground.even_width_m(turns, area.nominal),
        area_per_turn_m2=area,
        turns_per_layer=turns_per_layer,
        layers=turns / turns_per_layer,
        build_m=ground.build_m(turns, area.nominal),
        fits=ground.build_m(turns, area.high) <= room_m(recipe),
        wire_length_m=ground.length_m(turns, area.nominal) + recipe.leads_m,
        outer_turn_m=ground.turn_m(turns, area.nominal),
        resistance_ohm_20c=resistance_band(knowledge, turns) if knowledge else Band(*ohm(turns)),
        knowledge=knowledge,
        window=ground.window if ground.window.slope else None,
    )


def _turns_as_known(target: ResistanceTarget, knowledge: Knowledge) -> int:
    """Enough at the high end, or the whole turn whose nominal ohms come nearest."""
    if target.wind_long:
        return turns_to_wind_long(knowledge, target.ohm_20c)
    below = max(math.floor(turns_for(knowledge, target.ohm_20c).nominal), 1)
    return min(
        (below, below + 1),
        key=lambda turns: abs(resistance_band(knowledge, turns).nominal - target.ohm_20c),
    )


def room_m(recipe: Recipe) -> float:
    """Height that the tape leaves for the wire below the flanges, metres."""
    return recipe.height_m - recipe.tape_under_m - recipe.tape_over_m


def resistance_at(coil: Coil, turns: float) -> Band:
    """Ohms at 20 C of the first ``turns`` turns, with 95 % limits."""
    return Band(*resistance_curve(coil)(turns))


def resistance_curve(coil: Coil) -> Callable[[float], tuple[float, float, float]]:
    """A cheap callable, turns -> (nominal, low, high) in ohms at 20 C, for screens; leads included."""
    knowledge = coil.knowledge
    if knowledge is not None:

        def as_known(turns: float) -> tuple[float, float, float]:
            band = resistance_band(knowledge, turns)
            return (band.nominal, band.low, band.high)

        return as_known
    return _resistance_curve(
        coil.wire.ohm_per_m, coil.ground, coil.area_per_turn_m2, coil.recipe.leads_m
    )


def turns_for_resistance(coil: Coil, ohm_20c: float) -> Band:
    """Turns (not whole) at which this winding has ``ohm_20c``; limits combined like the resistance's.

    The same two doubts, carried through the inverse: more ohms per metre or fatter packing need
    fewer turns. Of a coil of which something was measured: as known.
    """
    if coil.knowledge is not None:
        return turns_for(coil.knowledge, ohm_20c)

    ground = coil.ground

    def turns(ohm_per_m: float, area_m2: float) -> float:
        length_m = max(ohm_20c / ohm_per_m - coil.recipe.leads_m, 0.0)
        return ground.turns_of(length_m, area_m2)

    wire, area = coil.wire.ohm_per_m, coil.area_per_turn_m2
    nominal = turns(wire.nominal, area.nominal)
    if nominal <= 0:
        return Band(0.0, 0.0, 0.0)
    by_wire, by_packing = turns(wire.high, area.nominal), turns(wire.nominal, area.high)
    most = joined(turns(wire.low, area.nominal) / nominal, turns(wire.nominal, area.low) / nominal)
    if by_wire <= 0:  # the leads alone may have it
        return Band(nominal, 0.0, nominal * most)
    return Band(nominal, nominal / joined(by_wire / nominal, by_packing / nominal), nominal * most)


def build_at(coil: Coil, turns: float) -> Band:
    """Height of the first ``turns`` turns above the core, metres, with 95 % limits."""
    area, ground = coil.area_per_turn_m2, coil.ground
    return Band(*(ground.build_m(turns, each) for each in (area.nominal, area.low, area.high)))


def complaints(coil: Coil) -> tuple[Complaint, ...]:
    """Why this coil must not be begun: even laid as tightly as is plausible it overflows the bobbin."""
    build = build_at(coil, coil.turns)
    height_m = room_m(coil.recipe)
    if build.low <= height_m:
        return ()
    room = turns_that_fit(coil)
    flanges = show_length(coil.recipe.height_m)
    return (
        Complaint(
            0,
            "bobbin.flange_height",
            f"{coil.turns} turns of {coil.wire.label} build {_span(build)},"
            f" the flanges are {flanges} high" + _less_tape(coil.recipe),
            f"wind at most about {room} turns, or take thinner wire or a bigger bobbin",
        ),
    )


def remarks(coil: Coil) -> tuple[str, ...]:
    """What a person should know of a coil that may be wound, in sentences."""
    build = build_at(coil, coil.turns)
    height_m = room_m(coil.recipe)
    if build.high <= height_m or build.low > height_m:
        return ()
    chance = (
        "it fits only if laid tighter than usual"
        if build.nominal > height_m
        else "loosely laid it may reach the flange"
    )
    return (
        f"the build is {_span(build)} under flanges of {show_length(coil.recipe.height_m)}"
        f"{_less_tape(coil.recipe)}:"
        f" {chance}; watch the last layers",
    )


def turns_that_fit(coil: Coil) -> int:
    """Turns that stay below the flanges with nominal packing."""
    return int(coil.ground.turns_in_build(room_m(coil.recipe), coil.area_per_turn_m2.nominal))


def _winding_window(recipe: Recipe, wire: WireFacts) -> Window:
    window = window_of(recipe)
    places = [("between the margins", window.base_m, "bobbin.margin", "the bobbin's width")]
    if window.slope:
        rim_m = window.width_m(window.rim_m)
        places.append(("between the margins at the rims", rim_m, "bobbin.rim_width", "rim_width"))
    for place, width_m, where, what in places:
        if width_m < wire.overall_m:
            raise UserMistake(
                f"{place} there are {show_length(width_m, 3)}, less than one {wire.label} wire"
                f" ({show_length(wire.overall_m, 3)})",
                where=where,
                remedy=f"make the margin smaller or check {what}",
            )
    return window


def _resistance_curve(
    ohm_per_m: Band, ground: Ground, area: Band, leads_m: float
) -> Callable[[float], tuple[float, float, float]]:
    wire_up = ohm_per_m.high / ohm_per_m.nominal
    wire_down = ohm_per_m.nominal / ohm_per_m.low

    def curve(turns: float) -> tuple[float, float, float]:
        if turns < 1e-9:  # nothing wound yet
            bare = leads_m * ohm_per_m.nominal
            return (bare, bare / wire_down, bare * wire_up)
        length_m, longest_m, shortest_m = (
            ground.length_m(turns, each) + leads_m for each in (area.nominal, area.high, area.low)
        )
        up = joined(wire_up, longest_m / length_m)
        down = joined(wire_down, length_m / shortest_m)
        nominal = ohm_per_m.nominal * length_m
        return (nominal, nominal / down, nominal * up)

    return curve


def joined(factor: float, other: float) -> float:
    """Two independent factors at their 95 % limits as one: log-errors add as squares. At least 1."""
    return math.exp(math.hypot(math.log(factor), math.log(other)))


def _less_tape(recipe: Recipe) -> str:
    tape_m = recipe.tape_under_m + recipe.tape_over_m
    return f", less {show_length(tape_m)} of tape" if tape_m else ""


def _span(band: Band) -> str:
    return f"{show_length(band.nominal, 3)} ({show_length(band.low, 3)} to {show_length(band.high, 3)})"
