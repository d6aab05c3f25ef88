"""Numbers in doubt, and how one measured value narrows them.

Each number has a mean. What is open of it is of two kinds. *Chance* is a covariance: errors as likely to either side. *Reach* is what
the allowances (``allowances``: numbers known only to lie in an interval) do to every number's error, one column for each. A
measured value y = f(numbers) + noise is learnt by a Gauss-Markov step whose gains weigh both kinds, an allowance by its variance
about its usual place; chance and reach are then carried through the same step, each by its own rule. So an
allowance that a reading speaks of narrows, and one that none speaks of stays whole, whatever else is learnt. A reading is
heeded as far as it narrows the band that is told in the end, and no further.

The step is linearised again where it leads until it stands (the scalar form of the iterated Kalman update).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy
from numpy.typing import NDArray

from winder.coil.bands import one_sided_95

Array = NDArray[numpy.float64]
Value = tuple[
    float, Array, float
]  # what the numbers give, its slopes over them, the noise's variance
Predict = Callable[[Array], Value]

STEPS_MAX = 30
STANDS = 1e-12  # change of the numbers that is none
HEED_STEP = 1e-3  # how closely the share of a reading that is heeded is found


@dataclass(frozen=True, slots=True)
class Allowance:
    """An interval, from the mean: the true number lies ``low`` to ``high`` beyond it, nobody knows where."""

    low: float
    high: float

    @classmethod
    def upwards(cls, most: float, usual: float) -> Allowance:
        """From nothing to ``most``; the mean stands at the share ``usual`` of it."""
        return cls(-usual * most, (1 - usual) * most)

    @property
    def variance(self) -> float:
        """For weighing, as if the number stood at either end: what leans on it is to count for little."""
        return (self.high - self.low) ** 2 / 2


@dataclass(frozen=True, slots=True)
class Numbers:
    """Names, means, chance and reach, as plain tuples: they compare and are kept like any fact."""

    names: tuple[str, ...] = ()
    mean: tuple[float, ...] = ()
    chance: tuple[tuple[float, ...], ...] = ()
    reach: tuple[tuple[float, ...], ...] = ()  # a row for each name, a column for each allowance
    allowances: tuple[Allowance, ...] = ()


class Doubts:
    """The numbers, being worked on one scalar equation at a time."""

    def __init__(self, numbers: Numbers) -> None:
        size = len(numbers.names)
        self.names = list(numbers.names)
        self.mean = numpy.array(numbers.mean, dtype=float)
        self.chance = numpy.array(numbers.chance, dtype=float).reshape(size, size)
        self.allowances = list(numbers.allowances)
        self.reach = numpy.array(numbers.reach, dtype=float).reshape(size, len(self.allowances))

    def add(self, name: str, mean: float, sd: float = 0.0, within: Allowance | None = None) -> int:
        """The place of a number; a new one if there is none of that name yet."""
        if name in self.names:
            return self.names.index(name)
        size = len(self.names)
        self.names.append(name)
        self.mean = numpy.append(self.mean, mean)
        chance = numpy.zeros((size + 1, size + 1))
        chance[:size, :size], chance[size, size] = self.chance, sd**2
        self.chance = chance
        self.reach = numpy.vstack([self.reach, numpy.zeros(len(self.allowances))])
        if within is not None:
            self.reach = numpy.hstack([self.reach, numpy.zeros((size + 1, 1))])
            self.reach[size, -1] = 1.0
            self.allowances.append(within)
        return size

    def place(self, name: str) -> int:
        return self.names.index(name)

    def slopes(self, **by_name: float) -> Array:
        """A row of slopes, nothing but for these numbers."""
        row = numpy.zeros(len(self.names))
        for name, slope in by_name.items():
            row[self.names.index(name)] = slope
        return row

    def variance(self, slopes: Array) -> float:
        """Of what has these slopes, allowances weighed about their means; noise left out."""
        across = slopes @ self.reach
        weights = numpy.array([each.variance for each in self.allowances])
        return float(slopes @ self.chance @ slopes + (across**2) @ weights)

    def limits(self, slopes: Array, noise: float = 0.0) -> tuple[float, float]:
        """95 % limits of what has these slopes, from its mean: below and above (negative, positive)."""
        low, high = self.interval(slopes)
        doubt = math.sqrt(max(float(slopes @ self.chance @ slopes), 0.0) + noise)
        beyond = one_sided_95(doubt, high - low) * doubt
        return low - beyond, high + beyond

    def interval(self, slopes: Array) -> tuple[float, float]:
        """How far the allowances alone may lead below and above the mean."""
        low = high = 0.0
        for across, each in zip(slopes @ self.reach, self.allowances, strict=True):
            ends = (across * each.low, across * each.high)
            low, high = low + min(ends), high + max(ends)
        return float(low), float(high)

    def off(self, value: float, predict: Predict) -> float:
        """Standard errors of a value beyond all that the allowances explain; 0 where they explain it."""
        expected, slopes, noise = predict(self.mean)
        low, high = self.interval(slopes)
        beyond = value - min(max(value, expected + low), expected + high)
        doubt = math.sqrt(float(slopes @ self.chance @ slopes) + noise)
        return beyond / doubt if math.isfinite(value) else math.inf

    def take(self, value: float, predict: Predict, told: Array) -> None:
        """Learn ``value``, as far as it narrows the band of what has the slopes ``told``.

        Noise is taken as foreseen: what an observation is good for must not depend on what it says.
        """
        begun = self.mean
        noise = predict(begun)[2]
        weights = numpy.array([each.variance for each in self.allowances])
        whole = self.chance + (self.reach * weights) @ self.reach.T
        heeded = self._heeded(told, predict(begun)[1], whole, noise)
        for _ in range(STEPS_MAX):
            expected, slopes, _ = predict(self.mean)
            across = whole @ slopes
            gains = heeded * across / (float(slopes @ across) + noise)
            further = begun + gains * (value - expected - slopes @ (begun - self.mean))
            moved = float(numpy.max(numpy.abs(further - self.mean)))
            self.mean = further
            if moved <= STANDS:
                break
        left = numpy.eye(len(begun)) - numpy.outer(gains, slopes)
        self.chance = left @ self.chance @ left.T + noise * numpy.outer(gains, gains)
        self.reach = left @ self.reach

    def _heeded(self, told: Array, slopes: Array, whole: Array, noise: float) -> float:
        """The share of its gains, none to all, at which a reading leaves the band of ``told`` narrowest.

        The gains weigh chance and allowances by their variances, a band adds them in another way. Heeded in full, a reading
        that says little new may hand chance to an allowance and leave the band wider. The width is convex in
        the share, and with nothing heeded it is the width that there was: no reading widens it.
        """
        across = whole @ slopes
        gain = float(told @ across) / (float(slopes @ across) + noise)

        def width(share: float) -> float:
            low, high = self.limits(told - share * gain * slopes, (share * gain) ** 2 * noise)
            return high - low

        low, high = 0.0, 1.0
        if width(1.0) <= width(1.0 - HEED_STEP):
            return 1.0
        while high - low > HEED_STEP:
            third = (high - low) / 3
            if width(low + third) <= width(high - third):
                high -= third
            else:
                low += third
        return (low + high) / 2

    def kept(self, *forget: str) -> Numbers:
        """As facts, without the numbers that only the newest observation brought."""
        keep = [place for place, name in enumerate(self.names) if name not in forget]
        rows = numpy.ix_(keep, keep)
        return Numbers(
            names=tuple(self.names[place] for place in keep),
            mean=tuple(self.mean[keep].tolist()),
            chance=tuple(map(tuple, self.chance[rows].tolist())),
            reach=tuple(map(tuple, self.reach[keep].tolist())),
            allowances=tuple(self.allowances),
        )
