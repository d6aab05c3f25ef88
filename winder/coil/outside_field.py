"""What is left of a nearby source in two coils that cannot be in one place: flux through every filament.

A field that is not the same everywhere reaches the two coils of a pair unequally, and however well they are
matched the difference stays. By Faraday's law a coil hears the flux through its turns, by Stokes's the
line integral of the vector potential along them: A = mu0 m x r / (4 pi r^3) of a small transformer
(a dipole), A = -(mu0 I / 2 pi) ln(distance) along a long straight wire. The share is the difference of
the fields, each the mean over its coil's own turns, against one coil in the middle of both.

The places are the loud ones: the transformer beside the pair in the line of both coils, its axis as theirs, or
above a stack on the axis; the wire in the plane of two coils side by side, across their line. Turned
otherwise there is less, and for each source a place where there is none. Of small coils b apart the share is
D^3 (1/(D-b/2)^3 - 1/(D+b/2)^3), about 3 b/D, of the dipole, and (b/D)/(1 - (b/2D)^2) of the wire.
"""

from __future__ import annotations

import enum
import math

import numpy
from numpy.typing import NDArray

from winder.coil.core import Outline, Section
from winder.coil.mutual import curve_of, filaments
from winder.errors import UserMistake
from winder.files.quantities import show_length

Array = NDArray[numpy.float64]
Place = tuple[float, float, float]  # metres


class Source(enum.Enum):
    TRANSFORMER = "transformer"
    WIRE = "wire"


def beside_share(
    sections: tuple[Section, Section],
    apart_m: float,
    distance_m: float,
    source: Source = Source.TRANSFORMER,
    *,
    end_to_end: bool = False,
) -> float:
    """Of two coils side by side, their axes ``apart_m``, the source ``distance_m`` from their middle.

    ``UserMistake`` where the source would be inside a coil.
    """
    places: tuple[Place, Place] = ((-apart_m / 2, 0.0, 0.0), (apart_m / 2, 0.0, 0.0))
    return _share(sections, places, (distance_m, 0.0, 0.0), source, turned=not end_to_end)


def stacked_share(
    sections: tuple[Section, Section],
    gap_m: float,
    distance_m: float,
    source: Source = Source.TRANSFORMER,
) -> float:
    """Of two coils on one axis, the transformer on it; a wire level with the middle leaves nothing.

    The worst that a wire at 45 degrees can do is b/D of the field, b the distance of the middles.
    """
    apart_m = gap_m + (sections[0].width_m + sections[1].width_m) / 2
    if source is Source.WIRE:
        _refuse_inside(distance_m, apart_m / 2)
        return apart_m / distance_m
    places: tuple[Place, Place] = ((0.0, 0.0, -apart_m / 2), (0.0, 0.0, apart_m / 2))
    return _share(sections, places, (0.0, 0.0, distance_m), source, turned=False)


def _share(
    sections: tuple[Section, Section],
    places: tuple[Place, Place],
    source_at: Place,
    source: Source,
    *,
    turned: bool,
) -> float:
    reach_m = max(max(abs(each) for each in place) for place in places)
    size_m = max(_half_size(section, turned=turned, along=source_at[2] > 0) for section in sections)
    _refuse_inside(max(source_at), reach_m + size_m)
    fields = [
        _mean_field(section, place, source_at, source, turned=turned)
        for section, place in zip(sections, places, strict=True)
    ]
    middle = [
        _mean_field(section, (0.0, 0.0, 0.0), source_at, source, turned=turned)
        for section in sections
    ]
    return abs(fields[1] - fields[0]) / abs(sum(middle) / 2)


def _half_size(section: Section, *, turned: bool, along: bool) -> float:
    """How far the winding reaches towards the source from its middle, metres."""
    if along:
        return section.width_m / 2
    outer = section.outline.swollen(section.height_m)
    straight_m = outer.other_straight_m if turned else outer.straight_m
    return straight_m / 2 + outer.radius_m


def _refuse_inside(distance_m: float, least_m: float) -> None:
    if not least_m < distance_m < math.inf:
        raise UserMistake(
            f"a source {show_length(distance_m, 4)} from the middle of the pair would be inside it",
            where="distance",
            remedy=f"give more than {show_length(least_m, 4)}",
        )


def _mean_field(
    section: Section, place: Place, source_at: Place, source: Source, *, turned: bool
) -> float:
    """Flux of all filaments over their areas: the field along the axis as the coil hears it, any scale."""
    flux = area_m2 = 0.0
    for height_m, outline in filaments(section):
        flux += _flux(outline, (place[0], place[1], place[2] + height_m), source_at, source, turned)
        area_m2 += curve_of(outline).area_m2
    return flux / area_m2


def _flux(outline: Outline, place: Place, source_at: Place, source: Source, turned: bool) -> float:
    """Line integral of the vector potential along the curve, its prefactor left out.

    The dipole's moment is along z: A = (-y, x, 0) / r^3. The wire runs along y: A = (0, -ln rho, 0).
    """
    curve = curve_of(outline)
    x, y, dx, dy = curve.x, curve.y, curve.dx, curve.dy
    if turned:  # a quarter turn: the longer straight along y, long sides facing
        x, y, dx, dy = -y, x, -dy, dx
    x = x + (place[0] - source_at[0])
    y = y + (place[1] - source_at[1])
    z = place[2] - source_at[2]
    if source is Source.WIRE:
        return float(-numpy.log(numpy.hypot(x, z)) @ dy)
    r3 = (x**2 + y**2 + z**2) ** 1.5
    return float((-y / r3) @ dx + (x / r3) @ dy)
