"""Ohms and inductance of two coils joined, and how each counts in the output.

In series the ohms add and the output is V1 + j V2. In parallel, with Z = R + i w L of each and the mutual
term Z_M = i w M_c, the open output is

    V = (V1 (Z2 - Z_M) + j V2 (Z1 - Z_M)) / (Z1 + Z2 - 2 Z_M).

M_c is the geometric mutual inductance (both taken counter-clockwise from one side) as the join turns it:
M_c = j h1 h2 M. So where hum cancels M_c = - M: stacked the pair's inductance is then the smaller one, side by
side, where M is below zero, the larger. L = L1 + L2 + 2 M_c in series, (L1 L2 - M_c^2)/(L1 + L2 - 2 M_c) in
parallel. Kirchhoff's laws; checked against a nodal matrix and published problems.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band, factors, joined_band
from winder.pair.signs import Circuit


@dataclass(frozen=True, slots=True)
class Side:
    """One coil as the circuit sees it."""

    ohm: float
    henry: float


def mutual_of_join(geometric_h: float, *, hum_cancels: bool) -> float:
    """M_c = j h1 h2 M: the mutual inductance as the current through the join sees it."""
    return -geometric_h if hum_cancels else geometric_h


def joined_henry(circuit: Circuit, one_h: float, other_h: float, mutual_h: float) -> float:
    """Inductance of the pair; ``mutual_h`` is that of the join, with its sign."""
    if circuit is Circuit.SERIES:
        return one_h + other_h + 2 * mutual_h
    return (one_h * other_h - mutual_h**2) / (one_h + other_h - 2 * mutual_h)


def joined_ohm(circuit: Circuit, one: float, other: float) -> float:
    return one + other if circuit is Circuit.SERIES else one * other / (one + other)


def joined_ohm_band(circuit: Circuit, one: Band, other: Band) -> Band:
    """Both ends at once: the doubts of two coils of one wire mostly go together."""
    return Band(
        *(
            joined_ohm(circuit, *ends)
            for ends in (
                (one.nominal, other.nominal),
                (one.low, other.low),
                (one.high, other.high),
            )
        )
    )


def joined_henry_band(circuit: Circuit, one: Band, other: Band, mutual_h: float) -> Band:
    """Likewise; the mutual part goes by the nominal values and has no wider band than the coils."""
    nominal = joined_henry(circuit, one.nominal, other.nominal, mutual_h)
    wider = [max(pair) for pair in zip(factors(one), factors(other), strict=True)]
    return joined_band(nominal, (wider[0], wider[1]))


def weights(
    circuit: Circuit, one: Side, other: Side, mutual_h: float, frequency_hz: float
) -> tuple[complex, complex]:
    """With what each coil's own voltage (the second's times j) stands in the open output."""
    if circuit is Circuit.SERIES:
        return 1.0, 1.0
    omega = 2 * math.pi * frequency_hz
    across = 1j * omega * mutual_h
    first, second = (each.ohm + 1j * omega * each.henry for each in (one, other))
    whole = first + second - 2 * across
    return (second - across) / whole, (first - across) / whole
