"""Numbers with units: read strictly, printed back, and the constants of copper with their source.

A quantity is one ASCII decimal number, one space and one unit from a short list: ``9.5 mm``. Nothing
is guessed: a decimal comma, a missing unit or space, an exponent, ``nan`` and ``inf`` are refused
with what to write instead, because a misread "9,5 mm" is a bobbin ten times too long. Wire gauge
(``42 AWG``) is a kind of its own and never a length by accident. Values come out in SI units (speeds
in rpm, temperatures in C), rounded once: the digits are converted exactly and only the result becomes a float, so
reading what ``show_...`` printed gives the same float again.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction

from winder.files.dimensions import (
    ACCELERATION,
    INCH_M,
    LENGTH,
    MIL_M,
    RESISTANCE,
    SPEED,
    TIME,
    Dimension,
)

# Copper of 100 % IACS at 20 C: 1/58 ohm mm2/m exactly, and its density (IEC 60028).
COPPER_RESISTIVITY_20C_OHM_M = 1e-6 / 58
COPPER_DENSITY_KG_M3 = 8890.0
# Temperature coefficient of resistance at 20 C, 100 % IACS copper (IEC 60028 as quoted by the
# Industrial Power Engineering and Applications Handbook, p. 970).
COPPER_ALPHA20_PER_K = 0.00393
REFERENCE_TEMPERATURE_C = 20.0

# 4 pi 1e-7 H/m: exact in the SI before 2019; the value since differs by less than 1e-9 of it
# (CODATA 2018, from memory).
MU0_H_M = 4e-7 * math.pi


class QuantityError(ValueError):
    """Text that is no quantity of the kind asked for: what is wrong, and what to write."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(f"{what}; {remedy}")
        self.what = what
        self.remedy = remedy


# The one strict expression. Twelve digits before the point reach beyond any machine, and the forty
# after it are room for every digit of a printed float.
_NUMBER = r"-?[0-9]{1,12}(?:\.[0-9]{1,40})?"
_QUANTITY = re.compile(rf"({_NUMBER}) (\S+)")
GAUGES = ("AWG", "SWG")  # American and imperial standard: the same number is another wire
_GAUGE = re.compile(r"([0-9]{1,2}) (AWG|SWG)")

# What people write for a unit, in lower case, only to name the right one in the remedy.
_OTHER_NAMES = {
    "\u03c9": "ohm",  # the omega that both the Greek capital and the ohm sign are in lower case
    "ohms": "ohm",
    "r": "ohm",
    "k": "kohm",
    "k\u03c9": "kohm",
    "\u00b5m": "um",  # micro sign
    "\u03bcm": "um",  # Greek mu
    "micron": "um",
    "microns": "um",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeters": "mm",
    '"': "in",
    "inch": "in",
    "inches": "in",
    "'": "ft",
    "foot": "ft",
    "feet": "ft",
    "ounce": "oz",
    "ounces": "oz",
    "pound": "lb",
    "pounds": "lb",
    "lbs": "lb",
    "\u00b0c": "C",
    "\u00b0f": "F",
    "grams": "g",
    "thou": "mil",
    "mils": "mil",
    "1/min": "rpm",
    "u/min": "rpm",
    "r/min": "rpm",
    "sec": "s",
    "seconds": "s",
    "minutes": "min",
}


def quoted(text: str) -> str:
    """The text in quotes, shortened and without control characters, for a message."""
    short = text if len(text) <= 40 else text[:37] + "..."
    return f'"{short}"' if short.isprintable() else ascii(short)


def _units_in_words(dimension: Dimension) -> str:
    return ", ".join(dimension.units)


def _unit_remedy(number: str, unit: str, dimension: Dimension) -> str:
    """What to write instead of a unit that is not in the list."""
    lower = unit.lower()
    for known in dimension.units:
        if known in (lower, _OTHER_NAMES.get(lower)) or known.lower() == lower:
            return f'write "{number} {known}"'
    return f'use one of {_units_in_words(dimension)}, like "{dimension.example}"'


def _not_a_quantity(text: str, dimension: Dimension) -> QuantityError:
    """Why the strict expression refused the text; the commonest slips by name."""
    shown = quoted(text)
    like = f'write it like "{dimension.example}"'
    bare = text.strip()
    if not bare:
        return QuantityError(f"{shown} is empty where {dimension.name} is needed", like)
    if re.fullmatch(rf"{_NUMBER}", bare):
        first = next(iter(dimension.units))
        several = len(dimension.units) > 1
        remedy = f'write "{bare} {first}"' + (f" if you mean {first}" if several else "")
        return QuantityError(f"{shown} has no unit", remedy)
    if comma := re.fullmatch(r"(-?[0-9]{1,12}),([0-9]{1,40}) ?([^\s0-9]*)", bare):
        unit = comma[3] if comma[3] in dimension.units else next(iter(dimension.units))
        remedy = f'write the number with a point: "{comma[1]}.{comma[2]} {unit}"'
        if len(comma[2]) == 3:  # may have been meant to part the thousands
            remedy += f', or without the comma: "{comma[1]}{comma[2]} {unit}"'
        return QuantityError(f"{shown} has a decimal comma", remedy)
    if loose := re.fullmatch(rf"\+?({_NUMBER})\s*([^\s0-9.,]\S*)", bare):
        if loose[2] in dimension.units:
            return QuantityError(
                f"{shown} is not a number, one space and a unit",
                f'write "{loose[1]} {loose[2]}"',
            )
        return QuantityError(
            f"{shown} is not {dimension.name}", _unit_remedy(loose[1], loose[2], dimension)
        )
    return QuantityError(f"{shown} is not {dimension.name}", like)


def read_quantity(text: str, dimension: Dimension) -> float:
    """The quantity in the dimension's base unit (m, ohm, rpm, rpm/s, s); always finite.

    Raises ``QuantityError`` for anything but a decimal number, one space and one of the units.
    """
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise _not_a_quantity(text, dimension)
    number, unit = match.groups()
    if unit in GAUGES:
        raise QuantityError(
            f"{quoted(text)} is a wire gauge, not {dimension.name}",
            f'write it like "{dimension.example}"',
        )
    if unit not in dimension.units:
        raise QuantityError(
            f"{quoted(text)} is not {dimension.name}", _unit_remedy(number, unit, dimension)
        )
    return float(
        Fraction(number) * dimension.units[unit] + dimension.noughts.get(unit, Fraction(0))
    )


def read_number(text: str) -> float:
    """A bare decimal number: ASCII digits with at most one point, a minus before it if it is below nought.

    Always finite. Raises ``QuantityError`` for anything else: a comma, an exponent, ``_`` or blanks between
    digits, a plus, digits of another script, ``nan``; the complaint names the slip.
    """
    if re.fullmatch(_NUMBER, text):
        return float(text)
    raise _not_a_number(text)


def read_whole(text: str) -> int:
    """A bare whole number, of the same digits as ``read_number``. Raises ``QuantityError``."""
    if re.fullmatch(r"-?[0-9]{1,18}", text):
        return int(text)
    if re.fullmatch(_NUMBER, text) and "." in text:
        whole = text.partition(".")[0]
        raise QuantityError(f"{quoted(text)} is not a whole number", f"write it like {whole}")
    raise _not_a_number(text)


def _not_a_number(text: str) -> QuantityError:
    """Why a text is no bare number; the commonest slips by name."""
    shown, bare = quoted(text), text.strip()
    like = "write digits with at most one point, like 12.5"
    if not bare:
        return QuantityError(f"{shown} is empty where a number is needed", like)
    if re.fullmatch(_NUMBER, bare):
        return QuantityError(f"{shown} has a blank beside the number", f"write {bare}")
    if comma := re.fullmatch(r"(-?[0-9]{1,12}),([0-9]{1,40})", bare):
        remedy = f"write the number with a point: {comma[1]}.{comma[2]}"
        if len(comma[2]) == 3:
            remedy += f", or without the comma: {comma[1]}{comma[2]}"
        return QuantityError(f"{shown} has a decimal comma", remedy)
    together = re.sub(r"[ _'+]", "", bare)
    if re.fullmatch(_NUMBER, together):
        return QuantityError(f"{shown} has more in it than digits and a point", f"write {together}")
    if re.fullmatch(rf"\+?(?:{_NUMBER})[eE][-+]?[0-9]+", bare):
        return QuantityError(f"{shown} has an exponent", "write the number out, without one")
    if re.fullmatch(r"-?[0-9]*\.[0-9]*", bare):
        return QuantityError(f"{shown} lacks a digit beside its point", "write it like 0.5 or 5")
    if bare.isnumeric() and not bare.isascii():
        return QuantityError(f"{shown} is not written with the digits 0 to 9", like)
    return QuantityError(f"{shown} is not a number", like)


def read_gauge(text: str) -> tuple[int, str]:
    """The gauge of ``42 AWG`` or ``46 SWG``, a whole number, and its system; never a length.

    Raises ``QuantityError``.
    """
    match = _GAUGE.fullmatch(text)
    if match is not None:
        return int(match[1]), match[2]
    loose = re.fullmatch(
        r"\s*(AWG|SWG)?\s*#?([0-9]{1,2})\s*(AWG|SWG)?\s*", text, re.IGNORECASE | re.ASCII
    )
    remedy = 'write it like "42 AWG", a whole number'
    if loose:
        system = loose[1] or loose[3]
        either = " or ".join(f'"{loose[2]} {each}"' for each in GAUGES)
        remedy = (
            f'write "{loose[2]} {system.upper()}"'
            if system
            else f"write {either}, as the label says; they are different wires"
        )
    raise QuantityError(f"{quoted(text)} is not a wire gauge", remedy)


def _rounded(value: Fraction, figures: int) -> Fraction:
    """To so many significant figures; not through a float, so that no border is missed."""
    if not value:
        return value
    last = Fraction(10) ** (math.floor(math.log10(abs(value))) - figures + 1)
    return round(value / last) * last


def show_quantity(value: float, dimension: Dimension, figures: int | None = None) -> str:
    """Text for people that ``read_quantity`` reads back; to the same float when ``figures`` is None.

    ``value`` is finite and in the dimension's base unit.
    """
    assert math.isfinite(value), "only measured or calculated values can be shown"
    exact = Fraction(Decimal(repr(float(value))))  # the shortest digits that mean this float
    if figures is not None:
        exact = _rounded(exact, figures)
    if not exact:
        return f"0 {next(iter(dimension.units))}"
    unit = next(
        (unit for unit, least in dimension.show_in if abs(exact) >= least),
        dimension.show_in[-1][0],
    )
    number = exact / dimension.units[unit]
    # Shortest digits times a power of ten end, so this division is exact.
    text = f"{Decimal(number.numerator) / Decimal(number.denominator):f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} {unit}"


def show_length(length_m: float, figures: int | None = None) -> str:
    """``show_length(0.0085)`` is ``8.5 mm``."""
    return show_quantity(length_m, LENGTH, figures)


def show_resistance(resistance_ohm: float, figures: int | None = None) -> str:
    """``show_resistance(1200)`` is ``1.2 kohm``."""
    return show_quantity(resistance_ohm, RESISTANCE, figures)


def show_speed(speed_rpm: float, figures: int | None = None) -> str:
    """``show_speed(900)`` is ``900 rpm``."""
    return show_quantity(speed_rpm, SPEED, figures)


def show_acceleration(acceleration_rpm_s: float, figures: int | None = None) -> str:
    """``show_acceleration(600)`` is ``600 rpm/s``."""
    return show_quantity(acceleration_rpm_s, ACCELERATION, figures)


def show_time(time_s: float, figures: int | None = None) -> str:
    """``show_time(90)`` is ``90 s``."""
    return show_quantity(time_s, TIME, figures)


def copper_factor(temperature_c: float) -> float:
    """Resistance of copper at this temperature over that at 20 C: 1 + 0.00393 (T - 20)."""
    return 1 + COPPER_ALPHA20_PER_K * (temperature_c - REFERENCE_TEMPERATURE_C)


def awg_bare_m(gauge: int) -> float:
    """Bare diameter by definition: 0.005 in x 92^((36 - gauge)/39) (ASTM B258).

    Wire tables round this to 0.1 mil, which moves the resistance by up to 3 %; they are another
    room's matter.
    """
    return float(0.005 * INCH_M * 92 ** ((36 - gauge) / 39))


# Imperial standard wire gauge, 10 to 50, in thousandths of an inch (Order in Council of 1883, BS 3737; from memory).
_SWG_MIL = (
    128, 116, 104, 92, 80, 72, 64, 56, 48, 40, 36, 32, 28, 24, 22, 20, 18, 16.4, 14.8, 13.6,
    12.4, 11.6, 10.8, 10, 9.2, 8.4, 7.6, 6.8, 6, 5.2, 4.8, 4.4, 4, 3.6, 3.2, 2.8, 2.4, 2, 1.6, 1.2, 1,
)  # fmt: skip
SWG_FIRST = 10


def swg_bare_m(gauge: int) -> float:
    """Bare diameter of an imperial standard wire gauge, 10 to 50; a list, not a formula."""
    return _SWG_MIL[gauge - SWG_FIRST] * MIL_M
