"""Amounts as people write them at a bench: ``108 ohm``, ``5.655k 23``, ``3.77 kΩ``, ``22 °C``, ``72 F``, ``1.41 mm``.

A file is read strictly (``quantities``); what was read off an instrument is typed in a hurry, so units are taken as people
write them. Nothing is guessed all the same: every number has its unit, decimals have a point, and what was
written tells the last digit that was read. The one exception is a reading alone, ``5655 23``: ohms, then degrees C.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction

from firmware_protocol.records import dataclass
from winder.files.dimensions import LENGTH, RESISTANCE, TEMPERATURE, Dimension
from winder.files.quantities import QuantityError, quoted, read_number

COLDEST_C, WARMEST_C = -40.0, 150.0  # between a cold store and what enamel bears
USUAL_C = 20.0  # where nobody read a thermometer

# How people write units, in lower case.
_UNITS: dict[str, tuple[Dimension, str]] = {
    **{
        written: (RESISTANCE, unit)
        for unit, many in {
            "ohm": ("ohm", "ohms", "\u03c9", "r"),
            "kohm": ("k", "kohm", "kohms", "k\u03c9", "kr"),
        }.items()
        for written in many
    },
    **{
        written: (TEMPERATURE, unit)
        for unit in ("C", "F")
        for written in (unit.lower(), f"\u00b0{unit.lower()}", f"deg {unit.lower()}")
    },
    **{unit: (LENGTH, unit) for unit in LENGTH.units},
    '"': (LENGTH, "in"),
    "\u00b5m": (LENGTH, "um"),
    "\u03bcm": (LENGTH, "um"),
}
_AMOUNT = re.compile(r"(-?[0-9.,_'eE+-]*[0-9.])\s*(\D*)")
_OHMS_THEN_C = re.compile(r"(\S+(?: ?[^\s0-9.-]+?)?) (-?[0-9]{1,3}(?:\.[0-9]{1,3})?)")
_TWO_NUMBERS = re.compile(r"([0-9]+(?:\.[0-9]+)?)(?: (-?[0-9]+(?:\.[0-9]+)?))?")


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit, in the dimension's base unit, and the size of its last digit."""

    dimension: Dimension
    value: float
    step: float


def parts_of(text: str) -> list[str]:
    """What stands between the commas. ``QuantityError`` for a decimal comma."""
    if comma := re.search(r"[0-9.]*[0-9],[0-9]+", text):
        raise QuantityError(
            f"{quoted(text)} has a decimal comma: {comma.group()}",
            f"write decimals with a point, {comma.group().replace(',', '.')}, and a space after other commas",
        )
    return [part.strip() for part in text.split(",")]


def read_amounts(part: str, *, alone: bool = False) -> list[Amount]:
    """One amount, or ohms and degrees C together as ``5.655k 23``.

    ``alone``: ohms were asked for and nothing else was written, so bare numbers are ohms and degrees C. Raises
    ``QuantityError``.
    """
    if alone and (pair := _TWO_NUMBERS.fullmatch(part)):
        part = f"{pair[1]} ohm" + (f" {pair[2]}" if pair[2] else "")
    if pair := _OHMS_THEN_C.fullmatch(part):
        ohm = _amount(pair[1])
        if ohm.dimension is RESISTANCE:
            return [ohm, _amount(f"{pair[2]} C")]
    return [_amount(part)]


@dataclass(frozen=True, slots=True)
class MeasuredOhms:
    """Ohms as the meter showed them, and what was noted beside them."""

    ohm: float
    step_ohm: float  # the last digit that was written
    celsius: float
    noted_c: bool  # False: nobody read a thermometer, the temperature is a guess
    length_m: float = 0.0  # of a piece of wire


def read_measured_ohms(text: str, like: str, *, length: bool = False) -> MeasuredOhms:
    """Ohms, a temperature if one was read, and with ``length`` the length of the piece.

    ``like`` is how it is written, for the remedy. Raises ``QuantityError``.
    """
    needed = (RESISTANCE, LENGTH) if length else (RESISTANCE,)
    found: dict[str, Amount] = {}
    for part in parts_of(text):
        for each in read_amounts(part):
            name = each.dimension.name
            if each.dimension not in (*needed, TEMPERATURE):
                raise QuantityError(f"{quoted(text)} has {name} in it too", f"write it like {like}")
            if name in found:
                raise QuantityError(f"{quoted(text)} gives {name} twice", f"write it like {like}")
            found[name] = each
    for dimension in needed:
        if dimension.name not in found:
            what = f"{quoted(text)} does not give {dimension.name}"
            raise QuantityError(what, f"write it like {like}")
    ohm, celsius = found[RESISTANCE.name], found.get(TEMPERATURE.name)
    return MeasuredOhms(
        ohm.value,
        ohm.step,
        USUAL_C if celsius is None else celsius.value,
        celsius is not None,
        found[LENGTH.name].value if length else 0.0,
    )


def _amount(part: str) -> Amount:
    match = _AMOUNT.fullmatch(part)
    if match is None:
        raise QuantityError(
            f"{quoted(part)} is not a measurement",
            "write a number and its unit, as in 832 ohm, 1.41 mm or 23 C",
        )
    number, unit = match[1], match[2].strip().lower()
    read_number(number)
    if not unit:
        raise QuantityError(
            f"{quoted(number)} has no unit",
            "write decimals with a point and every number with its unit, as in 3.9 ohm",
        )
    if unit not in _UNITS:
        raise QuantityError(
            f"{quoted(match[2].strip())} is not a unit of a reading",
            "write ohm or k, mm or in, C or F",
        )
    dimension, ours = _UNITS[unit]
    exact = Fraction(number) * dimension.units[ours]
    digits = -int(min(Decimal(number).as_tuple().exponent, 0))
    step = float(dimension.units[ours] / 10**digits)
    value = float(exact + dimension.noughts.get(ours, Fraction(0)))
    if dimension is TEMPERATURE and not COLDEST_C <= value <= WARMEST_C:
        raise QuantityError(
            f"{quoted(part)} is not a temperature that a coil can have",
            f"write {COLDEST_C:g} C to {WARMEST_C:g} C",
        )
    if dimension is not TEMPERATURE and not 0 < value < math.inf:
        raise QuantityError(f"{quoted(part)} must be above zero", "measure again")
    return Amount(dimension, value, step)
