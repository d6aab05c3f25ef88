"""What was learned, as a machine file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from winder.files.form import toml_string
from winder.machine.model import MachineProfile
from winder.machine.reader import read_machine_text

SAFE_SHARE = 0.8  # of the acceleration that was seen: a bobbin makes it less


@dataclass(slots=True)
class Learned:
    """``None``: not there, or not found; the file then leaves it out."""

    name: str
    counts_per_turn: int = 0
    senses_direction: bool = False
    motor: bool = False
    pedal: bool = False
    limit_switch: bool = False
    plus_clockwise: bool = True
    speed_rpm_max: float | None = None
    acceleration_rpm_s: float | None = None
    coasting_rpm_s: float | None = None
    braking_rpm_s: float | None = None
    steady_rpm: float | None = None
    travel_mm: float | None = None


def machine_text(learned: Learned, port: str, board: str) -> str:
    """A machine file with what was learned and nothing else."""
    yes = {True: "true", False: "false"}
    lines = [
        f"# Taught at the board '{board}' on {port}. Look at it with: winder bench check FILE",
        f"name = {toml_string(learned.name, 'my machine')}",
        "",
        "[sensor]",
        f"counts_per_turn = {learned.counts_per_turn}",
        f"senses_direction = {yes[learned.senses_direction]}",
        "",
        "[spindle]",
        f"motor = {yes[learned.motor]}",
    ]
    if learned.pedal:
        lines.append("pedal = true")
    for key, value, unit in (
        ("speed_max", learned.speed_rpm_max, "rpm"),
        ("acceleration", learned.acceleration_rpm_s, "rpm/s"),
        ("coasting", learned.coasting_rpm_s, "rpm/s"),
        ("braking", learned.braking_rpm_s, "rpm/s"),
    ):
        if value is not None:
            lines.append(f'{key} = "{value:.0f} {unit}"')
    if learned.steady_rpm is not None:
        lines.append(f'steady_speed = "{learned.steady_rpm:g} rpm"')
    if not learned.plus_clockwise:
        lines.append('plus = "counter-clockwise"')
    if learned.travel_mm is not None:
        lines += ["", "[traverse]", f'travel = "{learned.travel_mm:.1f} mm"']
        if learned.limit_switch:
            lines.append("limit_switch = true")
    return "\n".join(lines) + "\n"


def checked(text: str, file: Path) -> MachineProfile:
    """The file as every command will read it. Raises ``FileComplaints``: then it is not written."""
    return read_machine_text(text, str(file))
