"""What a band is wide from, and the one reading that would narrow it most."""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.equations import (
    AREA,
    BULGE,
    CORE,
    GAIN,
    KELVIN,
    OHM,
    STRETCH,
    Reader,
)
from winder.coil.knowledge import resistance_band, would_buy
from winder.coil.model import Coil
from winder.coil.unknowns import Doubts
from winder.recipe.observations import BuildCaliper, Observation, OhmReading, SpoolTail

WORDS = {
    OHM: "the ohms per metre of this spool",
    AREA: "how tightly the turns pack",
    STRETCH: "how far the tension stretches the wire",
    BULGE: "how far the flat sides bulge",
    CORE: "the size of the core",
    GAIN: "the meter",
    KELVIN: "the thermometer",
}
TAIL_OHM = 120.0  # so much wire a tail should have
WORTH_SAYING = 0.9  # of the width now: a reading that leaves more is not worth a sentence


@dataclass(frozen=True, slots=True)
class Narrowing:
    """Shares of the nominal, half widths."""

    now: float
    wide_from: str  # the greatest doubt, in words
    reading: Observation | None  # that would narrow it most; None: none worth the while
    words: str  # what to measure; "" with none
    then: float


def narrowing(coil: Coil) -> Narrowing:
    """Of the finished coil's ohms."""
    known = coil.known
    doubts = Doubts(known.numbers)
    reader = Reader(known.wound, known.instruments, doubts)
    ohm, slopes = reader.ohm_of(doubts.mean, float(coil.turns))
    widths = {}
    for name in (each for each in WORDS if each in doubts.names):
        alone = doubts.slopes(**{name: float(slopes[doubts.place(name)]) / ohm})
        below, above = doubts.limits(alone)
        widths[name] = above - below
    band = resistance_band(known, coil.turns)
    now = math.log(band.high / band.low) / 2
    tail_m = math.ceil(TAIL_OHM / coil.wire.ohm_per_m.nominal)
    half = coil.turns // 2
    candidates: list[tuple[Observation, str]] = [
        (SpoolTail(float(tail_m)), f"a tail of {tail_m} m")
    ]
    if half > 0:
        candidates += [
            (OhmReading(float(half), rested_min=60.0), "one reading of the coil half-way"),
            (BuildCaliper(float(half)), "a caliper on the build half-way"),
        ]
    best: tuple[float, Observation, str] | None = None
    for reading, words in candidates:
        after = would_buy(known, reading, coil.turns).after
        then = math.log(after.high / after.low) / 2
        if then < WORTH_SAYING * now and (best is None or then < best[0]):
            best = (then, reading, words)
    wide_from = WORDS[max(widths, key=lambda name: widths[name])]
    if best is None:
        return Narrowing(now, wide_from, None, "", now)
    return Narrowing(now, wide_from, best[1], best[2], best[0])


def narrowing_words(coil: Coil) -> str:
    """The band's cause and cure in one sentence."""
    found = narrowing(coil)
    said = f"the ohms are known to +-{100 * found.now:.2g} %, mostly because of {found.wide_from}"
    if found.reading is not None:
        said += f"; {found.words}: +-{100 * found.then:.2g} %"
    return said
