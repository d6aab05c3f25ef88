"""What a person measured, as they write it: a kind, then what belongs to it, with commas between.

    tail, 20 m, 107.8 ohm, 22 C          a piece of this coil's spool
    build, 2000 turns, 1.41 mm           height of the winding above the core, by caliper
    outside, 2000 turns, 8 mm, 10.9 mm   the bare core and the winding over it, by caliper
    ohm, 2500 turns, 832 ohm, 23 C       the coil itself, just wound
    ohm, 2500 turns, 832 ohm, 23 C, rested 20 min
    earlier, 5000 turns, 1712 ohm, 23 C  a finished coil of the same spool and bobbin

Units are taken as people write them: ``5.655k``, ``3.77 kΩ``, ``22 °C``, ``72 F``. A reading of the coil needs no kind (``5.655k 23`` or ``5655 23``:
ohms, then degrees C). Without the measured value the observation is one that could be made: what would it buy? Each part
is known by its unit, so their order after the kind is free (but for the two lengths of ``outside``: the core first).
``on the flats`` or ``at the ends`` says where a caliper stood. What was written also tells the last digit that was read.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from decimal import Decimal

from winder.errors import UserMistake
from winder.files.amounts import USUAL_C, Amount, parts_of, read_amounts
from winder.files.dimensions import LENGTH, RESISTANCE
from winder.files.quantities import QuantityError, quoted, read_number, show_quantity
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    Observation,
    OhmReading,
    SpoolTail,
    is_made,
)

WHERE = "known"
KINDS = ("tail", "build", "outside", "ohm", "earlier")
LENGTHS_MOST = {"tail": 1, "build": 1, "outside": 2, "ohm": 0, "earlier": 1}
BELONGS = {  # besides lengths
    "tail": ("ohm", "temperature"),
    "build": ("turns", "place"),
    "outside": ("turns", "place"),
    "ohm": ("turns", "ohm", "temperature", "rest"),
    "earlier": ("turns", "ohm", "temperature", "place"),
}
MILLIMETRES = replace(LENGTH, show_in=(("mm", 0.0),))
RESTED_MIN_MAX = 60.0 * 24 * 365
PLACES = {"on the flats": True, "flats": True, "at the ends": False, "ends": False}
JUST_WOUND = -1.0
MINUTES = {"min": 1.0, "minutes": 1.0, "minute": 1.0, "h": 60.0, "hour": 60.0, "hours": 60.0}
_REST = re.compile(r"rested ([0-9]{1,6}(?:\.[0-9]{1,3})?) ?([a-z]+)")


def read_reading(text: str, turns: float | None = None) -> Observation:
    """One observation; ``turns``: those of the coil now, where the text leaves them out.

    Raises ``UserMistake`` that says what is missing or wrong.
    """
    try:
        kind, *parts = parts_of(text)
    except QuantityError as wrong:
        raise UserMistake(wrong.what, where=WHERE, remedy=wrong.remedy) from None
    alone = False
    if kind not in KINDS:
        if not re.match(r"[0-9.]", kind):
            raise UserMistake(
                f"{quoted(kind)} is not something to measure",
                where=WHERE,
                remedy=f"begin with one of {', '.join(KINDS)}, as in 'ohm, 2500 turns, 832 ohm, 23 C'",
            )
        alone = not parts
        kind, parts = "ohm", [kind, *parts]
    found = _Parts(text, kind)
    for part in parts:
        found.take(part, alone=alone)
    return _observation(kind, found, turns)


def _observation(kind: str, found: _Parts, turns_now: float | None) -> Observation:
    celsius = found.values.get("temperature", USUAL_C)
    # Of what is not measured yet it is asked what it would tell, measured well.
    noted = "temperature" in found.values or found.ohm is None
    place = found.values.get("place")
    on_flats = None if place is None else bool(place)
    if kind == "tail":
        return SpoolTail(
            found.needed_length(1)[0], found.ohm, celsius, step_ohm=found.step_ohm, noted_c=noted
        )
    turns = found.needed_turns(turns_now)
    if kind == "ohm":
        rested = found.values.get("rest")
        rested = None if rested == JUST_WOUND else rested
        return OhmReading(turns, found.ohm, celsius, rested, found.step_ohm, noted)
    if kind == "earlier":
        return EarlierCoil(
            turns,
            found.ohm,
            celsius,
            build_m=found.last_length(),
            step_ohm=found.step_ohm,
            noted_c=noted,
            on_flats=on_flats,
        )
    if kind == "build":
        return BuildCaliper(turns, found.last_length(), on_flats=on_flats)
    core_m, *outside_m = found.needed_length(1)
    if outside_m and outside_m[0] <= core_m:
        raise found.mistake("is not thicker outside than its core", "give the bare core first")
    return FinishedDiameter(turns, core_m, outside_m[0] if outside_m else None, on_flats=on_flats)


class _Parts:
    """The parts of one observation, sorted by what their units say they are."""

    def __init__(self, text: str, kind: str) -> None:
        self._text = text
        self._kind = kind
        self._lengths: list[float] = []
        self.values: dict[str, float] = {}
        self.step_ohm = 0.0

    def take(self, part: str, *, alone: bool = False) -> None:
        word = part.lower()
        if word in PLACES:
            self._put("place", float(PLACES[word]))
        elif word == "just wound":
            self._put("rest", JUST_WOUND)
        elif rest := _REST.fullmatch(word):
            self._rest(part, rest)
        elif turns := re.fullmatch(r"(\S+) turns?", word):
            self._put("turns", self._number(turns[1], part))
        else:
            try:
                amounts = read_amounts(part, alone=alone)
            except QuantityError as wrong:
                raise self.mistake(f"cannot be read: {wrong.what}", wrong.remedy) from None
            for amount in amounts:
                self._take_amount(part, amount)

    def _rest(self, part: str, rest: re.Match[str]) -> None:
        if rest[2] not in MINUTES:
            raise self.mistake(f"rested for {quoted(part[7:])}", "write it like 'rested 20 min'")
        self._put("rest", float(rest[1]) * MINUTES[rest[2]])

    def _take_amount(self, part: str, amount: Amount) -> None:
        if amount.dimension is LENGTH:
            self._lengths.append(amount.value)
            if len(self._lengths) > LENGTHS_MOST[self._kind]:
                raise self.mistake(f"has a length too many: {quoted(part)}", "leave it out")
        elif amount.dimension is RESISTANCE:
            self._put("ohm", amount.value)
            self.step_ohm = amount.step
        else:
            self._put("temperature", amount.value)

    def _number(self, number: str, part: str) -> float:
        try:
            return read_number(number)
        except QuantityError as wrong:
            raise self.mistake(
                f"has a number that is none in {quoted(part)}", wrong.remedy
            ) from None

    def _put(self, name: str, value: float) -> None:
        if name not in BELONGS[self._kind]:
            raise self.mistake(f"has a part that does not belong to it: its {name}", "leave it out")
        if name in self.values:
            raise self.mistake(f"says its {name} twice", "keep one of them")
        if name == "turns" and not 0 < value < math.inf:
            raise self.mistake("has no turns", "give a number above zero")
        if name == "rest" and value > RESTED_MIN_MAX:
            raise self.mistake("rested longer than a year", "say how many minutes")
        self.values[name] = value

    @property
    def ohm(self) -> float | None:
        return self.values.get("ohm")

    def last_length(self) -> float | None:
        return self._lengths[-1] if self._lengths else None

    def needed_turns(self, turns_now: float | None) -> float:
        turns = self.values.get("turns", turns_now)
        if turns is None:
            raise self.mistake("does not say at how many turns", "add them, as in '2500 turns'")
        return turns

    def needed_length(self, least: int) -> list[float]:
        if len(self._lengths) < least:
            raise self.mistake("does not say its length", "add it, as in '8 m' or '8 mm'")
        return self._lengths

    def mistake(self, what: str, remedy: str) -> UserMistake:
        return UserMistake(f"{quoted(self._text)} {what}", where=WHERE, remedy=remedy)


# --- and back -----------------------------------------------------------------------------------


def reading_text(observation: Observation) -> str:
    """An observation that was made, as ``read_reading`` reads it again, to the same digits."""
    assert is_made(observation)
    if isinstance(observation, SpoolTail):
        return ", ".join(["tail", f"{_plain(observation.length_m)} m", *_meter_parts(observation)])
    parts = [f"{_plain(observation.turns)} turns"]
    if isinstance(observation, OhmReading):
        rested = observation.rested_min
        rest = [] if rested is None else [f"rested {_plain(rested)} min"]
        return ", ".join(["ohm", *parts, *_meter_parts(observation), *rest])
    named = {True: ["on the flats"], False: ["at the ends"], None: []}
    place = named[observation.on_flats]
    if isinstance(observation, EarlierCoil):
        if observation.ohm is not None:
            parts += _meter_parts(observation)
        if observation.build_m is not None:
            parts.append(f"{_mm(observation.build_m)} mm")
        return ", ".join(["earlier", *parts, *place])
    if isinstance(observation, FinishedDiameter):
        assert observation.outside_m is not None
        lengths = [observation.core_m, observation.outside_m]
        parts += [f"{_mm(length)} mm" for length in lengths]
        return ", ".join(["outside", *parts, *place])
    assert observation.build_m is not None
    return ", ".join(["build", *parts, f"{_mm(observation.build_m)} mm", *place])


def _meter_parts(reading: SpoolTail | OhmReading | EarlierCoil) -> list[str]:
    assert reading.ohm is not None
    decimals = max(0, round(-math.log10(reading.step_ohm))) if reading.step_ohm else None
    ohm = _plain(reading.ohm) if decimals is None else f"{reading.ohm:.{decimals}f}"
    if decimals == 0 and reading.step_ohm > 1:  # the last digit stands for more than one ohm
        ohm = _plain(reading.ohm / 1000, max(0, 3 - round(math.log10(reading.step_ohm)))) + "k"
    else:
        ohm += " ohm"
    return [ohm, f"{_plain(reading.temperature_c)} C"] if reading.noted_c else [ohm]


def _mm(length_m: float) -> str:
    return show_quantity(length_m, MILLIMETRES).split()[0]


def _plain(value: float, decimals: int | None = None) -> str:
    """Digits and a point, no exponent."""
    if decimals is not None:
        return f"{value:.{decimals}f}"
    text = f"{Decimal(repr(value)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
