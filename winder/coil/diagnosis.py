"""A reading that contradicts the model: what may be wrong, the likeliest first, each with its figure.

The judgement is Bayes' in small: every cause says what the reading would be if it were so, with a spread,
and has a weight for how often it is met at a bench (our judgement, no source). The causes are ranked by
weight times the likelihood of the logarithm of reading over expectation. A cause that cannot give the
reading is not named. Nothing here repairs anything: a person looks, and measures again.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.coil.bands import WITHIN_95, Band
from winder.coil.knowledge import (
    SURPRISE_MAX,
    Contradiction,
    Knowledge,
    foreseen,
    learn,
    prior,
    resistance_band,
    surprise,
    turns_for,
)
from winder.coil.wire import awg_gauges, metric_sizes_m, wire_facts
from winder.files.digits import show_number
from winder.files.quantities import copper_factor, show_resistance
from winder.recipe.model import AwgWire, MetricWire, Wire
from winder.recipe.observations import OhmReading, SpoolTail

OPEN_TIMES = 2000.0  # beyond the scale's thousand: no coil of this wire, an open end
SHORT_OHM = 2.0  # leads and a joint have no more: the ends touch
SHORT_SHARE = 0.02  # nor has a short somewhere in the leads of a coil of many ohms
SHORT_DENSITY = 0.2  # per unit of the logarithm: a short shows anything within some hundred to one
NEIGHBOURS = 3  # gauges either way that may be mistaken for one another
LEAST_SHARE = 0.01  # of all the plausibility: less is not worth a person's time
COLDEST_C, WARMEST_C = (
    -10.0,
    80.0,
)  # a coil from the cold store, a coil just impregnated or soldered
USUAL_K = 10.0  # between a coil and where it is measured, standard deviation
USUAL_SHARE = 0.1  # of the turns that a short takes, of the resistance a bad joint adds: mean


class Fault(enum.Enum):
    """What may be wrong with a coil or with its reading."""

    OPEN = "open"
    SHORT = "short"
    METER_SCALE = "meter scale"
    WRONG_GAUGE = "wrong gauge"
    SHORTED_TURNS = "shorted turns"
    BAD_JOINT = "bad joint"
    TEMPERATURE = "temperature"
    COUNT = "count"


# How often each is met, roughly, where a reading is wrong at all; our judgement, no source.
WEIGHTS = {
    Fault.OPEN: 1.0,
    Fault.SHORT: 1.0,
    Fault.METER_SCALE: 1.0,
    Fault.WRONG_GAUGE: 0.5,
    Fault.SHORTED_TURNS: 1.0,
    Fault.BAD_JOINT: 1.0,
    Fault.TEMPERATURE: 1.0,
    Fault.COUNT: 0.3,
}
REMEDIES = {
    Fault.OPEN: "look for a broken wire, first at the leads, then at the start under the winding",
    Fault.SHORT: "see whether the leads touch each other, or both touch the bobbin or the core",
    Fault.METER_SCALE: "look at the meter's range: ohm or kohm",
    Fault.WRONG_GAUGE: "read the spool's label, and measure the wire over its enamel",
    Fault.SHORTED_TURNS: "shorted turns cannot be fixed: wind the coil again",
    Fault.BAD_JOINT: "strip and tin the ends again, and measure on the wire itself",
    Fault.TEMPERATURE: "leave it in the room for half an hour, then measure again",
    Fault.COUNT: "compare the count with the build, and with a mark on the spindle",
}


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that may be wrong. ``figure`` is in ``unit``: what the cause would have to amount to."""

    fault: Fault
    figure: float
    unit: str
    words: str
    remedy: str
    share: float  # of the plausibility of all causes found


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """A reading that is not to be believed, and why it may be what it is."""

    shown_ohm: float
    expected_ohm: Band  # at the temperature it was read at
    surprise: float  # standard errors; infinite for an open circuit
    causes: tuple[Cause, ...]  # the likeliest first; may be empty

    @property
    def sentence(self) -> str:
        low, high = (
            show_resistance(ohm, 4) for ohm in (self.expected_ohm.low, self.expected_ohm.high)
        )
        shown = "an open circuit"
        if math.isfinite(self.shown_ohm):
            shown = show_resistance(self.shown_ohm, 4)
        return f"the meter shows {shown} where {low} to {high} were expected"


def diagnose(knowledge: Knowledge, reading: OhmReading | SpoolTail) -> Diagnosis | None:
    """``None`` if the reading agrees with what is known (within ``SURPRISE_MAX`` standard errors)."""
    assert reading.ohm is not None
    off = surprise(knowledge, reading)
    if abs(off) <= SURPRISE_MAX:
        return None
    expected = foreseen(knowledge, reading)
    found = [pair for pair in _causes(knowledge, reading, expected) if pair[1] > 0]
    total = sum(weight for _, weight in found)
    causes = [replace(cause, share=weight / total) for cause, weight in found]
    causes = sorted(
        (cause for cause in causes if cause.share >= LEAST_SHARE), key=lambda cause: -cause.share
    )
    return Diagnosis(reading.ohm, expected, off if math.isfinite(off) else math.inf, tuple(causes))


def _causes(
    knowledge: Knowledge, reading: OhmReading | SpoolTail, expected: Band
) -> Iterator[tuple[Cause, float]]:
    """Causes with weight times likelihood; gross ones leave no room for fine ones."""
    shown = reading.ohm
    assert shown is not None
    if not shown < expected.high * OPEN_TIMES:  # infinite and no number as well
        yield _cause(Fault.OPEN, shown, "ohm", "the circuit is open"), 1.0
        return
    closed_ohm = min(max(SHORT_OHM, SHORT_SHARE * expected.nominal), expected.nominal / 10)
    if shown <= closed_ohm + (knowledge.instruments.leads_ohm or 0.0):
        words = f"the ends touch: {max(shown, 0.0):.2g} ohm"
        yield _cause(Fault.SHORT, shown, "ohm", words), WEIGHTS[Fault.SHORT] * SHORT_DENSITY
    if shown <= 0:
        return
    ratio = math.log(shown) - math.log(expected.nominal)
    spread = (expected.high - expected.low) / 2 / WITHIN_95 / expected.nominal
    yield from _scale(ratio, spread)
    if shown <= closed_ohm + (knowledge.instruments.leads_ohm or 0.0):
        return
    yield from _gauge(knowledge, reading, shown)
    yield from _temperature(reading, ratio, spread)
    if isinstance(reading, OhmReading):
        yield from _turns(knowledge, reading, ratio, shown, expected)


def _scale(ratio: float, spread: float) -> Iterator[tuple[Cause, float]]:
    for times, words in ((1000.0, "kohm for ohm"), (0.001, "ohm for kohm")):
        likely = _normal(ratio - math.log(times), spread)
        if likely > 0:
            cause = _cause(Fault.METER_SCALE, times, "times", f"the figure was read {words}")
            yield cause, WEIGHTS[Fault.METER_SCALE] * likely


def _gauge(
    knowledge: Knowledge, reading: OhmReading | SpoolTail, shown: float
) -> Iterator[tuple[Cause, float]]:
    """Neighbouring wires: thinner has more ohms per metre, and packs closer, so its turns are shorter.

    What was measured before must fit the other wire too.
    """
    others = _neighbours(knowledge.wound.made_of)
    for wire in others:
        other, likely = _as_if_wound_of(wire, knowledge)
        if other is None:
            continue
        facts, ours = other.wound.wire, knowledge.wound.wire
        expected = foreseen(other, reading)
        spread = (expected.high - expected.low) / 2 / WITHIN_95 / expected.nominal
        likely *= _normal(math.log(shown / expected.nominal), spread) / len(others)
        words = f"the wire is {facts.label}, not {ours.label}: that would show {show_number(expected.nominal, 4)} ohm"
        cause = _cause(Fault.WRONG_GAUGE, facts.bare_m * 1e3, "mm", words)
        yield cause, WEIGHTS[Fault.WRONG_GAUGE] * likely


def _as_if_wound_of(wire: Wire, knowledge: Knowledge) -> tuple[Knowledge | None, float]:
    """What the observations so far would have taught of that wire, and how well they go with it."""
    facts, ours, area = wire_facts(wire), knowledge.wound.wire, knowledge.wound.area_per_turn_m2
    scale = (facts.overall_m / ours.overall_m) ** 2
    packed = Band(area.nominal * scale, area.low * scale, area.high * scale)
    wound = replace(knowledge.wound, wire=facts, area_per_turn_m2=packed)
    other, likely = prior(wound, knowledge.instruments), 1.0
    for observation in knowledge.observations:
        likely *= math.exp(-(surprise(other, observation) ** 2) / 2)
        try:
            other = learn(other, observation)
        except Contradiction:
            return None, 0.0
    return other, likely


def _temperature(
    reading: OhmReading | SpoolTail, ratio: float, spread: float
) -> Iterator[tuple[Cause, float]]:
    told = copper_factor(reading.temperature_c)
    celsius = reading.temperature_c + (told * math.exp(ratio) - told) / (copper_factor(21) - 1)
    if not COLDEST_C <= celsius <= WARMEST_C:
        return
    apart = celsius - reading.temperature_c
    usual = USUAL_K * (copper_factor(21) - 1) / told
    words = (
        f"the wire is {'warmer' if apart > 0 else 'colder'} by {abs(apart):.0f} K: {celsius:.0f} C"
    )
    likely = _normal(ratio, math.hypot(spread, usual))
    yield _cause(Fault.TEMPERATURE, celsius, "C", words), WEIGHTS[Fault.TEMPERATURE] * likely


def _turns(
    knowledge: Knowledge, reading: OhmReading, ratio: float, shown: float, expected: Band
) -> Iterator[tuple[Cause, float]]:
    """Too little: turns that are shorted or were never wound; too much: a joint, or more turns."""
    off = abs(ratio)
    ohm_20c = resistance_band(knowledge, reading.turns).nominal * shown / expected.nominal
    as_if = turns_for(knowledge, ohm_20c).nominal
    apart = as_if - reading.turns
    likely = math.exp(-off / USUAL_SHARE) / USUAL_SHARE
    if ratio < 0:
        words = f"about {-apart:.0f} of {reading.turns:.0f} turns are shorted"
        cause = _cause(Fault.SHORTED_TURNS, -apart, "turns", words)
        yield cause, WEIGHTS[Fault.SHORTED_TURNS] * likely
    else:
        more = shown - expected.nominal
        words = f"a bad joint adds about {show_number(more, 3)} ohm"
        yield _cause(Fault.BAD_JOINT, more, "ohm", words), WEIGHTS[Fault.BAD_JOINT] * likely
    words = f"{as_if:.0f} turns are on it, not {reading.turns:.0f}"
    yield _cause(Fault.COUNT, as_if, "turns", words), WEIGHTS[Fault.COUNT] * likely


def _neighbours(wire: Wire) -> list[Wire]:
    """Wires of the same table, film and grade that lie next to this one; none for a measured wire."""
    if isinstance(wire, AwgWire):
        near = [g for g in awg_gauges() if 0 < abs(g - wire.gauge) <= NEIGHBOURS]
        return [replace(wire, gauge=gauge, ohm_per_m=None) for gauge in near]
    if isinstance(wire, MetricWire):
        sizes = metric_sizes_m()
        place = min(range(len(sizes)), key=lambda index: abs(sizes[index] - wire.diameter_m))
        near_m = (
            sizes[max(place - NEIGHBOURS, 0) : place] + sizes[place + 1 : place + 1 + NEIGHBOURS]
        )
        return [replace(wire, diameter_m=size_m, ohm_per_m=None) for size_m in near_m]
    return []


def _cause(fault: Fault, figure: float, unit: str, words: str) -> Cause:
    return Cause(fault, figure, unit, words, REMEDIES[fault], 0.0)


def _normal(off: float, spread: float) -> float:
    """Density of a normal error ``off``; nothing beyond eight standard deviations."""
    z = off / spread
    return math.exp(-z * z / 2) / spread / math.sqrt(2 * math.pi) if abs(z) < 8 else 0.0
