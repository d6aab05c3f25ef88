"""What is known of one coil's wire and packing, and how each measurement narrows it.

Two numbers are in doubt: r (ohms per metre) and a (area per turn). Their logarithms start as independent
normals whose 95 % limits are the coil's two bands. Three nuisances ride along so that nothing becomes too
sure: d, by which packing drifts with depth (``drift``), the logarithm of the ohmmeter's gain, which all its
readings share, and the packing that this bench's winds have in common, which earlier coils tell of.
Every observation is one equation y = f(state) + noise, learnt by a Gauss-Markov step that is linearised again at its own result until it stands (the scalar form of the
iterated Kalman update). The covariance only ever loses; in which order observations are learnt matters to
second order. What ohms and turns follow is figured from the whole covariance, never from two bands.

Checked against 20 000 simulated coils: ``docs/estimation.md``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from winder.coil.bands import Band
from winder.coil.drift import DriftingWinding
from winder.coil.equations import (
    AREA,
    DRIFT,
    DRIFTS,
    HABIT,
    MODEL_SHARE,
    OHM,
    STANDS,
    STEPS_MAX,
    WIND_TO_WIND,
    WITHIN_95,
    State,
    ohm_of,
    quadratic,
)
from winder.coil.wound import Wound
from winder.errors import UserMistake, WinderError
from winder.files.quantities import COPPER_ALPHA20_PER_K, copper_factor
from winder.recipe.observations import FinishedDiameter, Meter, Observation, SpoolTail, is_made

SURPRISE_MAX = 4.0  # standard errors; a sound reading is further off 1 time in 16 000
FAR_OFF = 3.0  # times or part of what is expected: beyond it nothing is learnt, whoever wants it

Row = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Mean and covariance of (ln r, ln a, d, ln gain, ln habit); SI units, ohms at 20 C."""

    wound: Wound
    meter: Meter
    mean: Row
    covariance: tuple[Row, ...]
    observations: tuple[Observation, ...] = ()  # that were learnt, in this order

    @property
    def two_by_two(self) -> tuple[Row, Row]:
        """Covariance of (ln r, ln a), the nuisances averaged over."""
        rows = self.covariance
        return (rows[OHM][: AREA + 1], rows[AREA][: AREA + 1])


@dataclass(frozen=True, slots=True)
class Worth:
    """The band of the finished coil's ohms now, and as an observation would leave it."""

    before: Band
    after: Band


@dataclass(frozen=True, slots=True)
class TakeOff:
    """How many turns too many are on a coil; negative: so many are missing."""

    turns: float  # exact, the meter taken at its word
    low: float  # 95 % limits by what is not known of the packing
    high: float
    whole: int  # the nearest whole turns
    meter_turns: float  # what the meter and the thermometer leave open, in turns, 95 %


class Contradiction(WinderError):
    """An observation that the model and all that is known do not bear; ``diagnosis`` tells why."""

    def __init__(self, observation: Observation, expected: Band, surprise: float) -> None:
        super().__init__(
            f"this reading lies {abs(surprise):.0f} standard errors from what is expected"
            if math.isfinite(surprise)
            else "this reading is no number that a coil can have",
            remedy="measure again before anything is figured from it",
        )
        self.observation = observation
        self.expected = expected
        self.surprise = surprise


# --- learning ---------------------------------------------------------------------------------


def prior(wound: Wound, meter: Meter | None = None) -> Knowledge:
    """What tables and practice say, before anything of this coil was measured."""
    meter = meter or Meter()
    wire, area = wound.wire.ohm_per_m, wound.area_per_turn_m2
    packing = math.log(area.high / area.low) / 2
    habit = math.sqrt(max(packing**2 - WIND_TO_WIND**2, 0.0))
    spread = (math.log(wire.high / wire.low) / 2, packing, DRIFT, meter.gain_share, habit)
    rows = [[0.0] * len(spread) for _ in spread]
    for place, limit in enumerate(spread):
        rows[place][place] = (limit / WITHIN_95) ** 2
    rows[AREA][HABIT] = rows[HABIT][AREA] = rows[HABIT][HABIT]  # a is the habit and a chance
    mean = (math.log(wire.nominal), math.log(area.nominal), 0.0, 0.0, math.log(area.nominal))
    return Knowledge(wound, meter, mean, tuple(tuple(row) for row in rows))


def learn(knowledge: Knowledge, observation: Observation, *, anyway: bool = False) -> Knowledge:
    """What is known after the observation.

    Raises ``Contradiction`` where it lies further off than ``SURPRISE_MAX`` standard errors, unless a
    person has looked and wants it learnt ``anyway``; ``UserMistake`` where nothing was measured or the
    place of it cannot be.
    """
    _refuse_impossible(observation)
    state = _state(knowledge, observation)
    for value, predict in state.equations(observation):
        expected, slopes, noise = predict(state.mean)
        off = (value - expected) / math.sqrt(state.variance(slopes) + noise)
        bearable = anyway and expected / FAR_OFF < value < expected * FAR_OFF
        if not math.isfinite(off) or (abs(off) > SURPRISE_MAX and not bearable):
            raise Contradiction(observation, foreseen(knowledge, observation), off)
        state.take(value, predict)
    mean, covariance = state.forget_own()
    return replace(
        knowledge,
        mean=mean,
        covariance=covariance,
        observations=(*knowledge.observations, observation),
    )


def foreseen(knowledge: Knowledge, observation: Observation) -> Band:
    """What this observation should show, with 95 % limits, in ohms or metres; its own value is not used.

    Of an earlier coil: its ohms, or its build where only that was measured.
    """
    state = _state(knowledge, observation)
    _, predict = next(state.equations(observation, blank=True))
    expected, slopes, noise = predict(state.mean)
    spread = WITHIN_95 * math.sqrt(state.variance(slopes) + noise)
    if isinstance(observation, FinishedDiameter):
        expected, spread = 2 * expected + observation.core_m, 2 * spread
    return Band(expected, expected - spread, expected + spread)


def surprise(knowledge: Knowledge, observation: Observation) -> float:
    """How many standard errors it lies from what is expected; the worst one of an earlier coil."""
    state = _state(knowledge, observation)
    worst = 0.0
    for value, predict in state.equations(observation):
        expected, slopes, noise = predict(state.mean)
        off = (value - expected) / math.sqrt(state.variance(slopes) + noise)
        worst = off if not abs(off) <= abs(worst) else worst
    return worst


# --- what follows -----------------------------------------------------------------------------


def bands(knowledge: Knowledge) -> tuple[Band, Band]:
    """Ohms per metre at 20 C and area per turn (m2), each by itself with its 95 % limits.

    They are correlated; figure nothing from the two together: ``resistance_band`` does it properly.
    """

    def band(place: int) -> Band:
        return _log_band(
            math.exp(knowledge.mean[place]), math.sqrt(knowledge.covariance[place][place])
        )

    return band(OHM), band(AREA)


def resistance_band(knowledge: Knowledge, turns: float) -> Band:
    """Ohms at 20 C of ``turns`` turns and the leads, with 95 % limits."""
    ohm, slopes = ohm_of(_winding(knowledge), knowledge.mean, turns)
    relative = [slope / ohm for slope in slopes] if ohm > 0 else [1.0, 0.0, 0.0, 0.0, 0.0]
    spread = quadratic(knowledge.covariance, relative) + (MODEL_SHARE / WITHIN_95) ** 2
    return _log_band(ohm, math.sqrt(spread))


def turns_for(knowledge: Knowledge, ohm_20c: float) -> Band:
    """Turns (not whole) that have ``ohm_20c``; the inverse of ``resistance_band``, end for end.

    At ``low`` turns the high end of the resistance is ``ohm_20c``, at ``high`` turns the low end.
    """
    winding = _winding(knowledge)

    def turns_of(ohm: float) -> float:
        length_m = ohm / math.exp(knowledge.mean[OHM])
        return winding.turns_of(length_m, math.exp(knowledge.mean[AREA]), knowledge.mean[DRIFTS])

    def end(factor_of: Callable[[Band], float]) -> float:
        turns = nominal
        for _ in range(STEPS_MAX):  # the factor hardly changes with the turns: this settles fast
            further = turns_of(ohm_20c / factor_of(resistance_band(knowledge, turns)))
            if abs(further - turns) <= STANDS * turns:
                break
            turns = further
        return turns

    nominal = turns_of(ohm_20c)
    if nominal <= 0:
        return Band(0.0, 0.0, 0.0)
    return Band(nominal, end(lambda b: b.high / b.nominal), end(lambda b: b.low / b.nominal))


def turns_to_wind_long(knowledge: Knowledge, ohm_20c: float) -> int:
    """Whole turns that are enough for ``ohm_20c`` even at the high end: wind these, measure, take off."""
    return math.ceil(turns_for(knowledge, ohm_20c).high)


def would_buy(knowledge: Knowledge, observation: Observation, turns: float | None = None) -> Worth:
    """How far the observation would narrow the ohms of ``turns`` turns (the coil's), before it is made."""
    turns = float(knowledge.wound.turns if turns is None else turns)
    state = _state(knowledge, observation)
    for _, predict in state.equations(observation, blank=True):
        state.take(predict(state.mean)[0], predict)
    later = replace(knowledge, covariance=state.forget_own()[1])
    return Worth(resistance_band(knowledge, turns), resistance_band(later, turns))


def take_off(
    knowledge: Knowledge,
    measured_ohm: float,
    target_ohm: float,
    *,
    turns: float | None = None,
    temperature_c: float = 20.0,
) -> TakeOff:
    """Turns to take off a coil of ``turns`` turns (those planned) that shows ``measured_ohm``.

    The meter is taken at its word: the same meter shall show ``target_ohm`` (at 20 C) afterwards. So the
    wire left is the measured wire times target over measured, and the turns follow by the inverse: the
    outer turns are the longest, in proportion one would take too many. What is doubtful is packing only.
    """
    on_it = float(knowledge.wound.turns if turns is None else turns)
    shown_ohm = (measured_ohm - knowledge.meter.lead_ohm) / copper_factor(temperature_c)
    if not (0 < shown_ohm < math.inf and 0 < target_ohm < math.inf and on_it > 0):
        raise UserMistake(
            f"{measured_ohm:g} ohm measured, {target_ohm:g} ohm wanted, {on_it:g} turns",
            remedy="give what was measured and what is wanted, both more than nothing",
        )
    winding = _winding(knowledge)

    def too_many(log_area: float, drift: float) -> float:
        length_m = winding.length_m(on_it, math.exp(log_area), drift)
        left_m = length_m * target_ohm / shown_ohm
        return on_it - winding.turns_of(left_m, math.exp(log_area), drift)

    log_area, drift = knowledge.mean[AREA], knowledge.mean[DRIFTS]
    turns_off = too_many(log_area, drift)
    step = 1e-4
    slopes = [0.0] * len(knowledge.mean)
    slopes[AREA] = (too_many(log_area + step, drift) - too_many(log_area - step, drift)) / 2 / step
    slopes[DRIFTS] = (
        (too_many(log_area, drift + step) - too_many(log_area, drift - step)) / 2 / step
    )
    spread = WITHIN_95 * math.sqrt(quadratic(knowledge.covariance, slopes))
    meter = knowledge.meter
    share = math.hypot(
        meter.gain_share, COPPER_ALPHA20_PER_K * meter.kelvin, meter.ohm / measured_ohm
    )
    area_m2 = math.exp(log_area)
    per_turn = winding.turn_m(on_it, area_m2, drift) / winding.length_m(on_it, area_m2, drift)
    return TakeOff(
        turns_off, turns_off - spread, turns_off + spread, round(turns_off), share / per_turn
    )


# --- small change -----------------------------------------------------------------------------


def _state(knowledge: Knowledge, observation: Observation) -> State:
    return State(
        knowledge.wound, knowledge.meter, knowledge.mean, knowledge.covariance, observation
    )


def _refuse_impossible(observation: Observation) -> None:
    if not is_made(observation):
        raise UserMistake(
            "nothing was measured", remedy="give the value, or ask what it would tell"
        )
    amount = observation.length_m if isinstance(observation, SpoolTail) else observation.turns
    if not 0 < amount < math.inf:
        raise UserMistake(
            f"measured on {amount:g} {'m' if isinstance(observation, SpoolTail) else 'turns'}",
            remedy="say how much wire there was, more than nothing",
        )


def _winding(knowledge: Knowledge) -> DriftingWinding:
    return DriftingWinding.of(knowledge.wound)


def _log_band(nominal: float, spread: float) -> Band:
    factor = math.exp(WITHIN_95 * spread)
    return Band(nominal, nominal / factor, nominal * factor)
