"""What the form asks for, and how what is typed gets into the recipe's text.

A recipe is asked for by kinds: a wire by its gauge, its diameter or as measured; a core of one of four shapes; a
target of one of five. Changing the kind turns the keys of the other into comments and brings back what was
typed there before. A number without a unit gets the unit that stands beside the field.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from firmware_protocol.records import dataclass
from winder.files.rewriting import with_value, without
from winder.files.tomlfile import read_toml_text
from winder.recipe.format import SECTIONS

EXAMPLES = {field.path: field.example for section in SECTIONS for field in section.fields}


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the form. ``options`` are words to choose from; without, something is typed.

    ``unit`` is added to a bare number; "" where none belongs. ``part`` is what the drawing marks.
    """

    path: str
    label: str
    hint: str
    unit: str = ""
    options: tuple[str, ...] = ()
    needed: bool = True
    whole: bool = False  # a number of TOML, not a text
    part: str = ""


NAME = Entry("name", "name", "What you call this coil.")
WIRE_KIND = Entry(
    "wire", "wire known by", "What the spool's label says, or what you measured.",
    options=("gauge", "diameter", "measuring"),
)  # fmt: skip
SHAPE = Entry(
    "bobbin.shape", "core", "The core's cross-section, where the wire will lie.",
    options=("obround", "round", "rounded rectangle", "custom"),
)  # fmt: skip
TARGET_KIND = Entry(
    "target", "wind until", "When the coil is finished.",
    options=("turns", "resistance", "build", "wire_length", "inductance"),
)  # fmt: skip
DIRECTION = Entry(
    "winding.direction", "direction", "From start to finish, seen from the top of the coil.",
    options=("clockwise", "counter-clockwise"),
)  # fmt: skip
_LENGTH = "mm"
_BY_KIND: dict[str, dict[str, tuple[Entry, ...]]] = {
    "wire": {
        "gauge": (
            Entry("wire.gauge", "gauge", "American wire gauge, from the label.", "AWG"),
            Entry("wire.film", "enamel", "How thick it is: single or heavy build.",
                  options=("single", "heavy")),
        ),
        "diameter": (
            Entry("wire.diameter", "bare diameter", "Of the copper, a size of IEC 60317-0-1.", _LENGTH),
            Entry("wire.grade", "enamel grade", "1 is thin, 2 is thick.", options=("1", "2"), whole=True),
        ),
        "measuring": (
            Entry("wire.bare", "bare, measured", "The copper alone, its enamel taken off.", _LENGTH),
            Entry("wire.overall", "over enamel", "Wire and enamel together.", _LENGTH),
        ),
    },
    "bobbin.shape": {
        "obround": (
            Entry("bobbin.length", "core length", "The longer side of the core.", _LENGTH, part="length"),
            Entry("bobbin.thickness", "core thickness", "The shorter side of the core.", _LENGTH,
                  part="thickness"),
        ),
        "round": (
            Entry("bobbin.diameter", "core diameter", "Of the round core.", _LENGTH, part="length"),
        ),
        "rounded rectangle": (
            Entry("bobbin.length", "core length", "The longer side of the core.", _LENGTH, part="length"),
            Entry("bobbin.thickness", "core thickness", "The shorter side of the core.", _LENGTH,
                  part="thickness"),
            Entry("bobbin.corner_radius", "corner radius", "At most half the thickness.", _LENGTH,
                  part="corner"),
        ),
        "custom": (
            Entry("bobbin.perimeter", "once around", "A strip of paper laid round the core.", _LENGTH,
                  part="length"),
            Entry("bobbin.area", "area", "Of the core's cross-section.", "mm2", part="thickness"),
        ),
    },
    "target": {
        "turns": (Entry("target.turns", "turns", "How many.", whole=True),),
        "resistance": (
            Entry("target.resistance", "resistance", "Between the leads, at 20 C.", "ohm"),
        ),
        "build": (Entry("target.build", "build", "Full to this height above the core.", _LENGTH),),
        "wire_length": (Entry("target.wire_length", "wire", "Leads included.", "m"),),
        "inductance": (Entry("target.inductance", "inductance", "With only air inside.", "H"),),
    },
}  # fmt: skip
_BOBBIN = (
    Entry("bobbin.width", "width", "Between the flanges, at the core.", _LENGTH, part="width"),
    Entry("bobbin.flange_height", "flange height", "From the core to the rim.", _LENGTH, part="height"),
    Entry("bobbin.margin", "margin", "Left free of wire at each flange.", _LENGTH, needed=False,
          part="margin"),
)  # fmt: skip
_LAST = (
    DIRECTION,
    Entry("winding.speed", "speed, at most", "Empty: as fast as machine and wire allow.", "rpm",
          needed=False),
    Entry("winding.lead_outs", "leads", "Wire left free at both ends together.", "m", needed=False),
)  # fmt: skip
# Keys that go with one kind only and have no line of their own here.
_GO_WITH = {"gauge": ("wire.sizing",), "resistance": ("target.wind_long",)}


class Draft:
    """The text of a recipe while it is filled in. ``text`` is always TOML."""

    def __init__(self, text: str) -> None:
        """Raises ``FileComplaints`` where the text is not TOML."""
        read_toml_text(text, "recipe")
        self._typed: dict[str, str] = {}  # what stood in fields of other kinds
        self.text = text

    def entries(self) -> tuple[Entry, ...]:
        """The lines of the form for the kinds chosen now."""
        lines: list[Entry] = [NAME]
        for kind in (WIRE_KIND, SHAPE):
            lines += [kind, *_BY_KIND[kind.path][self.shown(kind)]]
        lines += [*_BOBBIN, TARGET_KIND, *_BY_KIND["target"][self.shown(TARGET_KIND)], *_LAST]
        return tuple(lines)

    def shown(self, entry: Entry) -> str:
        """What the form shows for an entry: the text typed, the word chosen; "" where the file says nothing."""
        if entry.path in ("wire", "target"):
            return self._kind(entry)
        value = self._value(entry.path)
        if entry is SHAPE and value not in SHAPE.options:
            return SHAPE.options[0]
        return "" if value is None else str(value)

    def change(self, entry: Entry, typed: str) -> None:
        """Put into the text what was typed or chosen. ``UserMistake`` where the file does not let it."""
        typed = typed.strip()
        if entry.path in _BY_KIND:
            self._choose(entry, typed)
        elif not typed:
            self.text = without(self.text, entry.path)
        else:
            self.text = with_value(self.text, entry.path, _toml(entry, typed))

    def _choose(self, kind: Entry, chosen: str) -> None:
        """Another kind: its keys come in, those of the others become comments."""
        text, kinds = self.text, _BY_KIND[kind.path]
        mine = {entry.path for entry in kinds[chosen]}
        for other, entries in kinds.items():
            for path in (*(entry.path for entry in entries), *_GO_WITH.get(other, ())):
                value = self._value(path)
                if path not in mine and path not in _GO_WITH.get(chosen, ()) and value is not None:
                    self._typed[path] = _as_toml(value)
                    text = without(text, path)
        if kind is SHAPE:
            text = with_value(text, SHAPE.path, _as_toml(chosen))
        for entry in kinds[chosen]:
            if self._value(entry.path) is None:
                text = with_value(
                    text, entry.path, self._typed.get(entry.path, EXAMPLES[entry.path])
                )
        self.text = text

    def _kind(self, entry: Entry) -> str:
        """By the keys that are there; the first where none is."""
        for name, entries in _BY_KIND[entry.path].items():
            if any(self._value(each.path) is not None for each in entries):
                return name
        return entry.options[0]

    def _value(self, path: str) -> Any:
        section, _, key = path.rpartition(".")
        values = self._values()
        table = values.get(section) if section else values
        return table.get(key) if isinstance(table, dict) else None

    def _values(self) -> dict[str, Any]:
        return tomllib.loads(self.text)


def _toml(entry: Entry, typed: str) -> str:
    """As it stands in the file: a unit added to a bare number, a whole number bare, all else in quotes."""
    if entry.whole and re.fullmatch(r"[0-9]{1,9}", typed):
        return str(int(typed))
    if entry.unit and re.fullmatch(r"[0-9]*[.,]?[0-9]+", typed):
        typed = f"{typed} {entry.unit}"
    return _as_toml(typed)


def _as_toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return str(value)
    plain = "".join(sign for sign in str(value) if sign.isprintable())
    plain = plain.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'
