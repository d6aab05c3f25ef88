"""Kinds of quantity: their units, what each is in the base unit, and which are used for printing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from fractions import Fraction

from firmware_protocol.records import dataclass

# Inch and mil: exactly 25.4 mm, international yard and pound agreement of 1959.
INCH_M = 0.0254
MIL_M = 0.0000254


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity: its units with their size in the base unit, and an example to show.

    ``show_in`` lists the units used for printing, each with the smallest base value it is used
    from, largest first; the last one takes what remains.
    """

    name: str  # with its article: "a length"
    units: dict[str, Fraction]
    example: str
    show_in: tuple[tuple[str, float], ...]
    # What a unit's nought is in the base unit, where that is not nought.
    noughts: Mapping[str, Fraction] = field(default_factory=dict)


LENGTH = Dimension(
    "a length",
    {
        "mm": Fraction(1, 1000),
        "m": Fraction(1),
        "cm": Fraction(1, 100),
        "um": Fraction(1, 10**6),
        "in": Fraction(254, 10**4),
        "mil": Fraction(254, 10**7),
        "ft": Fraction(3048, 10**4),
    },
    "9.5 mm",
    (("m", 1.0), ("mm", 1e-5), ("um", 0.0)),
)
RESISTANCE = Dimension(
    "a resistance",
    {"ohm": Fraction(1), "kohm": Fraction(1000)},
    "1.2 kohm",
    (("kohm", 1000.0), ("ohm", 0.0)),
)
SPEED = Dimension("a speed", {"rpm": Fraction(1)}, "900 rpm", (("rpm", 0.0),))
ACCELERATION = Dimension(
    "a change of speed", {"rpm/s": Fraction(1)}, "600 rpm/s", (("rpm/s", 0.0),)
)
TIME = Dimension("a time", {"s": Fraction(1), "min": Fraction(60)}, "90 s", (("s", 0.0),))
AREA = Dimension(
    "an area",
    {"mm2": Fraction(1, 10**6), "cm2": Fraction(1, 10**4)},
    "95 mm2",
    (("mm2", 0.0),),
)
POUND_KG = Fraction(45359237, 10**8)  # exactly, by the same agreement
MASS = Dimension(
    "a mass",
    {"g": Fraction(1, 1000), "kg": Fraction(1), "oz": POUND_KG / 16, "lb": POUND_KG},
    "120 g",
    (("kg", 1.0), ("g", 0.0)),
)
FORCE = Dimension(
    "a force",
    # One gram-force is 0.980665 cN: standard gravity, 9.80665 m/s2 (CGPM 1901).
    {
        "cN": Fraction(1, 100),
        "mN": Fraction(1, 1000),
        "N": Fraction(1),
        "gf": Fraction(980665, 10**8),
    },
    "14 cN",
    (("cN", 0.0),),
)
TEMPERATURE = Dimension(
    "a temperature",
    {"C": Fraction(1), "F": Fraction(5, 9)},
    "23 C",
    (("C", 0.0),),
    noughts={"F": Fraction(-160, 9)},
)
WARMTH = Dimension("a difference of temperature", {"K": Fraction(1)}, "1 K", (("K", 0.0),))
FREQUENCY = Dimension(
    "a frequency", {"Hz": Fraction(1), "kHz": Fraction(1000)}, "17 Hz", (("Hz", 0.0),)
)
SHARE = Dimension("a share", {"%": Fraction(1, 100)}, "0.8 %", (("%", 0.0),))
RESISTANCE_PER_LENGTH = Dimension(
    "a resistance per length",
    {"ohm/m": Fraction(1), "ohm/km": Fraction(1, 1000)},
    "5.44 ohm/m",
    (("ohm/m", 0.0),),
)
INDUCTANCE = Dimension(
    "an inductance",
    {"H": Fraction(1), "mH": Fraction(1, 10**3), "uH": Fraction(1, 10**6)},
    "2.5 H",
    (("H", 1.0), ("mH", 1e-3), ("uH", 0.0)),
)
CAPACITANCE = Dimension(
    "a capacitance",
    {"pF": Fraction(1, 10**12), "nF": Fraction(1, 10**9)},
    "500 pF",
    (("nF", 1e-8), ("pF", 0.0)),
)
FLUX_DENSITY = Dimension(
    "a flux density",
    {"uT": Fraction(1, 10**6), "nT": Fraction(1, 10**9), "mT": Fraction(1, 10**3)},
    "1 uT",
    (("mT", 1e-3), ("uT", 1e-7), ("nT", 0.0)),
)
