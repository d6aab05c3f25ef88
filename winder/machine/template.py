"""A machine file to begin with."""

from __future__ import annotations

from dataclasses import replace

from winder.files.form import template_text, toml_string
from winder.machine.format import SECTIONS

_NEW = (
    "A machine: what winds. The values are the simulated bench's: measure your own and put them in "
    "place of these; take the # away from a line to use it. Keep clear of what turns while you "
    "measure. Look at the result with: winder bench check FILE"
)


# What a file needs not say: of a drill nothing that only a motor has, of a motor nothing of the guide.
_LEFT_OUT = {
    "drill": (
        *("sensor.edge_rate_max", "spindle.speed_max", "spindle.acceleration", "spindle.coasting"),
        *("spindle.braking", "spindle.gear", "spindle.motor_speed_max", "traverse.travel"),
        *("traverse.steps_per_mm", "feed.free_length", "feed.tensioner_mass"),
    ),
    "motor": ("traverse.travel", "traverse.steps_per_mm"),
    "guide": (),
}
KINDS = tuple(_LEFT_OUT)


def new_profile_text(name: str, kind: str = "guide") -> str:
    """A commented machine file called ``name``, valid as it stands, with every field that this kind of machine has."""
    values = {"name": toml_string(name, "my bench")}
    if kind == "drill":
        values |= {"spindle.motor": "false", "sensor.counts_per_turn": "1"}
        values["sensor.senses_direction"] = "false"
    sections = [
        replace(section, fields=tuple(f for f in section.fields if f.path not in _LEFT_OUT[kind]))
        for section in SECTIONS
    ]
    return template_text([s for s in sections if s.fields], _NEW, values)
