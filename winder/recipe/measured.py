"""The section of a recipe that says what was measured before its coil is begun.

Each reading is written as ``readings`` has it. Only what is true of every coil of this recipe belongs here:
a piece of the spool, an earlier coil. A reading of the coil itself is not known before the coil is begun; it is
entered at a pause of the wind, or on the command line.
"""

from __future__ import annotations

import bisect
from typing import Any

from firmware_protocol.records import dataclass
from winder.errors import Complaint, UserMistake
from winder.files.fields import Field, FieldFault, Section, type_name
from winder.files.form import Form
from winder.files.quantities import quoted
from winder.recipe.observations import EarlierCoil, Observation, SpoolTail, is_made
from winder.recipe.readings import read_reading

READINGS_MAX = 50
PATH = "known.readings"
_EXAMPLE = '["tail, 20 m, 107.8 ohm, 22 C"]'


@dataclass(frozen=True, slots=True)
class Lines:
    """A list of texts, as they stand; what each says is looked at where the lines are known."""

    count_max: int

    @property
    def words(self) -> str:
        return f"a list of at most {self.count_max} readings"

    def read(self, key: str, value: Any) -> tuple[str, ...]:
        remedy = f"write {key} = {_EXAMPLE}"
        if not isinstance(value, list):
            raise FieldFault(f"this is {type_name(value)} where a list is needed", remedy)
        if len(value) > self.count_max:
            raise FieldFault(
                f"these are {len(value)} readings", f"leave at most {self.count_max} of them"
            )
        for each in value:
            if not isinstance(each, str):
                what = f"{type_name(each)} is in the list where a reading is needed"
                raise FieldFault(what, remedy)
        return tuple(value)


KNOWN = Section(
    "known",
    "What you measured before this coil: the sheet gets more exact, and a resistance is planned by it. May be left out.",
    (
        Field(
            PATH,
            Lines(READINGS_MAX),
            "Readings of this spool (`tail`: a piece of it) and of its earlier coils on such a bobbin "
            "(`earlier, 5000 turns, 1712 ohm, 23 C`). Readings of the coil itself are entered while it is wound.",
            _EXAMPLE,
            needed=False,
            when="Left out: none.",
            in_template=False,
        ),
    ),
    needed=False,
)


def read_known(form: Form) -> tuple[Observation, ...]:
    """The readings that are good; each of the others has its complaint, on its own line if it has one."""
    texts: tuple[str, ...] = form.value(PATH) or ()
    found: list[Observation] = []
    for place, text in enumerate(texts):
        try:
            reading = _read(text)
            if reading in found:
                raise UserMistake(
                    f"{quoted(text)} is here twice",
                    remedy="keep one of them: a repeat is not a second measurement",
                )
            found.append(reading)
        except UserMistake as mistake:
            line = _line_of(form, texts, place)
            form.complaints.append(Complaint(line, PATH, mistake.what, mistake.remedy))
    return tuple(found)


def _read(text: str) -> Observation:
    reading = read_reading(text)
    if not isinstance(reading, SpoolTail | EarlierCoil):
        raise UserMistake(
            f"{quoted(text)} is a reading of the coil itself, which is not begun yet",
            remedy="take it out; enter it at a pause of the wind, or give it with --known",
        )
    if not is_made(reading):
        raise UserMistake(
            f"{quoted(text)} has no measured value",
            remedy="add the value, as in '43.1 ohm'; winder sheet --known shows what measuring it would gain",
        )
    return reading


def _line_of(form: Form, texts: tuple[str, ...], place: int) -> int:
    """The line of one text of the list, which may go over many; the list's where it is written with escapes."""
    whole = form.file.text
    first = form.file.line_of(("known", "readings"))
    line_begins = [0, *(n + 1 for n, character in enumerate(whole) if character == "\n")]
    at = line_begins[max(first, 1) - 1]
    line = first
    for text in texts[: place + 1]:
        found = [n for quote in "\"'" if (n := whole.find(f"{quote}{text}{quote}", at)) >= 0]
        line = bisect.bisect(line_begins, min(found)) if found else first
        at = min(found) + len(text) + 2 if found else at
    return line
