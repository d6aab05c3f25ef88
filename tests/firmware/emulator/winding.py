"""A wind of the real host program on an emulated board, in virtual time.

The service's own opening, session, journal and host end; only the link is the emulated chip's. A test
says what a person does, and may let the operator's screen hang, the cable break, or the board be reset.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from firmware_protocol.messages import Status
from winder.clock import NS_PER_S, HandClock
from winder.coil.model import Coil
from winder.coil.winding import figure_coil
from winder.links.simulated_link import LinkFaults, SimulatedLink
from winder.plan.facing import Top
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget
from winder.service.going_on import GoesOn
from winder.service.opening import Declared, Numbers, Opened, Order, Station, end_run, open_wind
from winder.service.wind import Wind
from winder.shelf.logbook import Logbook
from winder.wind.model import Asked, Intent, Phase, Value

from .board import EmulatedBoard


def coil_of(
    turns: int, *, pauses: tuple[int, ...] = (), direction: Direction = Direction.CLOCKWISE
) -> Coil:
    """A round sensor coil of a few turns; invented."""
    return figure_coil(
        Recipe(
            name="sensor coil",
            note="invented",
            wire=AwgWire(42, "single"),
            core=RoundCore(0.010),
            width_m=0.008,
            height_m=0.004,
            target=TurnsTarget(turns),
            direction=direction,
            pause_at_turns=pauses,
        )
    )


SET_UP = Declared(Top.CHUCK, 12.0, "test")  # so that a clockwise coil turns forward


class EmulatedWind:
    """A wind that waits for its start on an emulated board."""

    def __init__(
        self,
        board: EmulatedBoard,
        coil: Coil,
        faults: LinkFaults | None = None,
        seed: int = 1,
        logbook: Logbook | None = None,
        goes_on: GoesOn | None = None,
        *,
        close_unknown: bool = False,
    ) -> None:
        self.board = board
        self.clock = HandClock(board.now_ns)
        self.link = SimulatedLink(board, self.clock, faults)
        self.logbook = logbook or Logbook.in_memory()
        self.opened: Opened = open_wind(
            Station(self.link, self.clock, "emulated", seed),
            Order(
                coil,
                board.bench.profile,
                goes_on=goes_on,
                declared=SET_UP,
                cautions_accepted=True,
                close_unknown=close_unknown,
            ),
            self.logbook,
            Numbers.from_seed(seed),
        )
        self.wind: Wind = self.opened.wind

    @property
    def phase(self) -> Phase:
        return self.wind.session.phase

    @property
    def status(self) -> Status:
        status = self.wind.host_end.newest_status
        assert status is not None
        return status

    @property
    def target_counts(self) -> int:
        return self.opened.plan.target_counts

    def ask(self, intent: Intent, value: Value = None) -> None:
        self.wind.ask(Asked(intent, value, by="test"))
        assert not self.wind.refusals, self.wind.refusals

    def until(self, holds: Callable[[], bool], within_s: float, *, alive: bool = True) -> None:
        """Live on until something holds; what does not come within so much machine time has failed."""
        end_ns = self.clock.now_ns() + round(within_s * NS_PER_S)
        while not holds():
            assert self.clock.now_ns() < end_ns, (
                f"not within {within_s} s; phase {self.phase}, {self.status if self._heard() else ''}"
            )
            self.wind.step(alive=alive)

    def _heard(self) -> bool:
        return self.wind.host_end.newest_status is not None

    def until_phase(self, *phases: Phase, within_s: float, alive: bool = True) -> None:
        self.until(lambda: self.phase in phases, within_s, alive=alive)

    def live(self, seconds: float, *, alive: bool = True) -> None:
        end_ns = self.clock.now_ns() + round(seconds * NS_PER_S)
        while self.clock.now_ns() < end_ns:
            self.wind.step(alive=alive)

    def start(self) -> None:
        self.until_phase(Phase.READY, within_s=5)
        self.ask(Intent.START)
        self.until_phase(Phase.WINDING, within_s=2)

    def to_the_end(self, within_s: float = 60) -> None:
        """Continue at every planned pause until the coil is complete."""
        while self.phase is not Phase.COMPLETE:
            self.until_phase(Phase.PAUSED, Phase.COMPLETE, within_s=within_s)
            if self.phase is Phase.PAUSED:
                self.ask(Intent.CONTINUE)
                self.until_phase(Phase.WINDING, within_s=2)

    def end(self) -> None:
        with suppress(Exception):
            end_run(self.opened, self.logbook)
        self.wind.close()
