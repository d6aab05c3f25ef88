"""A pair before it is soldered: for each of the four ways to join it, hum, signal, ohms and inductance.

Decibels are against one coil alone: hum against the louder of the two, signal against the near one (side
by side: either). All come from the two coils as wound, their places, and what a person said of magnets and
iron; a measured hum ratio overrules what is figured of turns-area and iron.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band, factors, joined_band
from winder.coil.inductance import inductance_of, round_winding_h
from winder.coil.mutual import beside_per_turns_h, stacked_per_turns_h
from winder.coil.outside_field import Source, beside_share, stacked_share
from winder.coil.sheet import CALIPER_FACTOR
from winder.errors import UserMistake
from winder.files.quantities import show_length
from winder.pair.circuit import (
    Side,
    joined_henry_band,
    joined_ohm_band,
    mutual_of_join,
    weights,
)
from winder.pair.finished import FinishedCoil, logs_of, ohms_read, section_of
from winder.pair.hum_left import HUM_HZ, Ears, Left, check_ears, hum_left
from winder.pair.leads import Wiring, four_ways
from winder.pair.likeness import Likeness
from winder.pair.mounting import Beside, Iron, Mounting, Stacked, check_mounting
from winder.pair.signal import Signal, signal_of
from winder.pair.signs import Mounted, Placed, Pole


@dataclass(frozen=True, slots=True)
class Instrument:
    """What a person tells of the pair's place."""

    mounting: Mounting
    mounted: tuple[Mounted, Mounted]
    poles: tuple[Pole, Pole]  # facing the string; of a stack both the same
    iron: Iron = Iron.NOT_TOLD
    iron_in: int = 0  # side by side: the coil that has it where only one has
    source: Source | None = None
    source_m: float = 0.0  # from the middle of the pair to it
    measured_ratio: float | None = None  # hum of the first over the second, each alone in place
    lean_rad: float = 0.0
    sense: int | None = None  # wanted: +1 hot goes positive while the string moves away


@dataclass(frozen=True, slots=True)
class Way:
    """One of the four ways."""

    wiring: Wiring
    hum: Left
    signal: Signal
    ohm_20c: Band
    henry: Band  # without iron

    @property
    def gain_decibel(self) -> float:
        """Signal over hum, against one coil alone: what the pair is worth."""
        return self.signal.decibel.nominal - self.hum.decibel.nominal


@dataclass(frozen=True, slots=True)
class PairFigures:
    """All of a pair: series quiet, series humming, parallel quiet, parallel humming, in this order."""

    ways: tuple[Way, Way, Way, Way]
    coil_ohm_20c: tuple[Band, Band]
    coil_henry: tuple[Band, Band]
    mutual_h: (
        float  # both counter-clockwise from one side: above zero stacked, below it side by side
    )
    coupling: float  # k


def figure_pair(likeness: Likeness, instrument: Instrument) -> PairFigures:
    """The four ways. ``UserMistake`` where two coils cannot sit so, or one stack has two poles."""
    coils = (likeness.one, likeness.other)
    mounting = instrument.mounting
    check_mounting(mounting)
    _refuse_two_poles(instrument)
    placed = _placed(coils, instrument)
    henry = (henry_band(coils[0]), henry_band(coils[1]))
    ohm = (ohm_band(coils[0]), ohm_band(coils[1]))
    mutual_h = mutual_of(coils, mounting)
    sides = tuple(Side(o.nominal, h.nominal) for o, h in zip(ohm, henry, strict=True))
    ears = Ears(
        turns_area=likeness.turns_area_log.band,
        iron=instrument.iron,
        near=mounting.near if isinstance(mounting, Stacked) else instrument.iron_in,
        measured_ratio=instrument.measured_ratio,
        source_share=_source_share(coils, instrument),
        lean_rad=instrument.lean_rad,
    )
    check_ears(ears)
    turns = (coils[0].turns.nominal, coils[1].turns.nominal)
    ways = []
    for wiring in four_ways(*placed, sense=instrument.sense, near=mounting.near):
        circuit, result = wiring.join.circuit, wiring.outcome
        across = mutual_of_join(mutual_h, hum_cancels=result.hum_cancels)
        counted = weights(circuit, sides[0], sides[1], across, HUM_HZ)
        ways.append(
            Way(
                wiring,
                hum_left(ears, circuit, (sides[0], sides[1]), across, cancels=result.hum_cancels),
                signal_of(
                    mounting,
                    instrument.iron,
                    turns,
                    (abs(counted[0]), abs(counted[1])),
                    hum_cancels=result.hum_cancels,
                    signals_add=result.signals_add,
                ),
                joined_ohm_band(circuit, *ohm),
                joined_henry_band(circuit, *henry, across),
            )
        )
    coupling = mutual_h / math.sqrt(henry[0].nominal * henry[1].nominal)
    return PairFigures((ways[0], ways[1], ways[2], ways[3]), ohm, henry, mutual_h, coupling)


def henry_band(finished: FinishedCoil) -> Band:
    """Of the turns as wound, without iron; the packing's part by the round coil of the same perimeter."""
    coil, turns, section = finished.coil, finished.turns.nominal, section_of(finished)
    window = coil.ground.window
    nominal = inductance_of(section.outline, window, section.height_m, turns, coil.wire.bare_m)
    radius_m = section.outline.perimeter_m / (2 * math.pi)
    area = coil.area_per_turn_m2
    at, *ends = (
        round_winding_h(radius_m, window, coil.ground.build_m(turns, each))
        for each in (area.nominal, area.low, area.high)
    )
    packing = factors(Band(at, min(*ends, at), max(*ends, at)))
    return joined_band(nominal, packing, (CALIPER_FACTOR, CALIPER_FACTOR))


def ohm_band(finished: FinishedCoil) -> Band:
    """At 20 C: as read, or as figured of the turns as wound."""
    model = logs_of(finished, "it", one_kind=False, one_spool=False).ohm_20c
    read = ohms_read(finished, "it", one_sitting=False)
    return (read or model).log_band


def mutual_of(coils: tuple[FinishedCoil, FinishedCoil], mounting: Mounting) -> float:
    """Henry, both counter-clockwise seen from the string. ``UserMistake`` where the windings would touch."""
    sections = (section_of(coils[0]), section_of(coils[1]))
    turns = coils[0].turns.nominal * coils[1].turns.nominal
    if isinstance(mounting, Stacked):
        return turns * stacked_per_turns_h(*sections, mounting.gap_m)
    halves = []
    for section in sections:
        outer = section.outline.swollen(section.height_m)
        straight_m = outer.straight_m if mounting.end_to_end else outer.other_straight_m
        halves.append(straight_m / 2 + outer.radius_m)
    if mounting.apart_m < sum(halves):
        raise UserMistake(
            f"two coils {show_length(2 * halves[0], 3)} and {show_length(2 * halves[1], 3)} across do not"
            f" go side by side with their axes {show_length(mounting.apart_m, 3)} apart",
            where="apart",
            remedy=f"give at least {show_length(sum(halves), 3)}, from axis to axis",
        )
    return turns * beside_per_turns_h(*sections, mounting.apart_m, end_to_end=mounting.end_to_end)


def _placed(
    coils: tuple[FinishedCoil, FinishedCoil], instrument: Instrument
) -> tuple[Placed, Placed]:
    first, second = (
        Placed(coil.coil.recipe.direction, mounted, pole)
        for coil, mounted, pole in zip(coils, instrument.mounted, instrument.poles, strict=True)
    )
    return first, second


def _source_share(coils: tuple[FinishedCoil, FinishedCoil], instrument: Instrument) -> float:
    if instrument.source is None:
        return 0.0
    sections = (section_of(coils[0]), section_of(coils[1]))
    mounting = instrument.mounting
    if isinstance(mounting, Beside):
        return beside_share(
            sections,
            mounting.apart_m,
            instrument.source_m,
            instrument.source,
            end_to_end=mounting.end_to_end,
        )
    return stacked_share(sections, mounting.gap_m, instrument.source_m, instrument.source)


def _refuse_two_poles(instrument: Instrument) -> None:
    if isinstance(instrument.mounting, Stacked) and len(set(instrument.poles)) > 1:
        raise UserMistake(
            "a stack has one pole at the string, not two",
            where="poles",
            remedy="tell the pole that faces the string once for both coils",
        )
