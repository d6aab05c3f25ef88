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
from operator import sub

from firmware_protocol.records import dataclass
from winder.coil.bands import one_sided_95

Array = list[
    float
]  # a dozen numbers: a library for arrays takes longer to load than all of them to work out
Rows = list[Array]
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


def scaled(row: Array, by: float) -> Array:
    """Every number of a row times another."""
    return [each * by for each in row]


def _times(one: Array, other: Array) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


class Doubts:
    """The numbers, being worked on one scalar equation at a time. Of each there is a row of chance, and one of reach."""

    def __init__(self, numbers: Numbers) -> None:
        self.names = list(numbers.names)
        self.mean: Array = list(numbers.mean)
        self.chance: Rows = [list(row) for row in numbers.chance]
        self.allowances = list(numbers.allowances)
        self.reach: Rows = [list(row) for row in numbers.reach]

    def add(self, name: str, mean: float, sd: float = 0.0, within: Allowance | None = None) -> int:
        """The place of a number; a new one if there is none of that name yet."""
        if name in self.names:
            return self.names.index(name)
        size = len(self.names)
        self.names.append(name)
        self.mean = [*self.mean, mean]
        for row in self.chance:
            row.append(0.0)
        self.chance.append([0.0] * size + [sd**2])
        self.reach.append([0.0] * len(self.allowances))
        if within is not None:
            for row in self.reach:
                row.append(0.0)
            self.reach[size][-1] = 1.0
            self.allowances.append(within)
        return size

    def place(self, name: str) -> int:
        return self.names.index(name)

    def slopes(self, **by_name: float) -> Array:
        """A row of slopes, nothing but for these numbers."""
        row = [0.0] * len(self.names)
        for name, slope in by_name.items():
            row[self.names.index(name)] = slope
        return row

    def _across(self, slopes: Array) -> Array:
        """What the allowances do to what has these slopes, one after the other."""
        columns = zip(*self.reach, strict=True) if self.allowances else ()
        return [_times(slopes, list(column)) for column in columns]

    def _by_chance(self, slopes: Array) -> float:
        """Variance by chance of what has these slopes."""
        return _times(slopes, [_times(row, slopes) for row in self.chance])

    def variance(self, slopes: Array) -> float:
        """Of what has these slopes, allowances weighed about their means; noise left out."""
        across = self._across(slopes)
        weighed = sum(a**2 * each.variance for a, each in zip(across, self.allowances, strict=True))
        return self._by_chance(slopes) + weighed

    def limits(self, slopes: Array, noise: float = 0.0) -> tuple[float, float]:
        """95 % limits of what has these slopes, from its mean: below and above (negative, positive)."""
        low, high = self.interval(slopes)
        doubt = math.sqrt(max(self._by_chance(slopes), 0.0) + noise)
        beyond = one_sided_95(doubt, high - low) * doubt
        return low - beyond, high + beyond

    def interval(self, slopes: Array) -> tuple[float, float]:
        """How far the allowances alone may lead below and above the mean."""
        low = high = 0.0
        for across, each in zip(self._across(slopes), self.allowances, strict=True):
            ends = (across * each.low, across * each.high)
            low, high = low + min(ends), high + max(ends)
        return low, high

    def off(self, value: float, predict: Predict) -> float:
        """Standard errors of a value beyond all that the allowances explain; 0 where they explain it."""
        expected, slopes, noise = predict(self.mean)
        low, high = self.interval(slopes)
        beyond = value - min(max(value, expected + low), expected + high)
        doubt = math.sqrt(self._by_chance(slopes) + noise)
        return beyond / doubt if math.isfinite(value) else math.inf

    def take(self, value: float, predict: Predict, told: Array) -> None:
        """Learn ``value``, as far as it narrows the band of what has the slopes ``told``.

        Noise is taken as foreseen: what an observation is good for must not depend on what it says.
        """
        begun = self.mean
        noise = predict(begun)[2]
        whole = self._whole()
        heeded = self._heeded(told, predict(begun)[1], whole, noise)
        for _ in range(STEPS_MAX):
            expected, slopes, _ = predict(self.mean)
            across = [_times(row, slopes) for row in whole]
            gains = scaled(across, heeded / (_times(slopes, across) + noise))
            led = _times(slopes, list(map(sub, begun, self.mean)))
            off = value - expected - led
            further = [mean + gain * off for mean, gain in zip(begun, gains, strict=True)]
            moved = max(abs(new - old) for new, old in zip(further, self.mean, strict=True))
            self.mean = further
            if moved <= STANDS:
                break
        self._carry(gains, slopes, noise)

    def _whole(self) -> Rows:
        """Chance, and the allowances as if they were chance."""
        weighed = [
            [a * each.variance for a, each in zip(row, self.allowances, strict=True)]
            for row in self.reach
        ]
        return [
            [c + _times(weights, other) for c, other in zip(row, self.reach, strict=True)]
            for row, weights in zip(self.chance, weighed, strict=True)
        ]

    def _carry(self, gains: Array, slopes: Array, noise: float) -> None:
        """Chance (whose form is Joseph's) and reach through a step with these gains."""
        across = [_times(row, slopes) for row in self.chance]
        half = [
            [c - gain * a for c, a in zip(row, across, strict=True)]
            for row, gain in zip(self.chance, gains, strict=True)
        ]
        self.chance = [
            [c + (noise * gain - left) * other for c, other in zip(row, gains, strict=True)]
            for row, gain, left in zip(
                half, gains, [_times(row, slopes) for row in half], strict=True
            )
        ]
        reached = self._across(slopes)
        self.reach = [
            [a - gain * led for a, led in zip(row, reached, strict=True)]
            for row, gain in zip(self.reach, gains, strict=True)
        ]

    def _heeded(self, told: Array, slopes: Array, whole: Rows, noise: float) -> float:
        """The share of its gains, none to all, at which a reading leaves the band of ``told`` narrowest.

        The gains weigh chance and allowances by their variances, a band adds them in another way. Heeded in full, a reading
        that says little new may hand chance to an allowance and leave the band wider. The width is convex in
        the share, and with nothing heeded it is the width that there was: no reading widens it.
        """
        across = [_times(row, slopes) for row in whole]
        gain = _times(told, across) / (_times(slopes, across) + noise)

        def width(share: float) -> float:
            left = [t - share * gain * slope for t, slope in zip(told, slopes, strict=True)]
            low, high = self.limits(left, (share * gain) ** 2 * noise)
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
        return Numbers(
            names=tuple(self.names[place] for place in keep),
            mean=tuple(self.mean[place] for place in keep),
            chance=tuple(tuple(self.chance[row][at] for at in keep) for row in keep),
            reach=tuple(tuple(self.reach[row]) for row in keep),
            allowances=tuple(self.allowances),
        )
