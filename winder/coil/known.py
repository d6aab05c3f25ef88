"""What follows from readings for one coil: its bands, its turns, what to take off, what else would buy.

``coil_of`` is the one way from a recipe to the coil that is shown, planned, rehearsed and wound: it heeds the
recipe's readings. ``knowledge_of`` is what is known of such a coil, to learn more by while it is wound.

Made readings are learnt in the order given; the others are asked what they would tell. A reading that the
model does not bear stops everything and is told with what it may be: nothing is figured from it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.coil.allowances import WARM_MOST_K, flats_m, warm_fade
from winder.coil.bands import Band
from winder.coil.diagnosis import diagnose
from winder.coil.knowledge import (
    Contradiction,
    Knowledge,
    TakeOff,
    bands,
    foreseen,
    learn,
    prior,
    resistance_band,
    take_off,
    turns_for,
    turns_to_wind_long,
    would_buy,
)
from winder.coil.model import Coil
from winder.coil.winding import figure_coil
from winder.errors import UserMistake, WinderError
from winder.files.quantities import show_length, show_resistance
from winder.machine.model import MachineProfile
from winder.recipe.model import Recipe, ResistanceTarget
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    Observation,
    OhmReading,
    SpoolTail,
    is_made,
)


@dataclass(frozen=True, slots=True)
class Told:
    """One observation: what was expected of it, and the coil's ohms with it learnt (or if it were)."""

    observation: Observation
    made: bool
    expected: Band  # ohms or metres
    ohm_after: Band


@dataclass(frozen=True, slots=True)
class Known:
    """All that follows. Ohms at 20 C."""

    told: tuple[Told, ...]
    ohm_per_m: Band
    area_per_turn_m2: Band
    ohm_before: Band
    ohm: Band  # of the coil as the recipe has it
    turns_for_target: Band | None  # for a resistance target
    wind_long_turns: int | None  # enough even at the high end: wind these, measure, take off
    take_off: TakeOff | None  # from the newest reading of the coil itself


def coil_of(recipe: Recipe, machine: MachineProfile | None = None) -> Coil:
    """The coil that a recipe gives on this machine, with all that it says was measured.

    Raises ``UserMistake`` where nothing can be figured, ``WinderError`` with the likely causes of a reading that
    cannot be.
    """
    coil = figure_coil(recipe, machine=machine)
    if not recipe.readings:
        return coil
    try:
        knowledge = knowledge_of(coil, recipe.readings)
    except WinderError as wrong:
        raise WinderError(wrong.what, where="known.readings", remedy=wrong.remedy) from None
    return coil_as_known(coil, knowledge)


def knowledge_of(coil: Coil, readings: Sequence[Observation] = ()) -> Knowledge:
    """What is known of a coil, with more readings learnt in their order; those of its recipe it has already.

    Raises ``WinderError`` with the likely causes of a reading that cannot be.
    """
    knowledge = coil.known
    for reading in readings:
        knowledge = _learnt(knowledge, reading)
    return knowledge


def coil_as_known(coil: Coil, knowledge: Knowledge) -> Coil:
    """The coil with its bands as known, and its turns planned anew, for a resistance from the whole covariance."""
    return figure_coil(coil.recipe, knowledge)


def with_readings(coil: Coil, readings: Sequence[Observation]) -> Coil:
    """The coil with more that was measured, which becomes part of its recipe.

    Raises ``UserMistake`` for a reading that the recipe has already, ``WinderError`` for one that cannot be.
    """
    if not readings:
        return coil
    recipe = coil.recipe
    for place, reading in enumerate(readings):
        if reading in recipe.readings or reading in readings[:place]:
            raise UserMistake(
                f"'{observation_words(reading)}' is given twice with the same value",
                where="known",
                remedy="give it once: a repeat is not a second measurement",
            )
    knowledge = knowledge_of(coil, readings)
    return figure_coil(replace(recipe, readings=(*recipe.readings, *readings)), knowledge)


def figure_known(coil: Coil, observations: Sequence[Observation]) -> Known:
    """Learn what was measured of a coil of which nothing is known yet, and tell it step by step.

    Ohms are those of the coil's turns, which may have been planned by these very readings. Raises
    ``WinderError`` with the likely causes of a reading that cannot be.
    """
    knowledge = start = prior(coil.wound, coil.instruments)
    told = []
    for observation in (each for each in observations if is_made(each)):
        expected = foreseen(knowledge, observation)
        knowledge = _learnt(knowledge, observation)
        after = resistance_band(knowledge, coil.turns)
        told.append(Told(observation, True, expected, after))
    for observation in (each for each in observations if not is_made(each)):
        worth = would_buy(knowledge, observation, coil.turns)
        told.append(Told(observation, False, foreseen(knowledge, observation), worth.after))
    target = coil.recipe.target
    target_ohm = target.ohm_20c if isinstance(target, ResistanceTarget) else None
    ohm_per_m, area = bands(knowledge)
    return Known(
        told=tuple(told),
        ohm_per_m=ohm_per_m,
        area_per_turn_m2=area,
        ohm_before=resistance_band(start, coil.turns),
        ohm=resistance_band(knowledge, coil.turns),
        turns_for_target=turns_for(knowledge, target_ohm) if target_ohm else None,
        wind_long_turns=turns_to_wind_long(knowledge, target_ohm) if target_ohm else None,
        take_off=_take_off(knowledge, target_ohm) if target_ohm else None,
    )


def _take_off(knowledge: Knowledge, target_ohm: float) -> TakeOff | None:
    read = [each for each in knowledge.observations if isinstance(each, OhmReading)]
    if not read or read[-1].ohm is None:
        return None
    last = read[-1]
    assert last.ohm is not None
    return take_off(
        knowledge,
        last.ohm,
        target_ohm,
        turns=last.turns,
        temperature_c=last.temperature_c,
        rested_min=last.rested_min,
    )


def _learnt(knowledge: Knowledge, observation: Observation) -> Knowledge:
    try:
        return learn(knowledge, observation)
    except Contradiction as contradiction:
        diagnosis = None
        if isinstance(observation, OhmReading | SpoolTail):
            diagnosis = diagnose(knowledge, observation)
        if diagnosis is None:
            raise WinderError(
                f"{observation_words(observation)}: {contradiction.what}, "
                f"{expected_words(observation, contradiction.expected)}",
                where="known",
                remedy="measure again, and check that it is this wire on this kind of bobbin",
            ) from None
        causes = "; ".join(
            f"{cause.words} ({100 * cause.share:.0f} %): {cause.remedy}"
            for cause in diagnosis.causes
        )
        raise WinderError(
            diagnosis.sentence,
            where="known",
            remedy=f"likely causes in order: {causes}" if causes else contradiction.remedy,
        ) from None


def target_words(known: Known) -> list[str]:
    """What to do for a resistance target, in sentences; empty for another target."""
    if known.turns_for_target is None or known.wind_long_turns is None:
        return []
    turns = known.turns_for_target
    said = [
        f"the target takes {turns.nominal:.0f} turns, 95 % between {turns.low:.0f} and "
        f"{turns.high:.0f}; {known.wind_long_turns} are enough even at the high end: wind these, "
        "finish the lead, measure, take off"
    ]
    off = known.take_off
    if off is not None and off.whole > 0:
        said.append(
            f"take off {off.whole} turns (95 % {off.low:.1f} to {off.high:.1f} by what is not known of "
            f"the packing; meter and temperature leave {off.meter_turns:.1f} turns open)"
        )
    elif off is not None:
        said.append(f"{-off.whole} turns are missing")
    return said


def observation_words(observation: Observation) -> str:
    """Kind and place of an observation, for a table."""
    if isinstance(observation, SpoolTail):
        return f"tail of {observation.length_m:g} m"
    names = {"BuildCaliper": "build", "FinishedDiameter": "outside", "OhmReading": "ohm"}
    name = names.get(type(observation).__name__, "earlier coil")
    return f"{name} at {observation.turns:g} turns"


def expected_words(observation: Observation, band: Band) -> str:
    """What was expected of an observation, in its own unit."""
    only_build = isinstance(observation, EarlierCoil) and observation.ohm is None
    of_build = only_build and is_made(observation)
    if of_build or isinstance(observation, BuildCaliper | FinishedDiameter):
        return f"{show_length(band.low, 4)} to {show_length(band.high, 4)}"
    return ohm_words(band)


SHORT_TAIL_OHM = 100.0  # below, a meter's digits and leads spoil it


def reading_remarks(observation: Observation, knowledge: Knowledge) -> list[str]:
    """What would have made a reading better, in sentences."""
    told = []
    if isinstance(observation, SpoolTail) and observation.ohm is not None:
        if observation.ohm < SHORT_TAIL_OHM:
            ohm_per_m = observation.ohm / observation.length_m
            told.append(
                f"a tail of {observation.ohm:.3g} ohm is short: the meter's last digits and its leads spoil"
                f" it; take {math.ceil(SHORT_TAIL_OHM / ohm_per_m)} m"
            )
    elif isinstance(observation, OhmReading):
        warm_k = WARM_MOST_K * warm_fade(observation.rested_min)
        if observation.rested_min is None:
            told.append(
                f"just wound it may be up to {warm_k:.0f} K warm, {0.393 * warm_k:.1f} % of its ohms: read it"
                " again after a while, 'rested 20 min', and what is left to fall follows"
            )
    elif (
        isinstance(observation, BuildCaliper | FinishedDiameter)
        and observation.on_flats
        and flats_m(knowledge.wound.outline)
    ):
        told.append("layers lie looser on flat sides: use the caliper over the rounded ends")
    return told


def ohm_words(band: Band) -> str:
    return f"{show_resistance(band.nominal, 4)} ({show_resistance(band.low, 4)} to {show_resistance(band.high, 4)})"
