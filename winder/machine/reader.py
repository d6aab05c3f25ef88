"""From a machine file to a ``MachineProfile``, or to everything that is wrong with it at once.

A profile is believed: the bounds of the count after a loss rest on the coasting it states, and the
exactness of every count on a whole number of counts for each turn. So what these rest on has no
silent default but a motor's being there; what only makes the lay or a limit better may be left out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from winder.files.form import Form
from winder.files.quantities import show_acceleration
from winder.files.tomlfile import TomlFile, read_toml, read_toml_text
from winder.machine.format import SECTIONS
from winder.machine.instruments import Instruments
from winder.machine.model import MachineProfile

HAND_RPM_MAX = 1000.0  # of a drill or a treadle; common practice, no source
HAND_COASTING_RPM_S = 60.0


def read_machine(path: Path | str) -> MachineProfile:
    """Reads a machine file.

    Raises ``FileComplaints`` with all that is wrong in it, or another ``UserMistake`` when the file
    cannot be read.
    """
    return _machine(read_toml(path))


def read_machine_text(text: str, name: str) -> MachineProfile:
    """Reads a machine from text kept elsewhere; ``name`` is what messages call it."""
    return _machine(read_toml_text(text, name))


def _machine(file: TomlFile) -> MachineProfile:
    form = Form(file, SECTIONS)
    facts: dict[str, Any] = {}
    for section in SECTIONS[:-1]:
        facts |= form.filled(section.name)
    instruments = form.filled("instruments")
    motor, coasting = facts.get("motor", True), facts.get("coasting_rpm_s")
    if motor:
        for needed in ("spindle.speed_max", "spindle.acceleration", "spindle.coasting"):
            if not form.given(needed):
                form.miss(needed, "a motor needs this")
    else:  # nothing rests on these where nobody stops the spindle but a person
        facts["speed_rpm_max"] = facts.get("speed_rpm_max") or HAND_RPM_MAX
        coasting = facts["coasting_rpm_s"] = coasting or HAND_COASTING_RPM_S
    braking = facts.setdefault("braking_rpm_s", None)
    if braking is not None and coasting is not None and braking < coasting:
        form.complain(
            "spindle.braking",
            f"{show_acceleration(braking)} with the brake on is less than "
            f"{show_acceleration(coasting)} without",
            "measure both again; swap them if they are the wrong way round",
        )
    plus = form.value("spindle.plus")
    form.finish()
    # Without a motor nothing speeds the spindle up on our account: only friction slows it.
    facts.setdefault("acceleration_rpm_s", coasting)
    return MachineProfile(
        **facts,
        plus_clockwise=plus != "counter-clockwise",
        instruments=Instruments(**instruments),
        told=tuple(path for path in form.fields if form.given(path)),
    )
