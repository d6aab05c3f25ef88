"""What is known of one coil's wire and packing, and how each measurement narrows it.

The numbers in doubt and what is open of them are ``unknowns``; what an observation says of them is ``equations``. Here a prior is made of
tables and practice, observations are learnt one after another, and what ohms and turns follow is figured from all that is
known together, never from two bands. In which order observations are learnt matters to second order.

Every limit is at 95 %. What lies in an allowance (stretch, warmth, bulge) is carried as an interval: the band holds it wherever it is.

Checked against simulated coils: ``docs/estimation.md``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.coil.allowances import warm_fade
from winder.coil.bands import WITHIN_95, Band
from winder.coil.drift import DriftingWinding
from winder.coil.equations import AREA, DRIFTS, MODEL_SHARE, OHM, OWN, Reader, numbers_of, warm_at
from winder.coil.unknowns import Array, Doubts, Numbers, scaled
from winder.coil.wound import Wound
from winder.errors import UserMistake, WinderError
from winder.files.digits import show_number
from winder.files.quantities import COPPER_ALPHA20_PER_K, copper_factor
from winder.machine.instruments import Instruments
from winder.recipe.observations import FinishedDiameter, Observation, SpoolTail, is_made

SURPRISE_MAX = 4.0  # standard errors; a sound reading is further off 1 time in 16 000
FAR_OFF = 3.0  # times or part of what is expected: beyond it nothing is learnt, whoever wants it
STEPS_MAX = 30
STANDS = 1e-11  # change of the turns that is none
ENDS_STAND = 1e-8  # and at the ends of a band


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Of one coil, as it is wound of this wire, measured with these instruments."""

    wound: Wound
    instruments: Instruments
    numbers: Numbers
    observations: tuple[Observation, ...] = ()  # that were learnt, in this order

    @property
    def two_by_two(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Covariance of the logarithms of ohms per metre and area per turn, all else averaged over."""
        doubts = Doubts(self.numbers)
        by_ohm, by_area = doubts.slopes(**{OHM: 1.0}), doubts.slopes(**{AREA: 1.0})
        added, less = (doubts.slopes(**{OHM: 1.0, AREA: sign}) for sign in (1.0, -1.0))
        both = (doubts.variance(added) - doubts.variance(less)) / 4
        return (doubts.variance(by_ohm), both), (both, doubts.variance(by_area))


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
            else "no coil can read that",
            remedy="measure again before using it",
        )
        self.observation = observation
        self.expected = expected
        self.surprise = surprise


# --- learning ---------------------------------------------------------------------------------


def prior(wound: Wound, instruments: Instruments | None = None) -> Knowledge:
    """What tables and practice say, before anything of this coil was measured."""
    return Knowledge(wound, instruments or Instruments(), numbers_of(wound))


def learn(knowledge: Knowledge, observation: Observation, *, anyway: bool = False) -> Knowledge:
    """What is known after the observation.

    Raises ``Contradiction`` where it lies further off than ``SURPRISE_MAX`` standard errors from all that the
    allowances explain, unless a person has looked and wants it learnt ``anyway``; ``UserMistake`` where nothing was
    measured or the place of it cannot be.
    """
    _refuse_impossible(observation)
    doubts, reader = _reading(knowledge)
    for value, predict in reader.equations(observation):
        expected = predict(doubts.mean)[0]
        off = doubts.off(value, predict)
        bearable = anyway and expected / FAR_OFF < value < expected * FAR_OFF
        if not math.isfinite(off) or (abs(off) > SURPRISE_MAX and not bearable):
            raise Contradiction(observation, foreseen(knowledge, observation), off)
        doubts.take(value, predict, _by_coil(doubts, reader, knowledge.wound.turns)[1])
    return replace(
        knowledge,
        numbers=doubts.kept(OWN),
        observations=(*knowledge.observations, observation),
    )


def under_stretch(knowledge: Knowledge, stretch_share: float) -> Knowledge:
    """The same readings, learnt again with another limit to the stretch; they were believed once and are not judged anew."""
    wound = replace(knowledge.wound, stretch_share=stretch_share)
    again = replace(prior(wound, knowledge.instruments), observations=knowledge.observations)
    for observation in knowledge.observations:
        doubts, reader = _reading(again)
        for value, predict in reader.equations(observation):
            doubts.take(value, predict, _by_coil(doubts, reader, wound.turns)[1])
        again = replace(again, numbers=doubts.kept(OWN))
    return again


def foreseen(knowledge: Knowledge, observation: Observation) -> Band:
    """What this observation should show, with 95 % limits, in ohms or metres; its own value is not used.

    Of an earlier coil: its ohms, or its build where only that was measured.
    """
    doubts, reader = _reading(knowledge)
    _, predict = next(reader.equations(observation, blank=True))
    expected, slopes, noise = predict(doubts.mean)
    below, above = doubts.limits(slopes, noise)
    if isinstance(observation, FinishedDiameter):
        expected, below, above = 2 * expected + observation.core_m, 2 * below, 2 * above
    return Band(expected, expected + below, expected + above)


def surprise(knowledge: Knowledge, observation: Observation) -> float:
    """How many standard errors it lies from what is expected; the worst one of an earlier coil."""
    doubts, reader = _reading(knowledge)
    worst = 0.0
    for value, predict in reader.equations(observation):
        off = doubts.off(value, predict)
        worst = off if not abs(off) <= abs(worst) else worst
    return worst


# --- what follows -----------------------------------------------------------------------------


def bands(knowledge: Knowledge) -> tuple[Band, Band]:
    """Ohms per metre of the wire on the spool at 20 C and area per turn (m2), each by itself with its 95 % limits.

    They are correlated, and stretch comes on top: figure nothing from the two; ``resistance_band`` does it properly.
    """
    doubts = Doubts(knowledge.numbers)

    def band(name: str) -> Band:
        middle = math.exp(doubts.mean[doubts.place(name)])
        below, above = doubts.limits(doubts.slopes(**{name: 1.0}))
        return Band(middle, middle * math.exp(below), middle * math.exp(above))

    return band(OHM), band(AREA)


def resistance_band(knowledge: Knowledge, turns: float) -> Band:
    """Ohms at 20 C of ``turns`` turns and the leads, with 95 % limits."""
    doubts, reader = _reading(knowledge)
    ohm, relative = _by_coil(doubts, reader, turns)
    below, above = doubts.limits(relative, (MODEL_SHARE / WITHIN_95) ** 2)
    return Band(ohm, ohm * math.exp(below), ohm * math.exp(above))


def turns_for(knowledge: Knowledge, ohm_20c: float) -> Band:
    """Turns (not whole) that have ``ohm_20c``; the inverse of ``resistance_band``, end for end.

    At ``low`` turns the high end of the resistance is ``ohm_20c``, at ``high`` turns the low end.
    """
    doubts, reader = _reading(knowledge)
    winding = _winding(knowledge)
    area_m2 = math.exp(doubts.mean[doubts.place(AREA)])
    drift = float(doubts.mean[doubts.place(DRIFTS)])

    def turns_of(ohm: float) -> float:
        def nearer(turns: float) -> float:  # what bulging adds is put into the ratio
            length_m = winding.length_m(turns, area_m2, drift)
            shown_ohm = reader.ohm_of(doubts.mean, turns)[0]
            return winding.turns_of(length_m * ohm / shown_ohm, area_m2, drift)

        return _settled(nearer, float(knowledge.wound.turns), STANDS)

    def end(factor_of: Callable[[Band], float]) -> float:
        def nearer(turns: float) -> float:  # the factor changes slowly with the turns
            return turns_of(ohm_20c / factor_of(resistance_band(knowledge, turns)))

        return _settled(nearer, nominal, ENDS_STAND)

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
    doubts, reader = _reading(knowledge)
    for _, predict in reader.equations(observation, blank=True):
        told = _by_coil(doubts, reader, turns)[1]
        doubts.take(predict(doubts.mean)[0], predict, told)
    later = replace(knowledge, numbers=doubts.kept(OWN))
    return Worth(resistance_band(knowledge, turns), resistance_band(later, turns))


def take_off(
    knowledge: Knowledge,
    measured_ohm: float,
    target_ohm: float,
    *,
    turns: float | None = None,
    temperature_c: float = 20.0,
    rested_min: float | None = None,
) -> TakeOff:
    """Turns to take off a coil of ``turns`` turns (those planned) that shows ``measured_ohm``.

    The meter is taken at its word: the same meter shall show ``target_ohm`` (at 20 C) afterwards. So the
    wire left is the measured wire times target over measured, and the turns follow by the inverse: the
    outer turns are the longest, in proportion one would take too many. What is doubtful is packing only.
    """
    on_it = float(knowledge.wound.turns if turns is None else turns)
    meter = knowledge.instruments
    # What is still warm of it will cool: the target is meant at its temperature, not at that of the reading.
    winding, doubts = _winding(knowledge), Doubts(knowledge.numbers)
    warmth = warm_at(doubts, on_it)
    fade = warm_fade(rested_min)

    def cold_ohm(warm_k: float) -> float:
        celsius = temperature_c + fade * warm_k
        return (measured_ohm - meter.leads_band_ohm[0]) / copper_factor(celsius)

    warm_k = float(doubts.mean[warmth])
    shown_ohm = cold_ohm(warm_k)
    if not (0 < shown_ohm < math.inf and 0 < target_ohm < math.inf and on_it > 0):
        raise UserMistake(
            f"{show_number(measured_ohm, 6)} ohm measured, {show_number(target_ohm, 6)} ohm wanted, {on_it:g} turns",
            remedy="give what you measured and what you want, both above zero",
        )

    def too_many(log_area: float, drift: float, warmer_k: float = 0.0) -> float:
        length_m = winding.length_m(on_it, math.exp(log_area), drift)
        left_m = length_m * target_ohm / cold_ohm(warm_k + warmer_k)
        return on_it - winding.turns_of(left_m, math.exp(log_area), drift)

    log_area, drift = (float(doubts.mean[doubts.place(name)]) for name in (AREA, DRIFTS))
    turns_off = too_many(log_area, drift)
    step = 1e-4
    by_area = too_many(log_area + step, drift) - too_many(log_area - step, drift)
    by_drift = too_many(log_area, drift + step) - too_many(log_area, drift - step)
    slopes: Array = doubts.slopes(**{AREA: by_area / 2 / step, DRIFTS: by_drift / 2 / step})
    slopes[warmth] = (too_many(log_area, drift, 0.1) - too_many(log_area, drift, -0.1)) / 0.2
    below, above = doubts.limits(slopes)
    share = math.hypot(meter.spread_share(measured_ohm), COPPER_ALPHA20_PER_K * meter.thermometer_k)
    area_m2 = math.exp(log_area)
    per_turn = winding.turn_m(on_it, area_m2, drift) / winding.length_m(on_it, area_m2, drift)
    return TakeOff(
        turns_off, turns_off + below, turns_off + above, round(turns_off), share / per_turn
    )


# --- small change -----------------------------------------------------------------------------


def _reading(knowledge: Knowledge) -> tuple[Doubts, Reader]:
    doubts = Doubts(knowledge.numbers)
    return doubts, Reader(knowledge.wound, knowledge.instruments, doubts)


def _by_coil(doubts: Doubts, reader: Reader, turns: float) -> tuple[float, Array]:
    """Ohms at 20 C of so many turns, and the slopes of their logarithm."""
    ohm, slopes = reader.ohm_of(doubts.mean, turns)
    return ohm, scaled(slopes, 1 / ohm) if ohm > 0 else doubts.slopes(**{OHM: 1.0})


def _settled(nearer: Callable[[float], float], start: float, stands: float) -> float:
    """The turns that ``nearer`` leaves as they are, to a share of ``stands``: two steps, then Aitken's guess."""
    at = start
    for _ in range(STEPS_MAX):
        first = nearer(at)
        if abs(first - at) <= stands * max(at, 1.0):
            return first
        second = nearer(first)
        bend = second - 2 * first + at
        guess = at - (first - at) ** 2 / bend if bend else second
        at = guess if 0 < guess < math.inf else second
    return at


def _refuse_impossible(observation: Observation) -> None:
    if not is_made(observation):
        raise UserMistake(
            "nothing was measured", remedy="give the value, or ask what it would tell"
        )
    amount = observation.length_m if isinstance(observation, SpoolTail) else observation.turns
    if not 0 < amount < math.inf:
        raise UserMistake(
            f"measured on {amount:g} {'m' if isinstance(observation, SpoolTail) else 'turns'}",
            remedy="say how much wire there was, above zero",
        )


def _winding(knowledge: Knowledge) -> DriftingWinding:
    return DriftingWinding.of(knowledge.wound)
