"""All that a recipe will give, in one sheet: what is exact as it is, what is doubtful as a band.

The bands are at 95 %. Wire (ohms per metre) and packing (area per turn) are the two doubts, carried to
each figure through its formula and joined as squares of logarithms. Inductance has a third: 2 % for
dimensions taken with a caliper (our judgement from the published coils it was checked on); how it goes
with the build is figured on the round coil of the same perimeter, whose slope is as good and quicker.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from firmware_protocol.records import dataclass
from winder.coil.allowances import BULGE_MOST, bulge_length_m
from winder.coil.bands import Band, factors, joined_band
from winder.coil.capacitance import resonance_hz, self_capacitance_f
from winder.coil.feed import SpeedAdvice, bold_remark, speed_advice, tension_max_n, tension_n
from winder.coil.hum import MAINS_HZ, bulge_factor, hum_v, turns_area_band
from winder.coil.knowledge import turns_for
from winder.coil.mass import SpoolLeft, copper_kg_per_m, mass_of, spool_left, wire_kg_per_m
from winder.coil.model import Coil
from winder.coil.winding import (
    LAY_PITCH,
    build_at,
    complaints,
    flats_build_at,
    remarks,
    room_m,
)
from winder.coil.window import slope_of
from winder.files.quantities import copper_factor
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.recipe.model import CustomCore, ResistanceTarget

CALIPER_FACTOR = 1.02  # on inductance, from dimensions taken with a caliper
SHAPE_FACTOR = 1.02  # on inductance, from a core of which only perimeter and area are known


@dataclass(frozen=True, slots=True)
class Sheet:
    """SI units; ``Band`` where there is doubt."""

    coil: Coil
    turns_for_target: Band | None  # for a resistance; the coil's own turns may be more, to take off
    build_m: Band  # at the ends, or all round a round core
    flats_build_m: Band  # on the flat sides, by which the fit is judged
    spare_m: Band  # room below the flanges and the tape over the wire; below zero it lacks so much
    fill_fraction: Band  # of the window between flanges and below their rims: wire with its enamel
    copper_fill_fraction: float
    wire_length_m: Band
    outer_turn_m: Band
    resistance_ohm: Band  # at the recipe's temperature
    copper_kg: Band
    wire_kg: Band
    spool_left: SpoolLeft | None
    inductance_h: Band  # air core
    cored_inductance_h: Band  # times the measured factor
    turns_area_m2: Band
    hum_v: tuple[Band, ...]  # at ``MAINS_HZ``, in the recipe's field
    self_capacitance_f: Band | None
    resonance_hz: Band | None  # of the coil alone
    cable_resonance_hz: Band | None  # with the stated cable
    tension_n: Band  # to wind with
    tension_max_n: float  # the chart's greatest: where soft copper yields
    speed_advice: SpeedAdvice
    duration_s: float | None
    remarks: tuple[str, ...]


def inductance_band(coil: Coil) -> Band:
    """Henry at low frequency with nothing but air inside."""
    from winder.coil.inductance import inductance_of, round_winding_h

    outline, build = coil.outline, build_at(coil, coil.turns)
    window = coil.ground.window
    nominal = inductance_of(outline, window, build.nominal, coil.turns, coil.wire.bare_m)
    radius_m = outline.perimeter_m / (2 * math.pi)
    at, low, high = (
        round_winding_h(radius_m, window, height)
        for height in (build.nominal, build.low, build.high)
    )
    packing = factors(Band(at, min(low, high, at), max(low, high, at)))
    shape = SHAPE_FACTOR if isinstance(coil.recipe.core, CustomCore) else 1.0
    caliper = (CALIPER_FACTOR, CALIPER_FACTOR)
    bulge = (1.0, bulge_factor(coil))  # turns that enclose more, by as much as their area
    return joined_band(nominal, packing, caliper, (shape, shape), bulge)


def figure_sheet(
    coil: Coil, duration_s: float | None = None, *, machine: MachineProfile = SIMULATED_BENCH
) -> Sheet:
    """The whole sheet; ``duration_s`` is the plan's."""
    recipe, wire = coil.recipe, coil.wire
    # Ohms that were measured say little of the copper's mass: that stays by the tables.
    by_tables = coil.wound.wire
    around = recipe.surroundings
    build, flats = build_at(coil, coil.turns), flats_build_at(coil, coil.turns)
    room = room_m(recipe)
    ground, leads_m = coil.ground, recipe.leads_m
    length = _over_packing(coil, lambda area: ground.length_m(coil.turns, area) + leads_m)
    bulge_m = bulge_length_m(coil.outline, coil.build_m, coil.turns, BULGE_MOST)
    length = Band(length.nominal, length.low, length.high + bulge_m)
    factor = copper_factor(recipe.temperature_c)
    ohm = coil.resistance_ohm_20c
    inductance = inductance_band(coil)
    cored = _times(inductance, around.core_factor)
    turns_area = turns_area_band(coil)
    capacitance = self_capacitance_f(coil)
    advice = speed_advice(coil.outline, wire, recipe, machine)
    window_m2 = (recipe.width_m + slope_of(recipe) * recipe.height_m / 2) * recipe.height_m
    return Sheet(
        coil=coil,
        turns_for_target=turns_for_target(coil),
        build_m=build,
        flats_build_m=flats,
        spare_m=Band(room - flats.nominal, room - flats.high, room - flats.low),
        fill_fraction=_fill(coil, window_m2),
        copper_fill_fraction=coil.turns * math.pi / 4 * wire.bare_m**2 / window_m2,
        wire_length_m=length,
        outer_turn_m=_over_packing(coil, lambda area: ground.turn_m(coil.turns, area)),
        resistance_ohm=_times(ohm, factor),
        copper_kg=mass_of(length, copper_kg_per_m(by_tables)),
        wire_kg=mass_of(length, wire_kg_per_m(by_tables)),
        spool_left=spool_left(recipe.spool, length, by_tables) if recipe.spool else None,
        inductance_h=inductance,
        cored_inductance_h=cored,
        turns_area_m2=turns_area,
        hum_v=tuple(_times(turns_area, hum_v(1.0, around.field_t, hz)) for hz in MAINS_HZ),
        self_capacitance_f=capacitance,
        resonance_hz=resonance_hz(cored, capacitance, 0.0),
        cable_resonance_hz=(
            resonance_hz(cored, capacitance, around.cable_f) if around.cable_f else None
        ),
        tension_n=tension_n(wire.bare_m),
        tension_max_n=tension_max_n(wire.bare_m),
        speed_advice=advice,
        duration_s=duration_s,
        remarks=_remarks(coil, advice, machine),
    )


def turns_in_layer(coil: Coil, height_m: float) -> float:
    """Turns of the layer at this height: the passes of the guide over the width there."""
    return coil.ground.window.width_m(height_m) / (LAY_PITCH * coil.wire.overall_m)


def turns_for_target(coil: Coil) -> Band | None:
    """Turns, not whole, that a resistance target takes with 95 % limits; None for another target."""
    target = coil.recipe.target
    if not isinstance(target, ResistanceTarget):
        return None
    return turns_for(coil.known, target.ohm_20c)


def _over_packing(coil: Coil, figure: Callable[[float], float]) -> Band:
    area = coil.area_per_turn_m2
    nominal, low, high = (figure(a) for a in (area.nominal, area.low, area.high))
    return Band(nominal, low, high)


def _fill(coil: Coil, window_m2: float) -> Band:
    wire = coil.wire
    low_m, high_m = wire.overall_limits_m or (wire.overall_m, wire.overall_m)
    nominal, low, high = (
        coil.turns * math.pi / 4 * diameter_m**2 / window_m2
        for diameter_m in (wire.overall_m, low_m, high_m)
    )
    return Band(nominal, low, high)


def _times(band: Band, factor: float) -> Band:
    return Band(band.nominal * factor, band.low * factor, band.high * factor)


def _remarks(coil: Coil, advice: SpeedAdvice, machine: MachineProfile) -> tuple[str, ...]:
    told = [f"{wrong.what}; {wrong.remedy}" for wrong in complaints(coil)]
    told += remarks(coil)
    if coil.wind_long:
        told.append(
            "wound long on purpose: these figures are for the long coil; measure it and take turns off to reach the target"
        )
    if coil.layers < 1:
        told.append(
            "fewer turns than a layer: inductance assumes they spread over the width; side by side it is higher"
        )
    bold = bold_remark(coil.recipe.speed_rpm, advice, machine)
    return (*told, bold) if bold else tuple(told)


def sheet_facts(sheet: Sheet) -> dict[str, Any]:
    """The sheet for other programs: units in the names, bands as nominal, low and high."""
    coil, left = sheet.coil, sheet.spool_left
    return {
        "name": coil.recipe.name,
        "wire": coil.wire.label,
        "turns": coil.turns,
        "wind_long": coil.wind_long,
        "turns_for_target": _told(sheet.turns_for_target),
        "turns_per_layer": coil.turns_per_layer,
        "turns_first_layer": turns_in_layer(coil, 0.0),
        "turns_last_layer": turns_in_layer(coil, coil.build_m),
        "layers": coil.layers,
        "build_mm": _told(sheet.build_m, 1e3),
        "flats_build_mm": _told(sheet.flats_build_m, 1e3),
        "spare_mm": _told(sheet.spare_m, 1e3),
        "fits": coil.fits,
        "fill_fraction": _told(sheet.fill_fraction),
        "copper_fill_fraction": sheet.copper_fill_fraction,
        "wire_length_m": _told(sheet.wire_length_m),
        "outer_turn_mm": _told(sheet.outer_turn_m, 1e3),
        "spool_left_m": _told(left.length_m) if left else None,
        "spool_left_g": _told(left.mass_kg, 1e3) if left else None,
        "resistance_ohm_20c": _told(coil.resistance_ohm_20c),
        "temperature_c": coil.recipe.temperature_c,
        "resistance_ohm": _told(sheet.resistance_ohm),
        "copper_mass_g": _told(sheet.copper_kg, 1e3),
        "wire_mass_g": _told(sheet.wire_kg, 1e3),
        "inductance_h": _told(sheet.inductance_h),
        "core_factor": coil.recipe.surroundings.core_factor,
        "cored_inductance_h": _told(sheet.cored_inductance_h),
        "turns_area_m2": _told(sheet.turns_area_m2),
        "field_t": coil.recipe.surroundings.field_t,
        **{
            f"hum_{hz:.0f}hz_uv": _told(band, 1e6)
            for hz, band in zip(MAINS_HZ, sheet.hum_v, strict=True)
        },
        "self_capacitance_pf": _told(sheet.self_capacitance_f, 1e12),
        "resonance_khz": _told(sheet.resonance_hz, 1e-3),
        "cable_resonance_khz": _told(sheet.cable_resonance_hz, 1e-3),
        "tension_cn": _told(sheet.tension_n, 100.0),
        "tension_max_cn": sheet.tension_max_n * 100,
        "tension_told_cn": None if coil.recipe.tension_n is None else coil.recipe.tension_n * 100,
        "stretch_share_most": coil.stretch_share,
        "speed_limit_rpm": sheet.speed_advice.rpm,
        "speed_limit_why": sheet.speed_advice.why,
        "duration_s": sheet.duration_s,
        "remarks": list(sheet.remarks),
    }


def _told(band: Band | None, per_unit: float = 1.0) -> dict[str, float] | None:
    return None if band is None else _times(band, per_unit).facts()
