"""A number with its doubt split by cause, so that what two numbers share does not count twice.

Every cause is independent of the others and named; a part is how far the number moves when its cause lies
at its 95 % limit. Sums add parts of one cause as they are, with their sign, and the band adds different
causes as squares. So the thermometer of one sitting drops out of a difference, and the packing habit of a
bench does not pretend to average out over twenty coils. Normal errors, small enough to go straight on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field

from firmware_protocol.records import dataclass
from winder.coil.bands import Band


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A value and, for each cause, how far it is moved by that cause at its 95 % limit."""

    value: float
    causes: Mapping[str, float] = field(default_factory=dict)

    @property
    def doubt(self) -> float:
        """95 % limit of the whole, either side."""
        return math.hypot(*self.causes.values())

    @property
    def band(self) -> Band:
        return Band(self.value, self.value - self.doubt, self.value + self.doubt)

    @property
    def log_band(self) -> Band:
        """Of a logarithm: the band of the number itself."""
        value = math.exp(self.value)
        return Band(value, value * math.exp(-self.doubt), value * math.exp(self.doubt))

    def plus(self, other: Doubtful, times: float = 1.0) -> Doubtful:
        """The sum, the other taken ``times``."""
        causes = dict(self.causes)
        for cause, part in other.causes.items():
            causes[cause] = causes.get(cause, 0.0) + times * part
        return Doubtful(self.value + times * other.value, causes)

    def less(self, other: Doubtful) -> Doubtful:
        return self.plus(other, -1.0)

    def times(self, factor: float) -> Doubtful:
        return Doubtful(0.0).plus(self, factor)

    def shared(self, other: Doubtful) -> float:
        """What both have in common: the sum of the products, a covariance."""
        return sum(part * other.causes.get(cause, 0.0) for cause, part in self.causes.items())

    def knowing(self, miss: Doubtful) -> Doubtful:
        """This number once ``miss`` is known to be nothing: what should have been less what was read.

        The linear step of a Gauss-Markov estimate (a Kalman update by one reading).
        """
        spread = miss.shared(miss)
        return self if spread <= 0 else self.plus(miss, -self.shared(miss) / spread)


def exactly(value: float) -> Doubtful:
    return Doubtful(value)


def product(value: float, *shares: Doubtful) -> Doubtful:
    """``value`` times factors near one, given by what each share's causes move it relatively."""
    causes: dict[str, float] = {}
    for share in shares:
        for cause, part in share.causes.items():
            causes[cause] = causes.get(cause, 0.0) + value * part
    return Doubtful(value, causes)
