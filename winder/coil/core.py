"""Perimeter, area and outline of what the wire is wound on.

For turns and length only two numbers matter: around a convex core a winding of height h has the
perimeter P0 + 2 pi h and encloses A0 + P0 h + pi h^2 (Steiner's formulas for the parallel body),
whatever the shape. A flat side is assumed to stay flat: real wire bulges off long straight sides,
which this leaves out. Inductance and feed need the outline too: every core here is a rectangle
swollen by a radius. A measured core is stood in for by the obround of its perimeter and area.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.errors import UserMistake
from winder.files.quantities import show_length
from winder.recipe.model import Core, CustomCore, ObroundCore, RoundCore

CIRCLE_SLACK = 0.02  # of area: a round core, measured, may seem to hold more than a circle


@dataclass(frozen=True, slots=True)
class Outline:
    """All points within ``radius_m`` of a rectangle ``straight_m`` x ``other_straight_m``."""

    straight_m: float  # the longer of the two
    other_straight_m: float
    radius_m: float

    @property
    def perimeter_m(self) -> float:
        return 2 * (self.straight_m + self.other_straight_m) + 2 * math.pi * self.radius_m

    def swollen(self, by_m: float) -> Outline:
        """The parallel outline further out: what a winding ``by_m`` high shows."""
        return Outline(self.straight_m, self.other_straight_m, self.radius_m + by_m)


@dataclass(frozen=True, slots=True)
class Section:
    """A winding as a body: what its first turn lies on, its width along the axis, its build. Metres."""

    outline: Outline
    width_m: float
    height_m: float

    @property
    def round(self) -> bool:
        return self.outline.straight_m <= 0 and self.outline.other_straight_m <= 0


def core_outline(core: Core) -> Outline:
    """The core's cross-section. ``UserMistake`` for an impossible core."""
    _refuse_impossible(core)
    if isinstance(core, RoundCore):
        return Outline(0.0, 0.0, core.diameter_m / 2)
    if isinstance(core, ObroundCore):
        return Outline(core.length_m - core.thickness_m, 0.0, core.thickness_m / 2)
    if isinstance(core, CustomCore):
        # P = 2 s + 2 pi r and A = 2 s r + pi r^2, solved for the end radius r.
        root = math.sqrt(max(core.perimeter_m**2 - 4 * math.pi * core.area_m2, 0.0))
        radius_m = (core.perimeter_m - root) / (2 * math.pi)
        return Outline(core.perimeter_m / 2 - math.pi * radius_m, 0.0, radius_m)
    radius_m = core.corner_radius_m
    return Outline(core.length_m - 2 * radius_m, core.thickness_m - 2 * radius_m, radius_m)


def core_perimeter_m(core: Core) -> float:
    """Length of a line drawn once around the core, metres. ``UserMistake`` for an impossible core."""
    _refuse_impossible(core)
    if isinstance(core, RoundCore):
        return math.pi * core.diameter_m
    if isinstance(core, ObroundCore):
        return 2 * (core.length_m - core.thickness_m) + math.pi * core.thickness_m
    if isinstance(core, CustomCore):
        return core.perimeter_m
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
    if isinstance(core, CustomCore):
        return core.area_m2
    return core.length_m * core.thickness_m - (4 - math.pi) * core.corner_radius_m**2


def _refuse_impossible(core: Core) -> None:
    if isinstance(core, RoundCore):
        if not core.diameter_m > 0:
            raise UserMistake(
                "the core's diameter must be above zero", where="core", remedy="give its diameter"
            )
        return
    if isinstance(core, CustomCore):
        most_m2 = core.perimeter_m**2 / (4 * math.pi)
        if not 0 < core.area_m2 <= most_m2 * (1 + CIRCLE_SLACK):
            raise UserMistake(
                f"a core of perimeter {show_length(core.perimeter_m)} cannot have an area of"
                f" {core.area_m2 * 1e6:.6g} mm2",
                where="core",
                remedy=f"measure both again; a circle of that perimeter has {most_m2 * 1e6:.6g} mm2",
            )
        return
    if not 0 < core.thickness_m <= core.length_m:
        raise UserMistake(
            f"a core {show_length(core.length_m)} long cannot be {show_length(core.thickness_m)} thick",
            where="core",
            remedy="give the longer side as length; both must be above zero",
        )
    if isinstance(core, ObroundCore):
        return
    if not 0 <= 2 * core.corner_radius_m <= core.thickness_m:
        raise UserMistake(
            f"a corner radius of {show_length(core.corner_radius_m)} does not go with a thickness of"
            f" {show_length(core.thickness_m)}",
            where="core",
            remedy="the radius must be between zero and half the thickness",
        )
