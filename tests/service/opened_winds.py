"""Winds opened on a link of the test's choosing, as the service opens them."""

from __future__ import annotations

from firmware_protocol.seam import Clock, Link
from winder.coil.model import Coil
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.plan.facing import Top
from winder.service.going_on import GoesOn
from winder.service.opening import Declared, Numbers, Opened, Order, Station, open_wind
from winder.shelf import Logbook
from winder.simulator.machine import SimulatedMachine

SET_UP = Declared(Top.OPERATOR, 12.0, "test")  # all of the list is done


def open_on(
    link: Link,
    clock: Clock,
    coil: Coil,
    book: Logbook,
    *,
    machine: MachineProfile = SIMULATED_BENCH,
    number: int = 1,
    seed: int | None = None,
    simulated: SimulatedMachine | None = None,
    goes_on: GoesOn | None = None,
    declared: Declared = SET_UP,
    **order: bool,
) -> Opened:
    """A wind that waits for its start, cautions read and the list done; ``number`` draws wind number and token."""
    at = Station(link, clock, "test", seed, simulated)
    wanted = Order(
        coil, machine, goes_on=goes_on, declared=declared, cautions_accepted=True, **order
    )
    return open_wind(at, wanted, book, Numbers.from_seed(number))
