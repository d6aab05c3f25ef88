"""What a person measured, as they write it: a kind, then what belongs to it, with commas between.

    tail, 8 m, 43.1 ohm, 22 C            a piece of this coil's spool
    build, 2000 turns, 1.41 mm           height of the winding above the core, by caliper
    outside, 2000 turns, 8 mm, 10.9 mm   the bare core and the winding over it, by caliper
    ohm, 2500 turns, 832 ohm, 23 C       the coil itself
    earlier, 5000 turns, 1712 ohm, 23 C  a finished coil of the same spool and bobbin

Without the measured value the observation is one that could be made: what would it buy? The temperature
may be left out, and is 20 C then. Each part is known by its unit, so their order after the kind is free
(but for the two lengths of ``outside``: the core first).
"""

from __future__ import annotations

import math
import re

from winder.errors import UserMistake
from winder.files.dimensions import LENGTH, RESISTANCE, TEMPERATURE, Dimension
from winder.files.quantities import QuantityError, quoted, read_quantity
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    Observation,
    OhmReading,
    SpoolTail,
)

WHERE = "known"
KINDS = ("tail", "build", "outside", "ohm", "earlier")
LENGTHS_MOST = {"tail": 1, "build": 1, "outside": 2, "ohm": 0, "earlier": 1}
BELONGS = {  # besides lengths
    "tail": ("ohm", "temperature"),
    "build": ("turns",),
    "outside": ("turns",),
    "ohm": ("turns", "ohm", "temperature"),
    "earlier": ("turns", "ohm", "temperature"),
}
COLDEST_C, WARMEST_C = -40.0, 150.0  # as in a recipe
USUAL_C = 20.0
_TURNS = re.compile(r"([0-9]{1,8}(?:\.[0-9]{1,6})?) turns?")
_UNIT = re.compile(r"[^0-9.\s]+$")


def read_reading(text: str) -> Observation:
    """One observation. Raises ``UserMistake`` that says what is missing or wrong."""
    kind, *parts = (part.strip() for part in text.split(","))
    if kind not in KINDS:
        raise UserMistake(
            f"{quoted(kind)} is nothing to measure",
            where=WHERE,
            remedy=f"begin with one of {', '.join(KINDS)}, as in 'ohm, 2500 turns, 832 ohm, 23 C'",
        )
    found = _Parts(text, kind)
    for part in parts:
        found.take(part)
    return _observation(kind, found)


def _observation(kind: str, found: _Parts) -> Observation:
    celsius = found.one("temperature", USUAL_C)
    if kind == "tail":
        return SpoolTail(found.needed_length(1)[0], found.ohm, celsius)
    turns = found.needed_turns()
    if kind == "ohm":
        return OhmReading(turns, found.ohm, celsius)
    if kind == "earlier":
        return EarlierCoil(turns, found.ohm, celsius, build_m=found.last_length())
    if kind == "build":
        return BuildCaliper(turns, found.last_length())
    core_m, *outside_m = found.needed_length(1)
    if outside_m and outside_m[0] <= core_m:
        raise found.mistake("is not thicker outside than its core", "say the bare core first")
    return FinishedDiameter(turns, core_m, outside_m[0] if outside_m else None)


class _Parts:
    """The parts of one observation, sorted by what their units say they are."""

    def __init__(self, text: str, kind: str) -> None:
        self._text = text
        self._kind = kind
        self._lengths: list[float] = []
        self._values: dict[str, float] = {}

    def take(self, part: str) -> None:
        turns = _TURNS.fullmatch(part)
        if turns is not None:
            self._put("turns", float(turns[1]))
            return
        if part.isdigit():
            raise self.mistake(
                f"has a bare number, {part}",
                "write decimals with a point and every number with its unit, as in 3.9 ohm",
            )
        unit = _UNIT.search(part)
        dimension = self._dimension(unit.group() if unit else "")
        try:
            value = read_quantity(part, dimension)
        except QuantityError as wrong:
            raise UserMistake(wrong.what, where=WHERE, remedy=wrong.remedy) from None
        if dimension is LENGTH:
            if not value > 0:
                raise self.mistake(f"has a length of {part}", "give a number above nothing")
            self._lengths.append(value)
            if len(self._lengths) > LENGTHS_MOST[self._kind]:
                raise self.mistake(f"has a length too many: {quoted(part)}", "leave it out")
        else:
            self._put("ohm" if dimension is RESISTANCE else "temperature", value)

    def _dimension(self, unit: str) -> Dimension:
        for dimension in (RESISTANCE, TEMPERATURE):
            if unit in dimension.units:
                return dimension
        return LENGTH

    def _put(self, name: str, value: float) -> None:
        if name not in BELONGS[self._kind]:
            raise self.mistake(f"has a part that does not belong to it: its {name}", "leave it out")
        if name in self._values:
            raise self.mistake(f"says its {name} twice", "keep one of them")
        if name != "temperature" and not 0 < value < math.inf:
            raise self.mistake(f"has no {name}", "give a number above nothing")
        if name == "temperature" and not COLDEST_C <= value <= WARMEST_C:
            raise self.mistake(
                f"was taken at {value:g} C", f"write {COLDEST_C:g} C to {WARMEST_C:g} C"
            )
        self._values[name] = value

    @property
    def ohm(self) -> float | None:
        return self._values.get("ohm")

    def one(self, name: str, default: float) -> float:
        return self._values.get(name, default)

    def last_length(self) -> float | None:
        return self._lengths[-1] if self._lengths else None

    def needed_turns(self) -> float:
        if "turns" not in self._values:
            raise self.mistake("does not say at how many turns", "add them, as in '2500 turns'")
        return self._values["turns"]

    def needed_length(self, least: int) -> list[float]:
        if len(self._lengths) < least:
            raise self.mistake("does not say its length", "add it, as in '8 m' or '8 mm'")
        return self._lengths

    def mistake(self, what: str, remedy: str) -> UserMistake:
        return UserMistake(f"{quoted(self._text)} {what}", where=WHERE, remedy=remedy)
