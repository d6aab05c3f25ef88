"""Perimeter and area of what the wire is wound on.

For a convex core only these two numbers matter: a winding of height h around it has the perimeter
P0 + 2 pi h and encloses A0 + P0 h + pi h^2 (Steiner's formulas for the parallel body), whatever the
shape. A flat side is assumed to stay flat: real wire bulges off long straight sides, which this
leaves out.
"""

from __future__ import annotations

import math

from winder.errors import UserMistake
from winder.quantities import show_length
from winder.recipe.model import Core, ObroundCore, RoundCore


def core_perimeter_m(core: Core) -> float:
    """Length of a line drawn once around the core, metres. ``UserMistake`` for an impossible core."""
    _refuse_impossible(core)
    if isinstance(core, RoundCore):
        return math.pi * core.diameter_m
    if isinstance(core, ObroundCore):
        return 2 * (core.length_m - core.thickness_m) + math.pi * core.thickness_m
    radius = core.corner_radius_m
    return 2 * (core.length_m + core.thickness_m) - (8 - 2 * math.pi) * radius


def core_area_m2(core: Core) -> float:
    """Area of the core's cross-section, square metres. ``UserMistake`` for an impossible core."""
    _refuse_impossible(core)
    if isinstance(core, RoundCore):
        return math.pi / 4 * core.diameter_m**2
    if isinstance(core, ObroundCore):
        straight = core.length_m - core.thickness_m
        return straight * core.thickness_m + math.pi / 4 * core.thickness_m**2
    return core.length_m * core.thickness_m - (4 - math.pi) * core.corner_radius_m**2


def _refuse_impossible(core: Core) -> None:
    if isinstance(core, RoundCore):
        if not core.diameter_m > 0:
            raise UserMistake(
                "the core's diameter is not above zero", where="core", remedy="give its diameter"
            )
        return
    if not 0 < core.thickness_m <= core.length_m:
        raise UserMistake(
            f"a core {show_length(core.length_m)} long cannot be {show_length(core.thickness_m)} thick",
            where="core",
            remedy="give the longer side as the length, both above zero",
        )
    if isinstance(core, ObroundCore):
        return
    if not 0 <= 2 * core.corner_radius_m <= core.thickness_m:
        raise UserMistake(
            f"a corner radius of {show_length(core.corner_radius_m)} does not go with a thickness of"
            f" {show_length(core.thickness_m)}",
            where="core",
            remedy="the radius is at least zero and at most half the thickness",
        )
