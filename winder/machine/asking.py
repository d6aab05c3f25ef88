"""Facts of the bench that are asked for once, where they are first needed, and kept in the machine file.

Each question has a default that is taken as it stands when nobody knows better. ``missing`` says what has still to be asked for a
purpose; ``answered`` puts an answer into the text of a machine file and leaves every other line, and every
comment, as it was.
"""

from __future__ import annotations

import enum

from firmware_protocol.records import dataclass
from winder.errors import FileComplaints
from winder.files.form import Form
from winder.files.rewriting import with_value
from winder.files.tomlfile import TomlFile, read_toml_text
from winder.machine.format import SECTIONS
from winder.machine.model import MachineProfile
from winder.machine.reader import read_machine_text
from winder.machine.tensioner import TENSIONERS


class Purpose(enum.Enum):
    """What a fact of the bench is needed for."""

    WINDING = "winding"  # the first use of a machine
    OHMS = "ohms"  # the first reading of an ohmmeter
    CALIPER = "caliper"  # the first reading of a caliper


@dataclass(frozen=True, slots=True)
class Question:
    """One fact. ``default`` and ``choices`` are TOML values, ready to be written."""

    path: str  # of the field in the machine file
    words: str
    default: str
    purpose: Purpose
    choices: tuple[str, ...] = ()


QUESTIONS = (
    Question(
        "feed.tensioner",
        "What puts tension on the wire?",
        f'"{TENSIONERS[0]}"',
        Purpose.WINDING,
        tuple(f'"{kind}"' for kind in TENSIONERS),
    ),
    Question(
        "instruments.meter_counts",
        "How many counts does your ohmmeter have?",
        "2000",
        Purpose.OHMS,
        ("2000", "4000", "6000", "20000"),
    ),
    Question(
        "instruments.meter_accuracy",
        "How accurate is it on ohms, by its manual?",
        '"0.8 %"',
        Purpose.OHMS,
        ('"0.5 %"', '"0.8 %"', '"1.0 %"', '"1.2 %"'),
    ),
    Question(
        "instruments.meter_digits",
        "And how many digits does the manual add?",
        "3",
        Purpose.OHMS,
        ("1", "2", "3", "5"),
    ),
    Question(
        "instruments.leads",
        "Hold the test leads together: what does it show?",
        '"0.2 ohm"',
        Purpose.OHMS,
    ),
    Question(
        "instruments.thermometer",
        "How far off can your thermometer be?",
        '"2 K"',
        Purpose.OHMS,
        ('"1 K"', '"2 K"', '"3 K"'),
    ),
    Question(
        "instruments.caliper",
        "How far off can your caliper be on a winding?",
        '"0.05 mm"',
        Purpose.CALIPER,
    ),
)


def missing(machine: MachineProfile, purpose: Purpose) -> tuple[Question, ...]:
    """What the machine's file does not say yet and this purpose needs, in the order to ask."""
    return tuple(
        question
        for question in QUESTIONS
        if question.purpose is purpose and question.path not in machine.told
    )


def objection(path: str, value: str) -> str:
    """Why a TOML value is no answer for this field; "" if it is one."""
    section, _, key = path.rpartition(".")
    if "\n" in value or not value.strip():
        return "nothing is written there: write one value"
    try:
        file = read_toml_text(f"[{section}]\n{key} = {value}\n", "answer")
    except FileComplaints as wrong:
        return "; ".join(f"{each.what}: {each.remedy}" for each in wrong.complaints)
    form = Form(TomlFile("answer", "", file.values), SECTIONS)
    form.complaints.clear()  # of all that a whole machine needs besides
    form.value(path)
    return "; ".join(f"{each.what}: {each.remedy}" for each in form.complaints)


def answered(text: str, path: str, value: str, name: str = "machine file") -> str:
    """The machine file's text with this field set to a TOML value.

    Raises ``FileComplaints`` where the file would not read with it, else as ``with_value``.
    """
    changed = with_value(text, path, value)
    read_machine_text(changed, name)
    return changed
