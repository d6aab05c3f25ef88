"""Sums on a desk, outside any wind: a reading at 20 C, the turns of an unknown coil, the gauge of a wire.

Copper's ohms go as 1 + 0.00393 (T - 20) (IEC 60028). The turns of an unknown coil on a known bobbin follow
from its ohms: N turns at the height h hold L = N (P0 + pi h) of wire between straight flanges, so where the
build was measured the packing drops out; without it the packing is the doubt. A gauge is looked for in the
wire tables, by what conforming wire keeps to, widened by what the measurement leaves open. Limits at 95 %.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band, factors, joined_band
from winder.coil.knowledge import Knowledge, bands, turns_for
from winder.coil.known import knowledge_of
from winder.coil.model import Coil
from winder.coil.turns_area import packing_slopes
from winder.coil.wire import (
    FILMS,
    GRADES,
    MICROMETER_M,
    WireFacts,
    awg_gauges,
    metric_sizes_m,
    wire_facts,
)
from winder.errors import UserMistake
from winder.files.amounts import COLDEST_C, WARMEST_C
from winder.files.digits import show_number
from winder.files.quantities import COPPER_ALPHA20_PER_K, copper_factor
from winder.machine.instruments import Instruments
from winder.recipe.model import AwgWire, MetricWire, Wire
from winder.recipe.observations import CALIPER_M, TAPE_MEASURE_M, UNEVEN_EVEN_LAY

NEAREST = 4  # wires told at most


# --- a reading ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ReadingAt:
    """What the meter showed, brought to another temperature."""

    ohm: float
    temperature_c: float
    wanted_c: float
    at_wanted: Band
    by_kelvin: float  # ohms that one kelvin makes
    by_meter: float  # ohms that the meter leaves open
    by_thermometer: float  # ohms that the thermometer leaves open


def reading_at(
    ohm: float,
    temperature_c: float,
    meter: Instruments | None = None,
    wanted_c: float = 20.0,
) -> ReadingAt:
    """``meter`` None: an ordinary hand meter. Leads are deducted where they are known, else they widen the band.

    ``UserMistake`` for what no meter or thermometer shows of a coil.
    """
    meter = meter or Instruments()
    for celsius in (temperature_c, wanted_c):
        if not COLDEST_C <= celsius <= WARMEST_C:
            raise UserMistake(
                f"a coil at {celsius:g} C",
                where="temperature",
                remedy=f"give {COLDEST_C:g} C to {WARMEST_C:g} C",
            )
    leads_ohm = meter.leads_ohm or 0.0
    own = ohm - leads_ohm
    if not 0 < own < math.inf:
        raise UserMistake(
            f"{show_number(ohm, 6)} ohm is no more than the meter's own leads",
            where="reading",
            remedy="measure again, and touch the leads together to see what they read",
        )
    at_20c = own / copper_factor(temperature_c)
    wanted = at_20c * copper_factor(wanted_c)
    by_meter = wanted * ohm / own * meter.spread_share(ohm)
    if meter.leads_ohm is None:
        by_meter += wanted * meter.leads_band_ohm[0] / own
    kelvin = COPPER_ALPHA20_PER_K / copper_factor(temperature_c)
    by_thermometer = wanted * kelvin * meter.thermometer_k
    doubt = math.hypot(by_meter, by_thermometer)
    return ReadingAt(
        ohm,
        temperature_c,
        wanted_c,
        Band(wanted, wanted - doubt, wanted + doubt),
        at_20c * COPPER_ALPHA20_PER_K,
        by_meter,
        by_thermometer,
    )


# --- an unknown coil ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class UnknownCoil:
    """Turns of a coil that nobody counted, on the bobbin and with the wire of a recipe."""

    ohm_20c: Band
    turns: Band
    build_m: float | None  # as measured; None: the packing is a guess of practice
    wire_m: float
    reach_ohm_20c: float | None
    take_off: Band | None  # turns; below zero so many are missing
    outer_turn_ohm: float  # at 20 C, of the last turn


def unknown_coil(
    coil: Coil,
    reading: ReadingAt,
    *,
    build_m: float | None = None,
    reach_ohm_20c: float | None = None,
) -> UnknownCoil:
    """From its ohms at 20 C and, if measured, its build. ``UserMistake`` for what cannot be."""
    if reading.wanted_c != 20.0:
        raise ValueError("the reading must be corrected to 20 C")
    knowledge = knowledge_of(coil)
    ohm = reading.at_wanted
    leads_ohm = bands(knowledge)[0].nominal * coil.recipe.leads_m
    if ohm.nominal <= leads_ohm:
        raise UserMistake(
            f"{show_number(reading.ohm, 6)} ohm is no more than this recipe's leads",
            where="reading",
            remedy="check the unit: a coil of hair-thin wire has hundreds of ohms",
        )
    if reach_ohm_20c is not None and not leads_ohm < reach_ohm_20c < math.inf:
        raise UserMistake(
            f"{show_number(reach_ohm_20c, 6)} ohm cannot be reached by taking turns off",
            where="reach",
            remedy="give the ohms you want",
        )
    _refuse_build(coil, build_m)
    if build_m is None:
        turns = _turns_by_packing(knowledge, ohm)
        area_m2 = bands(knowledge)[1].nominal
    else:
        turns, area_m2 = _turns_by_build(coil, knowledge, ohm, build_m)
    ohm_per_m = bands(knowledge)[0].nominal
    if turns.nominal < 1:
        raise UserMistake(
            f"{show_number(reading.ohm, 6)} ohm is less than one turn of this coil",
            where="reading",
            remedy="check the unit: a coil of hair-thin wire has hundreds of ohms",
        )
    off = None
    if reach_ohm_20c is not None:
        off = _take_off(coil, knowledge, reading, turns, area_m2, reach_ohm_20c, build_m)
    return UnknownCoil(
        ohm_20c=ohm,
        turns=turns,
        build_m=build_m,
        wire_m=ohm.nominal / ohm_per_m,
        reach_ohm_20c=reach_ohm_20c,
        take_off=off,
        outer_turn_ohm=ohm_per_m * coil.ground.turn_m(turns.nominal, area_m2),
    )


def _turns_by_packing(knowledge: Knowledge, ohm: Band) -> Band:
    """By ohms per metre and packing as known, and what the meter leaves open."""
    known = turns_for(knowledge, ohm.nominal)
    wound, area = knowledge.wound, bands(knowledge)[1]
    step = 1e-4
    wires = [
        wound.ground.length_m(known.nominal * (1 + side), area.nominal) for side in (-step, step)
    ]
    slope = math.log(wires[1] / wires[0]) / math.log((1 + step) / (1 - step))
    return joined_band(known.nominal, factors(known), factors(ohm, 1 / slope))


def _turns_by_build(
    coil: Coil, knowledge: Knowledge, ohm: Band, build_m: float
) -> tuple[Band, float]:
    """N = L M_0 / (P0 M_0 + 2 pi M_1): the mean turn by the build, whatever the packing; and the packing."""
    ground, ohm_per_m = coil.ground, bands(knowledge)[0]

    def mean_turn_m(height_m: float) -> float:
        window = ground.window
        return ground.perimeter_m + 2 * math.pi * window.moment(height_m, 1) / window.moment(
            height_m, 0
        )

    overall_m = coil.wire.overall_m
    height_m = max(build_m - overall_m, build_m / 2)  # the jaws rest on the highest strands
    doubt_m = math.hypot(CALIPER_M, overall_m, UNEVEN_EVEN_LAY * build_m)
    ends = [mean_turn_m(max(height_m + side * doubt_m, 0.1 * height_m)) for side in (-1, 1)]
    mean_m = mean_turn_m(height_m)
    length_m = ohm.nominal / ohm_per_m.nominal - coil.recipe.leads_m
    by_build = Band(1 / mean_m, 1 / ends[1], 1 / ends[0])
    turns = joined_band(length_m / mean_m, factors(ohm), factors(ohm_per_m, -1), factors(by_build))
    return turns, ground.window.moment(height_m, 0) / turns.nominal


def _take_off(
    coil: Coil,
    knowledge: Knowledge,
    reading: ReadingAt,
    turns: Band,
    area_m2: float,
    reach: float,
    build_m: float | None,
) -> Band:
    """The outer turns that hold what is too much. The same meter shall show the wanted ohms afterwards."""
    ground, leads_m = coil.ground, coil.recipe.leads_m
    part = reach / reading.at_wanted.nominal

    def off(on_it: float, area: float) -> float:
        wire_m = ground.length_m(on_it, area) + leads_m
        return on_it - ground.turns_of(max(wire_m * part - leads_m, 0.0), area)

    ends = [off(turns.low, area_m2), off(turns.high, area_m2)]
    nominal = off(turns.nominal, area_m2)
    if build_m is None:
        area = bands(knowledge)[1]
        slope, _ = packing_slopes(ground, turns.nominal, area_m2)
        for each in (area.low, area.high):  # looser packing has fewer turns in the same wire
            share = slope * math.log(each / area.nominal)
            ends.append(off(turns.nominal * math.exp(-share), each))
    return Band(nominal, min(*ends, nominal), max(*ends, nominal))


def _refuse_build(coil: Coil, build_m: float | None) -> None:
    if build_m is not None and not 0 < build_m <= 2 * coil.recipe.height_m:
        raise UserMistake(
            f"a build of {build_m * 1e3:g} mm under flanges of {coil.recipe.height_m * 1e3:g} mm",
            where="build",
            remedy="measure the height of the winding above the core, on one side",
        )


# --- a gauge ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class GaugeMatch:
    """A wire of the tables that the measurement may be of."""

    wire: Wire
    facts: WireFacts
    fits: bool  # conforming wire may measure so
    off: float  # measured over nominal, less one


@dataclass(frozen=True, slots=True)
class GaugeFound:
    """Nearest first. ``measured`` is in metres, or in ohms per metre at 20 C."""

    measured: Band
    by_ohms: bool
    matches: tuple[GaugeMatch, ...]


def gauge_by_diameter(
    diameter_m: float, *, bare: bool, error_m: float = MICROMETER_M
) -> GaugeFound:
    """Over the enamel, or of the bare copper. ``UserMistake`` outside the tables."""
    if not 0 < diameter_m < math.inf:
        raise UserMistake(
            "a wire cannot be that thin", where="diameter", remedy="give what the micrometer shows"
        )
    measured = Band(diameter_m, diameter_m - error_m, diameter_m + error_m)
    found = []
    for wire, facts in _wires(every_film=not bare):
        if bare:
            nominal, limits = facts.bare_m, _bare_limits(facts)
        else:
            nominal, limits = facts.overall_m, facts.overall_limits_m or (facts.overall_m,) * 2
        fits = limits[0] <= measured.high and measured.low <= limits[1]
        found.append(GaugeMatch(wire, facts, fits, diameter_m / nominal - 1))
    return _nearest(measured, found, by_ohms=False)


def gauge_by_ohms(
    length_m: float,
    ohm: float,
    temperature_c: float = 20.0,
    meter: Instruments | None = None,
    length_error_m: float = TAPE_MEASURE_M,
) -> GaugeFound:
    """From the ohms of a measured length, which do not tell the film. ``UserMistake`` outside the tables."""
    if not 0 < length_m < math.inf:
        raise UserMistake(
            "a piece must have a length", where="length", remedy="give the length you measured"
        )
    at = reading_at(ohm, temperature_c, meter).at_wanted
    nominal = at.nominal / length_m
    share = length_error_m / length_m
    measured = joined_band(nominal, factors(at), (1 + share, 1 + share))
    found = []
    for wire, facts in _wires(every_film=False):
        band = facts.ohm_per_m
        fits = band.low <= measured.high and measured.low <= band.high
        found.append(GaugeMatch(wire, facts, fits, nominal / band.nominal - 1))
    return _nearest(measured, found, by_ohms=True)


def _wires(*, every_film: bool) -> list[tuple[Wire, WireFacts]]:
    """All of both tables; one film of each where the film does not matter."""
    films, grades = (FILMS, GRADES) if every_film else (FILMS[:1], GRADES[:1])
    wires: list[Wire] = [AwgWire(gauge, film) for gauge in awg_gauges() for film in films]
    wires += [MetricWire(size, grade) for size in metric_sizes_m() for grade in grades]
    return [(wire, wire_facts(wire)) for wire in wires]


def _bare_limits(facts: WireFacts) -> tuple[float, float]:
    """Ohms go as one over the square: the limits of one are those of the other."""
    band = facts.ohm_per_m
    down, up = math.sqrt(band.nominal / band.high), math.sqrt(band.nominal / band.low)
    return facts.bare_m * down, facts.bare_m * up


def _nearest(measured: Band, found: list[GaugeMatch], *, by_ohms: bool) -> GaugeFound:
    found.sort(key=lambda match: (not match.fits, abs(math.log1p(match.off))))
    if abs(math.log1p(found[0].off)) > math.log(1.5):
        raise UserMistake(
            f"no wire in the tables ({min(awg_gauges())} to {max(awg_gauges())} AWG,"
            f" {min(metric_sizes_m()) * 1e3:g} to {max(metric_sizes_m()) * 1e3:g} mm) measures like this",
            where="gauge",
            remedy="check the unit, the length and the temperature",
        )
    return GaugeFound(measured, by_ohms, tuple(found[:NEAREST]))
