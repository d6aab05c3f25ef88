"""A machine file to begin with."""

from __future__ import annotations

from dataclasses import replace

from winder.files.form import template_text, toml_string
from winder.machine.format import SECTIONS

_NEW = (
    "A machine: what winds. The values are the simulated bench's: measure your own and put them in. Take the # away from a line to use it. Keep clear of what turns while you "
    "measure. Look at the result with: winder bench check FILE"
)


# Of a drill what nobody can do without; of a motor nothing of the guide.
_DRILL = ("name", "sensor.counts_per_turn", "sensor.senses_direction", "spindle.motor")
_GUIDE_ONLY = (
    "traverse.travel",
    "traverse.steps_per_mm",
    "traverse.limit_switch",
    "traverse.switch_to_flange",
)
KINDS = ("drill", "motor", "guide")


def new_profile_text(name: str, kind: str = "guide") -> str:
    """A commented machine file called ``name``, valid as it stands, with every field that this kind of machine has."""
    values = {"name": toml_string(name, "my bench")}
    if kind == "drill":
        values |= {"spindle.motor": "false", "sensor.counts_per_turn": "1"}
        values["sensor.senses_direction"] = "false"
    sections = [
        replace(section, fields=tuple(f for f in section.fields if _has(kind, f.path)))
        for section in SECTIONS
    ]
    return template_text([s for s in sections if s.fields], _NEW, values)


def _has(kind: str, path: str) -> bool:
    if kind == "drill":
        return path in _DRILL
    return kind == "guide" or path not in _GUIDE_ONLY
