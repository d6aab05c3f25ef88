"""What a wind is opened from: the coil of a recipe file, a machine file, and the link of a port."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from firmware_protocol.seam import Clock, Link
from winder.clock import HurriedClock, SystemClock
from winder.coil.known import coil_of, with_readings
from winder.coil.model import Coil
from winder.errors import Complaint, FileComplaints, UserMistake, WinderError
from winder.files.tomlfile import read_toml_text
from winder.links.names import PortChoice
from winder.links.reopening import ReopeningLink
from winder.links.simulated_link import HurriedLink, PacedLink
from winder.machine.model import MachineProfile
from winder.machine.reader import read_machine
from winder.recipe.counted import CountOnly
from winder.recipe.observations import Observation
from winder.recipe.reader import read_recipe
from winder.service.bodies import simulated_bench, simulated_machine
from winder.simulator.faults import Fault, WireBreak
from winder.simulator.machine import SimulatedMachine


def read_coil(
    recipe_path: str | Path,
    readings: Sequence[Observation] = (),
    machine: MachineProfile | None = None,
) -> Coil:
    """The coil a recipe file gives on this machine, by its readings and by these, which become part of it.

    Raises ``UserMistake`` for whatever is wrong with it, also where a reading of its own cannot be, and
    ``WinderError`` where one of ``readings`` cannot.
    """
    recipe = read_recipe(Path(recipe_path))
    try:
        coil = coil_of(recipe, machine)
    except UserMistake:
        raise
    except WinderError as wrong:  # a reading, which stands in the file
        line = read_toml_text(recipe.text, str(recipe_path)).line_of(tuple(wrong.where.split(".")))
        complaint = Complaint(line, wrong.where, wrong.what, wrong.remedy)
        raise FileComplaints(str(recipe_path), [complaint]) from None
    return with_readings(coil, readings)


def read_profile(machine_path: str | None) -> MachineProfile:
    return simulated_bench() if machine_path is None else read_machine(Path(machine_path))


def connect(
    choice: PortChoice,
    machine: MachineProfile,
    coil: Coil | CountOnly,
    baud: int,
    seed: int | None,
) -> tuple[Link, Clock, SimulatedMachine | None]:
    """The link of a port and the clock it lives by."""
    if not choice.simulated:
        clock = SystemClock()
        return ReopeningLink(choice.address, clock, baud), clock, None
    faults, bobbin = _faults_of(choice, coil), coil if isinstance(coil, Coil) else None
    body = simulated_machine(machine, bobbin, seed or 1, faults=faults)
    if choice.pace > 1:
        hurried = HurriedClock(choice.pace)
        return HurriedLink(body, hurried), hurried, body
    paced = SystemClock(choice.pace)
    return PacedLink(body, paced), paced, body


def _faults_of(choice: PortChoice, coil: Coil | CountOnly) -> tuple[Fault, ...]:
    """What shall go wrong on the simulated bench."""
    if choice.break_turn is None:
        return ()
    if choice.break_turn >= coil.turns:
        raise UserMistake(
            f"the wire cannot break at turn {choice.break_turn:g}: the coil ends at {coil.turns}",
            where=choice.address,
            remedy="name a turn before the end",
        )
    return (WireBreak(choice.break_turn),)
