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
is used. What a real bench adds to one side only (stretch, flat sides that bulge) is ``allowances``. Tape under
the wire swells the core; tape over it takes from the room below the flanges; leads add their length.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from winder.coil.allowances import BULGE_MOST, flats_m, stretch_share
from winder.coil.asked import Winding, turns_asked
from winder.coil.bands import Band, factors, joined_band
from winder.coil.core import Outline, core_area_m2, core_perimeter_m
from winder.coil.feed import peak_share, tension_remark, wound_outline
from winder.coil.knowledge import (
    Knowledge,
    bands,
    resistance_band,
    turns_for,
    turns_to_wind_long,
    under_stretch,
)
from winder.coil.model import Coil
from winder.coil.window import Ground, Window, window_of
from winder.coil.wire import WireFacts, makers_remark, wire_facts
from winder.errors import Complaint, UserMistake
from winder.files.quantities import show_length
from winder.machine.instruments import Instruments
from winder.machine.model import MachineProfile
from winder.recipe.model import Recipe, ResistanceTarget

TURN_DENSITY = 0.815  # of square lay; middle of the practice range 0.70 to 0.95
PACKING_FACTOR = 1.15  # 95 % limits of the area per turn: nominal divided and multiplied by this
LAY_PITCH = 1.05  # guide's advance per turn over the overall diameter; common practice, no source


def area_per_turn_m2(overall_m: float) -> Band:
    """Cross-section of the winding that one turn takes: overall diameter squared over the density."""
    nominal = overall_m**2 / TURN_DENSITY
    return Band(nominal, nominal / PACKING_FACTOR, nominal * PACKING_FACTOR)


def figure_coil(
    recipe: Recipe, knowledge: Knowledge | None = None, machine: MachineProfile | None = None
) -> Coil:
    """What the recipe will give on this machine. ``UserMistake`` where nothing can be figured.

    By ``knowledge`` both bands are narrowed and the turns planned; without it by tables and practice alone,
    whatever readings the recipe has (``known.coil_of`` heeds them). ``machine`` says what measures and what brakes the
    wire; None: an ordinary bench, or that of the knowledge. A coil that does not fit its bobbin is still figured; see
    ``complaints`` and ``remarks``.
    """
    ground, outline, tables = _ground(recipe)
    wire, area = tables, area_per_turn_m2(tables.overall_m)
    stretch = stretch_share(peak_share(outline, tables, recipe, machine))
    instruments = machine.instruments if machine is not None else Instruments()
    if knowledge is not None:
        ohm_per_m, area = bands(knowledge)
        told = "; ohms per metre: as measured" if knowledge.observations else ""
        wire = replace(wire, ohm_per_m=ohm_per_m, source=wire.source + told)
        stretch, instruments = knowledge.wound.stretch_share, knowledge.instruments
    winding = Winding(wire, outline, ground, area.nominal, recipe.leads_m, room_m(recipe))

    def of_turns(turns: int) -> Coil:
        # A layer is as thick on any width: where the flanges taper its turns are those of the mean width.
        turns_per_layer = ground.mean_width_m(turns, area.nominal) / (LAY_PITCH * wire.overall_m)
        coil = Coil(
            recipe=recipe,
            wire=wire,
            turns=turns,
            core_perimeter_m=ground.perimeter_m,
            core_area_m2=ground.core_m2,
            width_m=ground.even_width_m(turns, area.nominal),
            area_per_turn_m2=area,
            turns_per_layer=turns_per_layer,
            layers=turns / turns_per_layer,
            build_m=ground.build_m(turns, area.nominal),
            fits=False,
            wire_length_m=ground.length_m(turns, area.nominal) + recipe.leads_m,
            outer_turn_m=ground.turn_m(turns, area.nominal),
            resistance_ohm_20c=Band(0.0, 0.0, 0.0),
            knowledge=knowledge,
            window=ground.window if ground.window.slope else None,
            stretch_share=stretch,
            instruments=instruments,
        )
        return replace(
            coil,
            fits=flats_build_at(coil, turns).high <= room_m(recipe),
            resistance_ohm_20c=resistance_band(coil.known, turns),
        )

    coil = of_turns(turns_asked(recipe.target, winding))
    if isinstance(recipe.target, ResistanceTarget):
        coil = of_turns(_turns_as_known(recipe.target, coil.known))
    return coil


def under_tension(coil: Coil, tension_n: float | None, machine: MachineProfile | None) -> Coil:
    """The coil as it is wound with this tension, whatever its recipe says; None: by feel. Ohms and turns follow the stretch."""
    recipe = replace(coil.recipe, tension_n=tension_n)
    stretch = stretch_share(peak_share(coil.outline, coil.wire, recipe, machine))
    return figure_coil(recipe, under_stretch(coil.known, stretch))


def _ground(recipe: Recipe) -> tuple[Ground, Outline, WireFacts]:
    """What the wire lies on and between, with its tape, and the wire by its tables."""
    tables = wire_facts(recipe.wire)
    tape_m, core_m = recipe.tape_under_m, core_perimeter_m(recipe.core)
    perimeter_m = core_m + 2 * math.pi * tape_m
    area_m2 = core_area_m2(recipe.core) + core_m * tape_m + math.pi * tape_m**2
    ground = Ground(_winding_window(recipe, tables), perimeter_m, area_m2)
    return ground, wound_outline(recipe.core, tape_m), tables


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
    """A callable, turns -> (nominal, low, high) in ohms at 20 C, for screens; leads included."""
    known = coil.known

    def curve(turns: float) -> tuple[float, float, float]:
        band = resistance_band(known, turns)
        return (band.nominal, band.low, band.high)

    return curve


def turns_for_resistance(coil: Coil, ohm_20c: float) -> Band:
    """Turns (not whole) at which this winding has ``ohm_20c``; limits combined like the resistance's."""
    return turns_for(coil.known, ohm_20c)


def build_at(coil: Coil, turns: float) -> Band:
    """Height of the first ``turns`` turns above the core, metres, with 95 % limits."""
    area, ground = coil.area_per_turn_m2, coil.ground
    return Band(*(ground.build_m(turns, each) for each in (area.nominal, area.low, area.high)))


def flats_build_at(coil: Coil, turns: float) -> Band:
    """Height where the winding stands highest: on its flat sides, if it has any; metres, 95 % limits.

    The layers stand looser there, by nothing to ``BULGE_MOST`` of the build.
    """
    build = build_at(coil, turns)
    if not flats_m(coil.outline):
        return build
    middle = 1 + BULGE_MOST / 2
    return joined_band(build.nominal * middle, factors(build), (middle, (1 + BULGE_MOST) / middle))


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
    told = [each for each in (makers_remark(coil.recipe.wire), _tension_remark(coil)) if each]
    build, flats = build_at(coil, coil.turns), flats_build_at(coil, coil.turns)
    height_m = room_m(coil.recipe)
    if flats.high <= height_m or build.low > height_m:
        return tuple(told)
    chance = (
        "it fits only if laid tighter than usual"
        if flats.nominal > height_m
        else "loosely laid it may reach the flange"
    )
    where = " on the flat sides, where the layers lie looser," if flats != build else ""
    told.append(
        f"the build is {_span(flats)}{where} under flanges of"
        f" {show_length(coil.recipe.height_m)}{_less_tape(coil.recipe)}:"
        f" {chance}; watch the last layers"
    )
    return tuple(told)


def _tension_remark(coil: Coil) -> str:
    """A tension that is told is judged at once."""
    told_n = coil.recipe.tension_n
    return "" if told_n is None else tension_remark(coil.wire, told_n)


def turns_that_fit(coil: Coil) -> int:
    """Turns that stay below the flanges with nominal packing, on the flats too."""
    loose = 1 + BULGE_MOST / 2 if flats_m(coil.outline) else 1.0
    room = room_m(coil.recipe) / loose
    return int(coil.ground.turns_in_build(room, coil.area_per_turn_m2.nominal))


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


def _less_tape(recipe: Recipe) -> str:
    tape_m = recipe.tape_under_m + recipe.tape_over_m
    return f", less {show_length(tape_m)} of tape" if tape_m else ""


def _span(band: Band) -> str:
    return f"{show_length(band.nominal, 3)} ({show_length(band.low, 3)} to {show_length(band.high, 3)})"
