"""What follows from readings for one coil: its ohms, its turns, what to take off, what else would buy.

Made readings are learnt in the order given; the others are asked what they would tell. A reading that the
model does not bear stops everything and is told with what it may be: nothing is figured from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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
from winder.coil.model import Band, Coil
from winder.errors import WinderError
from winder.quantities import show_resistance
from winder.recipe.model import ResistanceTarget
from winder.recipe.observations import Observation, OhmReading, SpoolTail, is_made


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


def figure_known(coil: Coil, observations: Sequence[Observation]) -> Known:
    """Learn what was measured. Raises ``WinderError`` with the likely causes of a reading that cannot be."""
    knowledge = start = prior(coil)
    told = []
    for observation in (each for each in observations if is_made(each)):
        expected = foreseen(knowledge, observation)
        knowledge = _learnt(knowledge, observation)
        after = resistance_band(knowledge, coil.turns)
        told.append(Told(observation, True, expected, after))
    for observation in (each for each in observations if not is_made(each)):
        worth = would_buy(knowledge, observation)
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
        take_off=_take_off(coil, knowledge, target_ohm) if target_ohm else None,
    )


def _take_off(coil: Coil, knowledge: Knowledge, target_ohm: float) -> TakeOff | None:
    read = [each for each in knowledge.observations if isinstance(each, OhmReading)]
    if not read or read[-1].ohm is None:
        return None
    last = read[-1]
    assert last.ohm is not None
    return take_off(
        coil, knowledge, last.ohm, target_ohm, turns=last.turns, temperature_c=last.temperature_c
    )


def _learnt(knowledge: Knowledge, observation: Observation) -> Knowledge:
    try:
        return learn(knowledge, observation)
    except Contradiction as contradiction:
        if not isinstance(observation, OhmReading | SpoolTail):
            raise
        diagnosis = diagnose(knowledge, observation)
        if diagnosis is None:
            raise
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


def ohm_words(band: Band) -> str:
    return f"{show_resistance(band.nominal, 4)} ({show_resistance(band.low, 4)} to {show_resistance(band.high, 4)})"
