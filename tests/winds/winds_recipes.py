"""One wind with everything a person would press, over a line of the test's choosing."""

from __future__ import annotations

from winder.clock import NS_PER_S, HandClock
from winder.coil.winding import figure_coil
from winder.errors import WinderError
from winder.links.line import LinkFaults
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.plan.facing import Top
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget
from winder.service.bodies import simulated_machine
from winder.service.opening import Declared, Numbers, Opened, Order, Station, open_wind
from winder.shelf import Logbook
from winder.simulator.machine import SimulatedMachine
from winder.wind.model import Asked, Intent, Phase

PRESSED = {
    Phase.READY: Intent.START,
    Phase.PAUSED: Intent.CONTINUE,
    Phase.COMPLETE: Intent.LEAVE,
    Phase.LOST: Intent.LEAVE,
    Phase.UNHEARD: Intent.LEAVE,
    Phase.TRIPPED: Intent.LEAVE,
}
SET_UP = Declared(Top.OPERATOR, 12.0, "test")
MACHINE_S_MAX = 300.0


def wind_over(faults: LinkFaults, seed: int, turns: int = 60) -> tuple[Opened, SimulatedMachine]:
    """Wind until the session is finished; greeting over a bad line is tried again, as a person would."""
    coil = figure_coil(
        Recipe("test coil", "invented", AwgWire(42, "single"), RoundCore(0.01), 0.008, 0.004,
               TurnsTarget(turns), Direction.CLOCKWISE)
    )  # fmt: skip
    body, clock = simulated_machine(SIMULATED_BENCH, coil, seed), HandClock()
    link = SimulatedLink(body, clock, faults)
    with Logbook.in_memory() as book:
        opened = _opened(link, clock, coil, book, seed, body)
        wind = opened.wind
        phase_since_ns, phase = clock.now_ns(), None
        while not wind.session.finished:
            if wind.session.phase is not phase or clock.now_ns() - phase_since_ns > NS_PER_S:
                phase, phase_since_ns = wind.session.phase, clock.now_ns()
                if phase in PRESSED:
                    wind.ask(Asked(PRESSED[phase]))
            wind.step()
            assert clock.now_ns() < MACHINE_S_MAX * NS_PER_S, f"stands in {phase}"
        wind.close()
    return opened, body


def _opened(link, clock, coil, book, seed, body) -> Opened:
    for attempt in range(5):
        try:
            return open_wind(
                Station(link, clock, "test", seed, body),
                Order(coil, SIMULATED_BENCH, declared=SET_UP, cautions_accepted=True),
                book, Numbers.from_seed(seed * 7 + attempt),
            )  # fmt: skip
        except WinderError:
            if attempt == 4:
                raise
    raise AssertionError
