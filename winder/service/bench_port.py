"""A board at a port, for the verbs that look at the machine and wind nothing.

``sim`` is the simulated bench, in virtual time: nobody sits before it. A serial port that stays silent at the
usual speed is tried at the slower one too, with a hello each, as the specification has it.
"""

from __future__ import annotations

from collections.abc import Callable

from firmware_protocol.connection import HostEnd
from firmware_protocol.records import dataclass
from firmware_protocol.seam import Clock, Link
from winder.clock import HandClock, SystemClock
from winder.errors import WinderError
from winder.links.names import PortChoice, parse_port
from winder.links.serial_link import BAUD, BAUD_FALLBACK, open_serial
from winder.links.simulated_link import SimulatedLink
from winder.service.bodies import bend_switch, simulated_machine
from winder.service.given_files import read_profile
from winder.service.greeting import greet
from winder.simulator.machine import SimulatedMachine


@dataclass(frozen=True, slots=True)
class BenchPort:
    """An open link. ``again`` closes nothing and opens the same port anew, as if it was plugged in again."""

    link: Link
    clock: Clock
    again: Callable[[], Link]
    simulated: SimulatedMachine | None = None


def draw_token() -> int:
    """For a session; random, 1 to 2**32 - 1."""
    import secrets

    return secrets.randbelow(0xFFFF_FFFF) + 1


def open_bench_port(
    port: str, machine_path: str | None = None, baud: int | None = None
) -> BenchPort:
    """Raises ``UserMistake`` or ``WinderError`` with the port as ``where``. ``machine_path``: of ``sim`` alone."""
    choice = parse_port(port)
    if choice.simulated:
        return _simulated(machine_path, choice)
    clock = SystemClock()
    speed = baud or _speed_of(choice.address, clock)
    return BenchPort(
        open_serial(choice.address, speed), clock, lambda: open_serial(choice.address, speed)
    )


def _simulated(machine_path: str | None, choice: PortChoice) -> BenchPort:
    machine = simulated_machine(read_profile(machine_path), None, choice.seed or 1)
    bend_switch(machine, choice)
    clock = HandClock()

    def plugged_in() -> Link:
        machine.reset()
        return SimulatedLink(machine, clock)

    return BenchPort(SimulatedLink(machine, clock), clock, plugged_in, machine)


def _speed_of(address: str, clock: Clock) -> int:
    """The speed at which a board answers here; the usual one where none does."""
    for speed in (BAUD, BAUD_FALLBACK):
        link = open_serial(address, speed)
        try:
            greet(link, clock, HostEnd(draw_token()), address)
        except WinderError:
            continue
        finally:
            link.close()
        return speed
    return BAUD
