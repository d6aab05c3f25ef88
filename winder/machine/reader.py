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
    name = form.value("name")
    counts = form.value("sensor.counts_per_turn")
    direction_sense = form.value("sensor.senses_direction")
    motor = form.value("spindle.motor") if form.given("spindle.motor") else True
    speed_rpm_max = form.value("spindle.speed_max")
    coasting = form.value("spindle.coasting")
    acceleration = form.value("spindle.acceleration")
    if motor:
        for needed in ("spindle.speed_max", "spindle.acceleration", "spindle.coasting"):
            if not form.given(needed):
                form.miss(needed, "a motor needs this")
    else:  # nothing rests on these where nobody stops the spindle but a person
        speed_rpm_max = speed_rpm_max or HAND_RPM_MAX
        coasting = coasting or HAND_COASTING_RPM_S
    braking = form.value("spindle.braking")
    if braking is not None and coasting is not None and braking < coasting:
        form.complain(
            "spindle.braking",
            f"{show_acceleration(braking)} with the brake on is less than "
            f"{show_acceleration(coasting)} without",
            "measure both again; swap them if they are the wrong way round",
        )
    travel_m = form.value("traverse.travel")
    plus = form.value("spindle.plus")
    more = _more(form)
    form.finish()
    return MachineProfile(
        name=name,
        counts_per_turn=counts,
        direction_sense=direction_sense,
        speed_rpm_max=speed_rpm_max,
        # Without a motor nothing speeds the spindle up on our account: only friction slows it.
        acceleration_rpm_s=coasting if acceleration is None else acceleration,
        coasting_rpm_s=coasting,
        braking_rpm_s=braking,
        motor=bool(motor),
        traverse_travel_m=travel_m,
        plus_clockwise=plus != "counter-clockwise",
        **more,
    )


# What may be left out without loss to the count: field of the file, field of the profile.
_MORE = {
    "sensor.edge_rate_max": "edge_rate_max_cps",
    "spindle.gear": "gear",
    "spindle.motor_speed_max": "motor_rpm_max",
    "traverse.steps_per_mm": "steps_per_mm",
    "feed.free_length": "free_length_m",
    "feed.tensioner_mass": "tensioner_kg",
}


def _more(form: Form) -> dict[str, Any]:
    """The values that are there, by the profile's names; the rest keeps the profile's defaults."""
    found = {name: form.value(path) for path, name in _MORE.items()}
    return {name: float(value) for name, value in found.items() if value is not None}
