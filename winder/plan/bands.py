"""Flanges that taper, and turning points that stay put within a leg.

A leg's turning points are fixed and a board holds a handful of legs, so the layers are grouped into bands, a
leg each, as many as there are legs to spare. Each band has the turning points of its narrowest layer:
nothing leaves the flanges, and what is left free at a flange grows to (s / 2) times the band's height, s the
slope of both flanges together. How high the narrowest layer lies is taken from the end of the build's 95 %
band that makes it narrower. The bands are cut so that the greatest of what they leave free is as small as the
legs allow. A band is never thinner than a layer, and to leave less than half a wire is worth no leg.

Places are those of the guide: from the left flange *where the bobbin is widest*, so that they are never
below zero, where a guide's travel may end. Between flanges that widen this is at the rims, and the guide
has a way to go before the first turn; it is led in over the first turns, or they would heap up against
the flange at the core.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.coil.model import Coil
from winder.coil.winding import LAY_PITCH, build_at
from winder.coil.window import slope_of, widest_m
from winder.files.quantities import show_length
from winder.plan.model import AtEnd

WORTH_WIRES = 0.5  # left free at a flange; less is not worth another leg
HALVINGS = 20  # of what is left free, in the search for the least that the legs allow
LED_IN_TURNS = 2  # in which the guide is led in from the rim
LED_IN_PITCHES = 3.0  # a shorter way in is walked at the pitch


@dataclass(frozen=True, slots=True)
class Piece:
    """A leg to be: everything that differs from leg to leg, its lay apart."""

    name: str
    end: int  # turns of the coil
    at_end: AtEnd
    speed_rpm: float


@dataclass(frozen=True, slots=True)
class Faces:
    """Where the flanges' faces stand for the guide; heights above the core, metres."""

    left_m: float  # at the core
    right_m: float
    slope: float  # of the width over the height; 0: straight flanges
    rim_m: float

    def at(self, height_m: float) -> tuple[float, float]:
        out_m = self.slope * min(height_m, self.rim_m) / 2
        return self.left_m - out_m, self.right_m + out_m


def faces_of(coil: Coil) -> Faces:
    recipe = coil.recipe
    left_m = (widest_m(recipe) - recipe.width_m) / 2
    return Faces(left_m, left_m + recipe.width_m, slope_of(recipe), recipe.height_m)


def narrowest_height_m(coil: Coil, begin: int, end: int) -> float:
    """Height above the core of the narrowest layer from turn ``begin`` to ``end``, on the safe side."""
    band = build_at(coil, end).high if slope_of(coil.recipe) < 0 else build_at(coil, begin).low
    return min(band + coil.recipe.tape_under_m, coil.recipe.height_m)


def free_m(coil: Coil, begin: int, end: int) -> float:
    """What is left free at either flange by the layer that is widest, metres."""
    slope = slope_of(coil.recipe)
    widest = build_at(coil, begin if slope < 0 else end).nominal + coil.recipe.tape_under_m
    widest = min(widest, coil.recipe.height_m)
    return abs(slope) / 2 * abs(widest - narrowest_height_m(coil, begin, end))


def banded(pieces: list[Piece], coil: Coil, first_turn: int, legs_max: int) -> list[Piece]:
    """The pieces, cut into bands that all leave about as much free, as little as the legs allow."""
    if not slope_of(coil.recipe):
        return pieces
    starts = [first_turn, *(piece.end for piece in pieces)]

    def cut(free: float) -> list[Piece]:
        found: list[Piece] = []
        for begin, piece in zip(starts, pieces, strict=False):
            for end in _band_ends(coil, begin, piece.end, free):
                found.append(replace(piece, end=end, at_end=AtEnd.CONTINUE))
            found.append(piece)
        return found

    low_m = WORTH_WIRES * coil.wire.overall_m
    high_m = max(low_m, *(free_m(coil, *turns) for turns in itertools.pairwise(starts)))
    high_m *= 1.01  # ends are whole turns
    if len(cut(low_m)) <= legs_max:
        return cut(low_m)
    for _ in range(HALVINGS):
        middle_m = (low_m + high_m) / 2
        if len(cut(middle_m)) <= legs_max:
            high_m = middle_m
        else:
            low_m = middle_m
    bands = cut(high_m)
    return bands if len(bands) <= legs_max else pieces


def _band_ends(coil: Coil, begin: int, end: int, free: float) -> list[int]:
    """Turns between ``begin`` and ``end`` at which a band ends that leaves so much free, metres."""
    slope, area, ground = slope_of(coil.recipe), coil.area_per_turn_m2, coil.ground
    layer_m = area.nominal / (LAY_PITCH * coil.wire.overall_m)
    ends: list[int] = []
    while True:
        build = build_at(coil, begin)
        from_m, area_m2 = (build.low, area.nominal) if slope > 0 else (build.nominal, area.high)
        reached = ground.turns_in_build(from_m + 2 * free / abs(slope), area_m2)
        layer = ground.turns_in_build(build.nominal + layer_m, area.nominal)
        begin = max(math.floor(reached), math.ceil(layer), begin + 1)
        if begin >= end:
            return ends
        ends.append(begin)


def lead_in(pieces: list[Piece], coil: Coil, first_turn: int, legs_max: int) -> list[Piece]:
    """A first leg of its own where the flange stands far in from zero, if there is a leg to spare."""
    left_m, _ = faces_of(coil).at(narrowest_height_m(coil, first_turn, first_turn))
    far = left_m > LED_IN_PITCHES * LAY_PITCH * coil.wire.overall_m
    first = pieces[0]
    if not far or first.end - first_turn <= 2 * LED_IN_TURNS or len(pieces) >= legs_max:
        return []
    return [replace(first, end=first_turn + LED_IN_TURNS, at_end=AtEnd.CONTINUE)]


def taper_remarks(coil: Coil, bands: list[tuple[int, int]], *, led: bool) -> list[str]:
    """What a person should know of flanges that taper; ``bands``: first and last turn of each leg."""
    recipe, slope = coil.recipe, slope_of(coil.recipe)
    if not slope:
        return []
    out_m = abs(slope) * recipe.height_m / 2
    where = (
        "at its rim, {} further out than at the core"
        if slope > 0
        else "at the core, {} further out than at its rim"
    )
    told = f"the flanges taper: the guide's zero is the left flange {where.format(show_length(out_m, 3))}"
    if led:
        told += f", and the first {LED_IN_TURNS} turns lead it in"
    widest = max(free_m(coil, begin, end) for begin, end in bands)
    wires = widest / coil.wire.overall_m
    count = f"{len(bands)} bands of layers have" if len(bands) > 1 else "all layers have"
    return [
        told,
        f"{count} the turning points of the narrowest layer of theirs: up to {show_length(widest, 2)}"
        f" ({wires:.1f} wires) at a flange is left to what slides there",
    ]
