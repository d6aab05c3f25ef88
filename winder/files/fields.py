"""The fields of a TOML format: what each key means, how its value is read, and its limits.

The reader, the template for a new file and the reference page all come from the same ``Field``
entries, so they cannot drift apart. A kind of field (a measure, a whole number, a choice) refuses a
value with what is wrong and what to write instead; collecting such refusals is ``form``'s matter.
"""

from __future__ import annotations

from typing import Any, NoReturn, Protocol

from firmware_protocol.records import dataclass
from winder.files import quantities
from winder.files.dimensions import Dimension
from winder.files.nearest import nearest
from winder.files.quantities import QuantityError, read_quantity, show_quantity


class FieldFault(Exception):
    """A value that cannot be what its field asks for."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


class Kind(Protocol):
    """How a value is read. ``read`` raises ``FieldFault``; ``words`` is for the reference page."""

    @property
    def words(self) -> str: ...

    def read(self, key: str, value: Any) -> Any: ...


def type_name(value: Any) -> str:
    names = {str: "text", bool: "true or false", int: "a whole number", float: "a number"}
    names |= {list: "a list", dict: "a section"}
    return names.get(type(value), "a date or time")


def _wrong_type(value: Any, needed: str, remedy: str) -> NoReturn:
    raise FieldFault(f"this is {type_name(value)} where {needed} is needed", remedy)


@dataclass(frozen=True, slots=True)
class Measure:
    """A quantity within limits, both included, in the dimension's base unit."""

    dimension: Dimension
    low: float
    high: float

    @property
    def words(self) -> str:
        low, high = (show_quantity(limit, self.dimension) for limit in (self.low, self.high))
        return f"{self.dimension.name}, {low} to {high}"

    def read(self, key: str, value: Any) -> float:
        name, example = self.dimension.name, self.dimension.example
        if type(value) in (int, float):
            unit = example.split()[1]
            number = "9.5" if len(repr(value)) > 20 else repr(value)
            raise FieldFault(
                f"this is a bare number where {name} with its unit is needed",
                f'write {key} = "{number} {unit}" if you mean {unit}',
            )
        if not isinstance(value, str):
            _wrong_type(value, name, f'write {key} = "{example}"')
        try:
            quantity = read_quantity(value, self.dimension)
        except QuantityError as error:
            raise FieldFault(error.what, error.remedy) from None
        if not self.low <= quantity <= self.high:
            self._outside(value, quantity)
        return quantity

    def _outside(self, text: str, quantity: float) -> NoReturn:
        low, high = (show_quantity(limit, self.dimension) for limit in (self.low, self.high))
        if quantity <= 0 and self.low > 0:
            raise FieldFault(f"{text} must be above zero", f"write {low} to {high}")
        number = text.split()[0]
        # Ten times off smells of a wrong unit; less is a thing of the wrong size.
        absurd = quantity > 10 * self.high or quantity < self.low / 10
        for unit in self.dimension.units if absurd else ():
            other = f"{number} {unit}"
            if self.low <= read_quantity(other, self.dimension) <= self.high:
                raise FieldFault(
                    f"{text} is outside {low} to {high}", f"did you mean {other}? Write that"
                )
        side = "more than the most" if quantity > self.high else "less than the least"
        raise FieldFault(f"{text} is {side} this can be", f"write {low} to {high}")


@dataclass(frozen=True, slots=True)
class MeasureOr:
    """A quantity, or one word that stands for not having measured it; the word reads as 0."""

    measure: Measure
    word: str

    @property
    def words(self) -> str:
        return f'{self.measure.words}, or "{self.word}"'

    def read(self, key: str, value: Any) -> float:
        return 0.0 if value == self.word else self.measure.read(key, value)


@dataclass(frozen=True, slots=True)
class Gauge:
    """A wire gauge of either kind within limits, both included."""

    low: int
    high: int

    @property
    def words(self) -> str:
        return f'a wire gauge, "{self.low} AWG" to "{self.high} AWG", or in SWG'

    def read(self, key: str, value: Any) -> tuple[int, str]:
        """The gauge and its system. A hint never turns one wire into another."""
        if type(value) is int and self.low <= value <= self.high:
            raise FieldFault(
                "this is a bare number where a wire gauge is needed",
                f'write {key} = "{value} AWG" or {key} = "{value} SWG", as the label says;'
                " they are different wires",
            )
        if not isinstance(value, str):
            _wrong_type(value, "a wire gauge", f'write {key} = "42 AWG"')
        try:
            gauge, system = quantities.read_gauge(value)
        except QuantityError as error:
            raise FieldFault(error.what, error.remedy) from None
        if not self.low <= gauge <= self.high:
            raise FieldFault(
                f"{value} is outside {self.low} to {self.high} {system}",
                "use a wire in that range, or give its diameter in mm and its grade",
            )
        return gauge, system


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number within limits, both included. ``why_whole`` refuses a fraction with its reason."""

    low: int
    high: int
    why_whole: str = "this must be a whole number"
    remedy_whole: str = "round it to the number you mean"

    @property
    def words(self) -> str:
        return f"a whole number, {self.low} to {self.high}"

    def read(self, key: str, value: Any) -> int:
        if type(value) is float:
            if value.is_integer() and abs(value) <= self.high:
                raise FieldFault("this is written as a fraction", f"write {key} = {int(value)}")
            raise FieldFault(self.why_whole, self.remedy_whole)
        if isinstance(value, str) and value.strip().isascii() and value.strip().isdigit():
            short = value.strip()[:20]
            raise FieldFault(
                "this is text where a whole number is needed",
                f"write it without quotes: {key} = {short}",
            )
        if isinstance(value, str) and ("/" in value or "." in value):
            raise FieldFault(self.why_whole, self.remedy_whole)
        if type(value) is not int:
            _wrong_type(value, "a whole number", f"write {self.low} to {self.high} without quotes")
        if not self.low <= value <= self.high:
            shown = str(value) if abs(value) < 10**15 else "this number"
            raise FieldFault(
                f"{shown} is outside {self.low} to {self.high}",
                f"write a whole number from {self.low} to {self.high}",
            )
        return int(value)


@dataclass(frozen=True, slots=True)
class Ratio:
    """A plain number without a unit, within limits, both included."""

    low: float
    high: float

    @property
    def words(self) -> str:
        return f"a plain number, {self.low:g} to {self.high:g}"

    def read(self, key: str, value: Any) -> float:
        if type(value) not in (int, float):
            _wrong_type(value, "a plain number", f"write {self.low:g} to {self.high:g}, no quotes")
        if not self.low <= value <= self.high:  # also refuses nan
            raise FieldFault(
                f"this is outside {self.low:g} to {self.high:g}",
                f"write a number from {self.low:g} to {self.high:g}",
            )
        return float(value)


@dataclass(frozen=True, slots=True)
class RisingTurns:
    """A list of turns, each higher than the one before; each by itself, or as ``{at = 2500, for = "measure"}``.

    Read as pairs of a turn and what it is for, "" where that is not said.
    """

    high: int
    count_max: int
    reason_max: int = 60

    @property
    def words(self) -> str:
        return f'a list of at most {self.count_max} rising whole numbers, each alone or as `{{at = 2500, for = "measure"}}`'

    def read(self, key: str, value: Any) -> tuple[tuple[int, str], ...]:
        example = f'write {key} = [1000, {{at = 2500, for = "measure"}}]'
        if not isinstance(value, list):
            _wrong_type(value, "a list", example)
        if len(value) > self.count_max:
            raise FieldFault(
                f"these are {len(value)} numbers", f"leave at most {self.count_max} of them"
            )
        pairs: list[tuple[int, str]] = []
        for part in value:
            number, why = part, ""
            if isinstance(part, dict):
                if set(part) != {"at", "for"}:
                    raise FieldFault(f"has {', '.join(sorted(part)) or 'nothing'} in it", example)
                number = part["at"]
                why = Text(1, self.reason_max).read(key, part["for"])
            whole = Whole(1, self.high).read(key, number) if type(number) is int else None
            if whole is None:
                _wrong_type(number, "a whole number", example)
            if pairs and whole <= pairs[-1][0]:
                raise FieldFault(
                    f"{whole} comes after {pairs[-1][0]}", "write the numbers in rising order"
                )
            pairs.append((whole, why))
        return tuple(pairs)


@dataclass(frozen=True, slots=True)
class Text:
    """Printable text. ``lines`` allows line ends and tabs too."""

    length_min: int
    length_max: int
    lines: bool = False

    @property
    def words(self) -> str:
        return f"text of at most {self.length_max} characters"

    def read(self, key: str, value: Any) -> str:
        if not isinstance(value, str):
            _wrong_type(value, "text", f'write {key} = "..." with quotes')
        if len(value.strip()) < self.length_min:
            raise FieldFault("this is empty", "write a few words between the quotes")
        if len(value) > self.length_max:
            raise FieldFault(f"these are {len(value)} characters", f"use at most {self.length_max}")
        for character in value:
            if not (character.isprintable() or (self.lines and character in "\n\r\t")):
                raise FieldFault(
                    f"this contains a character that cannot be printed (U+{ord(character):04X})",
                    "take it out",
                )
        return value


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    options: tuple[str, ...]

    @property
    def words(self) -> str:
        return " or ".join(f'"{option}"' for option in self.options)

    def read(self, key: str, value: Any) -> str:
        if not isinstance(value, str):
            _wrong_type(value, "a word", f"write {self.words}")
        if value in self.options:
            return value
        near = nearest(value.lower().replace("_", " "), self.options)
        hint = f'did you mean "{near}"? ' if near else ""
        raise FieldFault(
            f"{quantities.quoted(value)} is not known here", f"{hint}write {self.words}"
        )


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    @property
    def words(self) -> str:
        return "true or false"

    def read(self, key: str, value: Any) -> bool:
        if type(value) is not bool:
            _wrong_type(value, self.words, f"write {key} = true or {key} = false, without quotes")
        return bool(value)


@dataclass(frozen=True, slots=True)
class Field:
    """One key of a format. ``path`` is ``section.key``, or ``key`` for those before any section."""

    path: str
    kind: Kind
    means: str  # a sentence or two, for the template and the reference
    example: str  # a TOML value
    needed: bool = True
    when: str = ""  # for a field that is not always needed: when it is, or what its absence means
    in_template: bool = True  # False: the template shows it commented out
    fills: str = (
        ""  # the field of the facts that it fills as it is read; "": its reader looks at it
    )

    @property
    def section(self) -> str:
        return self.path.rpartition(".")[0]

    @property
    def key(self) -> str:
        return self.path.rpartition(".")[2]


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a format and its fields. The fields before any section have the name ``""``."""

    name: str
    means: str
    fields: tuple[Field, ...]
    needed: bool = True
