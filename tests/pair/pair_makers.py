"""Coils for the tests of pairs: invented bobbins with the reference's area per turn."""

from __future__ import annotations

import dataclasses
import math

from winder.coil.bands import exact
from winder.coil.model import Band, Coil
from winder.coil.steiner import turns_area_m2
from winder.coil.winding import figure_coil
from winder.coil.window import Ground, Window
from winder.machine.instruments import Instruments
from winder.pair.finished import FinishedCoil, finished_coil
from winder.recipe.model import (
    AwgWire,
    Direction,
    ObroundCore,
    Recipe,
    RoundCore,
    RoundedRectangleCore,
    TurnsTarget,
)

GOOD = Instruments(6000, 0.005, 2.0, 0.0, 1.0)
HAND = Instruments(leads_ohm=0.0)  # a hand meter of 2000 counts, a thermometer of 2 K
AREA_M2 = 4.78895e-9  # one turn's section in the reference tables
HUB7 = (RoundCore(0.007), 0.009, 10_000)
D10 = (RoundCore(0.010), 0.020, 8_000)
OBROUND = (ObroundCore(0.062, 0.006), 0.010, 8_000)
RECTANGLE = (RoundedRectangleCore(0.020, 0.010, 0.001), 0.012, 8_000)
BOBBINS = {"hub 7": HUB7, "d10": D10, "62x6": OBROUND, "20x10": RECTANGLE}


def ground(bobbin) -> Ground:
    """P0 and A0 by hand: circle, stadium, rounded rectangle."""
    core, width_m, _ = bobbin
    if isinstance(core, RoundCore):
        d = core.diameter_m
        return Ground(Window(width_m), math.pi * d, math.pi * d**2 / 4)
    long_m, thick_m = core.length_m, core.thickness_m
    if isinstance(core, ObroundCore):
        p = 2 * (long_m - thick_m) + math.pi * thick_m
        a = (long_m - thick_m) * thick_m + math.pi * thick_m**2 / 4
    else:
        r = core.corner_radius_m
        p = 2 * (long_m + thick_m) - 8 * r + 2 * math.pi * r
        a = long_m * thick_m - (4 - math.pi) * r**2
    return Ground(Window(width_m), p, a)


def turns_area(bobbin, turns: float, area_m2: float = AREA_M2) -> float:
    where = ground(bobbin)
    return turns_area_m2(where.perimeter_m, where.core_m2, area_m2 / bobbin[1], turns)


def coil_on(bobbin, *, direction=Direction.CLOCKWISE, area_m2: float = AREA_M2, **changes) -> Coil:
    """42 AWG on this bobbin, its packing as the reference has it, with the product's own doubt."""
    core, width_m, turns = bobbin
    facts = {
        "name": "small tines",
        "note": "invented",
        "wire": AwgWire(42, "single"),
        "core": core,
        "width_m": width_m,
        "height_m": 0.012,
        "target": TurnsTarget(turns),
        "direction": direction,
    }
    coil = figure_coil(Recipe(**(facts | changes)))
    band = Band(area_m2, area_m2 / 1.15, area_m2 * 1.15)
    return dataclasses.replace(coil, area_per_turn_m2=band)


def digit_ohm(meter: Instruments, ohm: float) -> float:
    """One digit of the lowest range that holds it, ranges ten times apart; 0.1 ohm at first."""
    return next(step for step in (0.1, 1.0, 10.0, 100.0) if meter.counts * step > ohm)


def ratio_limit(
    meter: Instruments, ohms: tuple[float, float], celsius: float = 20.0, *, sitting: float | None
) -> float:
    """95 % limit of ln R1/R2, by hand: what is common to both readings drops out. ``sitting``: kelvin that two
    coils side by side may differ; None: read on two days. Limits of a maker's are rectangular (GUM 4.3.7)."""
    rect, factor = 1.96 / math.sqrt(3), 1 + 0.00393 * (celsius - 20)
    digits = [digit_ohm(meter, ohm) for ohm in ohms]
    assert digits[0] == digits[1], "of one range: its gain drops out"
    noughts = [meter.digits * digit / ohm for digit, ohm in zip(digits, ohms, strict=True)]
    parts = [rect * digit / 2 / ohm for digit, ohm in zip(digits, ohms, strict=True)]
    parts.append(rect * 0.05 * abs(1 / ohms[0] - 1 / ohms[1]))  # what is left of the leads
    if sitting is None:
        parts += [rect * each for each in noughts]
        parts += [0.00393 * kelvin / factor for kelvin in (rect * meter.thermometer_k, 0.3)] * 2
    else:
        parts += [rect * (noughts[0] - noughts[1]), *[0.00393 * sitting] * 2]
    return math.hypot(*parts)


def finished(name: str, bobbin, turns=None, **facts) -> FinishedCoil:
    """On this bobbin; by default as many turns as the bobbin is asked for, of one spool, by an ordinary hand meter
    whose leads were shorted and show nothing."""
    coil = facts.pop("coil", None) or coil_on(bobbin)
    facts = {"spool": "one", "instruments": HAND} | facts
    return finished_coil(name, coil, bobbin[2] if turns is None else turns, **facts)


def sure(finished_: FinishedCoil) -> FinishedCoil:
    """Without any doubt of the packing: for values that are checked to many digits."""
    area = finished_.coil.area_per_turn_m2.nominal
    coil = dataclasses.replace(finished_.coil, area_per_turn_m2=exact(area))
    return dataclasses.replace(finished_, coil=coil)
