"""What a pair keeps of the signal, against one coil alone: as a band, for each join.

Stacked, the far coil hears the string with a part r of the near one's signal (by reciprocity: the flux of the
string's magnetised part); the quiet join takes it away, 1 - r, the humming one adds it. How large r is goes
by the iron: the bands are of round coils (7 mm hub, 19 mm outside, 9 mm wide), poles of 5 mm, the string 3 to
5 mm above, for a string that is magnetised across or along (``docs/pairs.md``). Side by side, one string
over both poles d apart gives the n-th partial 2 cos(n pi d / 2 l) of one coil's where signals add, and
2 cot(n pi x / l) sin(n pi d / 2 l) where they do not: the low partials go, it sounds thin. Strings of its own
leave a coil alone but for a small return flux in the other. One decibel either side for what is not in it:
strings that saturate, blade poles, a string off the axis, the load.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band
from winder.pair.mounting import Iron, Mounting, Stacked, String

HONEST_DB = 1.0
UNTOLD_STRING_DB = 6.0  # of the thin way, where the string is not told; our judgement
USUAL_STRING = String(0.648, 0.150)
GAPS_M = (0.001, 0.002, 0.003, 0.005)
# Far over near signal, lowest and highest of four string models, at these gaps.
FAR_SHARES = {
    Iron.NONE: ((0.10, 0.17), (0.08, 0.15), (0.070, 0.13), (0.049, 0.10)),
    Iron.MAGNETS: ((0.18, 0.22), (0.15, 0.19), (0.14, 0.17), (0.10, 0.13)),
    Iron.STEEL: ((0.45, 0.47), (0.42, 0.44), (0.41, 0.42), (0.37, 0.38)),
    Iron.STEEL_PLATE: ((0.74, 0.76), (0.72, 0.74), (0.70, 0.72), (0.66, 0.68)),
    Iron.MAGNET_IN_ONE: ((0.11, 0.16),) * 4,
    Iron.STEEL_IN_ONE: ((0.11, 0.16),) * 4,
    Iron.STEEL_IN_ONE_PLATE: ((0.035, 0.17),) * 4,
    Iron.NOT_TOLD: ((0.10, 0.76), (0.08, 0.74), (0.070, 0.72), (0.049, 0.68)),
}
APARTS_M = (0.020, 0.022, 0.025, 0.030)
# Of a string over the other coil, through return flux: lowest and highest, of the opposite sign.
RETURN_SHARES = ((0.028, 0.040), (0.019, 0.029), (0.011, 0.023), (0.005, 0.017))


@dataclass(frozen=True, slots=True)
class Signal:
    """Decibels against one coil alone (the near one), open output, equal strength of both poles."""

    decibel: Band
    thin: bool  # the low partials are nearly gone; the figure is of the fundamental


def far_share(mounting: Stacked, iron: Iron) -> Band:
    """r: the far coil's signal over the near one's; beyond the table's gaps as at its ends."""
    return _at(mounting.gap_m, GAPS_M, FAR_SHARES[iron])


def return_share(apart_m: float) -> Band:
    """How much of a string over one coil the other hears, of the opposite sign."""
    return _at(apart_m, APARTS_M, RETURN_SHARES)


def sum_of_two(string: String, apart_m: float, partial: int = 1) -> float:
    """Sum of two poles' signals over one, of this partial: 2 cos(n pi d / 2 l)."""
    return 2 * math.cos(partial * math.pi * apart_m / (2 * string.length_m))


def difference_of_two(string: String, apart_m: float, partial: int = 1) -> float:
    """Difference of two poles' signals over one: 2 cot(n pi x / l) sin(n pi d / 2 l)."""
    angle = partial * math.pi / string.length_m
    return 2 / math.tan(angle * string.from_end_m) * math.sin(angle * apart_m / 2)


def signal_of(
    mounting: Mounting,
    iron: Iron,
    turns: tuple[float, float],
    weights: tuple[float, float],
    *,
    hum_cancels: bool,
    signals_add: bool,
) -> Signal:
    """Of one join; ``weights`` is how each coil counts in the open output (1 and 1 in series)."""
    if isinstance(mounting, Stacked):
        near, far = mounting.near, 1 - mounting.near
        sign = -1 if hum_cancels else 1  # both coils hear one pole
        share = far_share(mounting, iron)
        times = sign * turns[far] / turns[near] * weights[far]
        return _band([weights[near] + times * r for r in (share.nominal, share.low, share.high)])
    own, other = weights
    if mounting.own_strings:
        share = return_share(mounting.apart_m)
        sign = 1 if hum_cancels else -1  # return flux is negative: the quiet join adds it
        return _band([own + sign * other * r for r in (share.nominal, share.low, share.high)])
    string = mounting.string or USUAL_STRING
    level = (own + other) / 2
    if signals_add:
        return _band([level * abs(sum_of_two(string, mounting.apart_m))])
    thin = level * abs(difference_of_two(string, mounting.apart_m))
    unequal = abs(own * turns[0] - other * turns[1]) / max(turns)
    doubt = HONEST_DB if mounting.string else UNTOLD_STRING_DB
    return Signal(_band([math.hypot(thin, unequal)], doubt).decibel, True)


def _band(shares: list[float], doubt_db: float = HONEST_DB) -> Signal:
    levels = [20 * math.log10(max(abs(each), 1e-6)) for each in shares]
    return Signal(Band(levels[0], min(levels) - doubt_db, max(levels) + doubt_db), False)


def _at(where: float, places: tuple[float, ...], table: tuple[tuple[float, float], ...]) -> Band:
    """Both columns of a table, straight between its places."""
    where = min(max(where, places[0]), places[-1])
    above = next(k for k, place in enumerate(places) if where <= place)
    below = max(above - 1, 0)
    span = places[above] - places[below]
    part = (where - places[below]) / span if span else 0.0
    low, high = (
        table[below][end] + part * (table[above][end] - table[below][end]) for end in (0, 1)
    )
    return Band((low + high) / 2, low, high)
