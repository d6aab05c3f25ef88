"""The link of a port, and the clock it lives by."""

from __future__ import annotations

from firmware_protocol.seam import Clock, Link
from winder.clock import HurriedClock, SystemClock
from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.links.names import PortChoice
from winder.links.reopening import ReopeningLink
from winder.links.simulated_link import HurriedLink, PacedLink
from winder.machine.model import MachineProfile
from winder.recipe.counted import CountOnly
from winder.service.bodies import bend_switch, simulated_machine
from winder.simulator.faults import Fault, WireBreak
from winder.simulator.machine import SimulatedMachine


def connect(
    choice: PortChoice,
    machine: MachineProfile,
    coil: Coil | CountOnly,
    baud: int,
    seed: int | None,
) -> tuple[Link, Clock, SimulatedMachine | None]:
    """``seed``: of the simulated machine, where the port is one."""
    if not choice.simulated:
        clock = SystemClock()
        return ReopeningLink(choice.address, clock, baud), clock, None
    faults, bobbin = _faults_of(choice, coil), coil if isinstance(coil, Coil) else None
    body = simulated_machine(machine, bobbin, seed or 1, faults=faults)
    bend_switch(body, choice)
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
