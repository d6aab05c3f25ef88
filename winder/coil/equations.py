"""Observations as equations: what each should show of a state, its slopes, and its noise.

A state is (ln r, ln a, d, ln gain, ln habit): ohms per metre, area per turn, drift of the packing with depth,
the ohmmeter's gain, and the area per turn that this bench's winds of the recipe have in common. Every coil
lies off the habit by its own chance, so however many earlier coils were measured, this one keeps its own.
An earlier coil adds a sixth number, its chance, which is forgotten when it has been learnt. ``State.take`` learns one scalar equation: a Gauss-Markov step,
linearised again where it leads (the iterated form of the Kalman update for a single reading).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from winder.coil.drift import DriftingWinding
from winder.coil.wound import Wound
from winder.files.quantities import COPPER_ALPHA20_PER_K, copper_factor
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    Meter,
    Observation,
    OhmReading,
    SpoolTail,
    is_made,
)

WITHIN_95 = 1.96  # standard deviations either side that hold 95 of 100
# All 95 %, our judgement, no source:
DRIFT = 0.2  # of the packing, from the core to the finished coil
# Of any length the model gives: the core is measured to some hundredths of a millimetre, wire is not straight.
MODEL_SHARE = 0.004
TAIL_SHARE = 0.005  # between the tail and the wire as wound: stretch, unevenness along the spool
CREST_WIRES = 1.0  # a caliper rests on the highest strands: so many wires above the mean height ...
CREST_DOUBT_WIRES = 1.0  # ... give or take so many
WIND_TO_WIND = 0.1  # of a coil's packing about the bench's habit; common practice, no source
STEPS_MAX = 30
STANDS = 1e-12  # change of the state that is none

OHM, AREA, DRIFTS, GAIN, HABIT = range(5)  # places in the state

Value = tuple[float, list[float], float]  # what a state gives, its slopes, the noise's variance
Equation = tuple[float, Callable[[list[float]], Value]]  # what was measured, what predicts it


class State:
    """A mean and covariance being worked on, one scalar equation at a time."""

    def __init__(
        self,
        wound: Wound,
        meter: Meter,
        mean: Sequence[float],
        covariance: Sequence[Sequence[float]],
        observation: Observation,
    ) -> None:
        self._wound, self._meter = wound, meter
        self._winding = DriftingWinding.of(wound)
        self.mean = list(mean)
        self.rows = [list(row) for row in covariance]
        if isinstance(observation, EarlierCoil):  # its packing over the habit: a number of its own
            for row in self.rows:
                row.append(0.0)
            self.rows.append([0.0] * len(self.mean) + [(WIND_TO_WIND / WITHIN_95) ** 2])
            self.mean.append(0.0)

    def variance(self, slopes: list[float]) -> float:
        """Of what the state gives with these slopes, the noise of measuring left out."""
        return quadratic(self.rows, slopes)

    def forget_own(self) -> tuple[tuple[float, ...], tuple[tuple[float, ...], ...]]:
        """Mean and covariance of the five numbers, without what only this observation brought."""
        size = HABIT + 1
        return tuple(self.mean[:size]), tuple(tuple(row[:size]) for row in self.rows[:size])

    def take(self, value: float, predict: Callable[[list[float]], Value]) -> None:
        """Learn ``value``: the step is linearised again where it leads until it stays there.

        Noise is taken as foreseen from where the step begins: what an observation is good for must
        not depend on what it says.
        """
        begun = self.mean
        noise = predict(begun)[2]
        for _ in range(STEPS_MAX):
            expected, slopes, _ = predict(self.mean)
            gains = [sum(c * s for c, s in zip(row, slopes, strict=True)) for row in self.rows]
            spread = sum(g * s for g, s in zip(gains, slopes, strict=True)) + noise
            way = sum(s * (b - m) for s, b, m in zip(slopes, begun, self.mean, strict=True))
            pull = (value - expected - way) / spread
            further = [b + gain * pull for b, gain in zip(begun, gains, strict=True)]
            moved = max(abs(f - m) for f, m in zip(further, self.mean, strict=True))
            self.mean = further
            if moved <= STANDS:
                break
        self.rows = [
            [c - g * other / spread for c, other in zip(row, gains, strict=True)]
            for row, g in zip(self.rows, gains, strict=True)
        ]

    def equations(self, observation: Observation, *, blank: bool = False) -> Iterator[Equation]:
        """Each measured value with the function that predicts it; ``blank``: as if all were measured."""
        nothing = math.nan if blank else None
        if isinstance(observation, FinishedDiameter):
            observation = observation.build()
        if isinstance(observation, SpoolTail):
            tail = observation
            yield from _if_any(tail.ohm, nothing, lambda state: self._tail(state, tail))
        elif isinstance(observation, BuildCaliper):
            caliper = observation
            yield from _if_any(
                observation.build_m, nothing, lambda state: self._build(state, caliper)
            )
        else:
            reading: OhmReading | EarlierCoil = observation
            only_build = isinstance(reading, EarlierCoil) and reading.ohm is None
            if not (only_build and is_made(reading)):
                yield from _if_any(reading.ohm, nothing, lambda state: self._ohm(state, reading))
            if isinstance(reading, EarlierCoil) and reading.build_m is not None:
                built = BuildCaliper(
                    reading.turns, reading.build_m, reading.build_error_m, reading.uneven_share
                )
                yield reading.build_m, lambda state: self._build(state, built)

    def _shown(
        self, ohm_20c: float, slopes: list[float], temperature_c: float, noise: float
    ) -> Value:
        """What the meter shows of ``ohm_20c``; ``noise`` is the ohms' own variance over their square."""
        meter = self._meter
        factor = copper_factor(temperature_c)
        warm = COPPER_ALPHA20_PER_K * meter.kelvin / factor / WITHIN_95
        shown = ohm_20c * factor
        slopes = [slope * factor for slope in slopes]
        slopes[GAIN] = shown
        return (
            shown + meter.lead_ohm,
            slopes,
            (meter.ohm / WITHIN_95) ** 2 + shown**2 * (noise + warm**2),
        )

    def _tail(self, state: list[float], tail: SpoolTail) -> Value:
        ohm = math.exp(state[OHM] + state[GAIN]) * tail.length_m
        slopes = [ohm, 0.0, 0.0, 0.0, 0.0]
        share = math.hypot(TAIL_SHARE, tail.length_error_m / tail.length_m) / WITHIN_95
        return self._shown(ohm, slopes, tail.temperature_c, share**2)

    def _ohm(self, state: list[float], reading: OhmReading | EarlierCoil) -> Value:
        winding = self._winding
        ohm, slopes = ohm_of(winding, _with_own_packing(state), reading.turns)
        slopes = _of_own_packing(slopes, state)
        gain = math.exp(state[GAIN])
        noise = (MODEL_SHARE / WITHIN_95) ** 2 + self._part_layer(reading.turns) ** 2
        return self._shown(ohm * gain, [s * gain for s in slopes], reading.temperature_c, noise)

    def _part_layer(self, turns: float) -> float:
        """Share by which a layer half done may lengthen the wire: pi d t (m - t)/m, t of m turns."""
        wound = self._wound
        excess_m = math.pi * wound.wire.overall_m * min(wound.turns_per_layer, turns) / 4
        return excess_m / (wound.ground.perimeter_m * turns) / WITHIN_95

    def _build(self, state: list[float], caliper: BuildCaliper) -> Value:
        turns = caliper.turns
        winding = self._winding
        own = _with_own_packing(state)
        area_m2 = math.exp(own[AREA])
        height_m = winding.build_m(turns, area_m2, own[DRIFTS])
        by_area, by_drift = winding.build_slopes(turns, area_m2, own[DRIFTS])
        slopes = _of_own_packing([0.0, by_area, by_drift, 0.0, 0.0], state)
        overall_m = self._wound.wire.overall_m
        doubt_m = math.hypot(
            caliper.error_m, CREST_DOUBT_WIRES * overall_m, caliper.uneven_share * height_m
        )
        return height_m + CREST_WIRES * overall_m, slopes, (doubt_m / WITHIN_95) ** 2


def _if_any(
    value: float | None, nothing: float | None, predict: Callable[[list[float]], Value]
) -> Iterator[Equation]:
    value = nothing if value is None else value
    if value is not None:
        yield value, predict


def _with_own_packing(state: list[float]) -> list[float]:
    """The state as the measured coil had it: an earlier coil packed in its own way."""
    if len(state) == HABIT + 1:
        return state
    return [state[OHM], state[HABIT] + state[-1], *state[DRIFTS : HABIT + 1]]


def _of_own_packing(slopes: list[float], state: list[float]) -> list[float]:
    """An earlier coil's slope over packing is one over the habit and over its own chance."""
    if len(state) == HABIT + 1:
        return slopes
    by_area = slopes[AREA]
    return [slopes[OHM], 0.0, slopes[DRIFTS], slopes[GAIN], by_area, by_area]


def ohm_of(
    winding: DriftingWinding, state: Sequence[float], turns: float
) -> tuple[float, list[float]]:
    """Ohms at 20 C of so many turns, and its slopes over the places of the state."""
    ohm_per_m, area_m2, drift = math.exp(state[OHM]), math.exp(state[AREA]), state[DRIFTS]
    ohm = ohm_per_m * winding.length_m(turns, area_m2, drift)
    by_area, by_drift = winding.length_slopes(turns, area_m2, drift)
    return ohm, [ohm, ohm_per_m * by_area, ohm_per_m * by_drift, 0.0, 0.0]


def quadratic(rows: Sequence[Sequence[float]], slopes: Sequence[float]) -> float:
    """Slopes times covariance times slopes: the variance of what has these slopes."""
    return sum(
        s * sum(c * t for c, t in zip(row, slopes, strict=True))
        for s, row in zip(slopes, rows, strict=True)
    )
