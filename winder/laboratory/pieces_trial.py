"""One coil wound in pieces on a simulated machine, beside the same coil wound in one go: is the lay as even?

Every piece is a wind of its own. In between turns come off uncounted, once the wire breaks, the program is left, and the
board is reset and forgets where its guide stands. The person touches the left flange again, steps the guide to where the
wire truly is, as exactly as an eye does, and says so; whatever else the program knows, it knows from its record.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from winder.clock import NS_PER_S, HandClock
from winder.coil.model import Coil
from winder.errors import WinderError
from winder.laboratory.lay_trial import figures_of
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import MachineProfile
from winder.plan.facing import Top
from winder.service.bodies import simulated_machine
from winder.service.going_on import GoesOn
from winder.service.opening import Declared, Numbers, Opened, Order, Station, end_run, open_wind
from winder.shelf import Logbook
from winder.simulator.eye import Eye
from winder.simulator.faults import WireBreak
from winder.simulator.machine import SimulatedMachine
from winder.wind.model import Asked, Intent, Item, Phase, TurnsOff, Value

REPORT = "this is a fault of the program; please report it with the seed"
PIECES = 5
EYE_WIRES = 1.0  # how far off the guide is put to the wire, wires: our judgement, no source
TURNS_OFF = 7.0
LOOSE_TURNS = 2.0  # taken off after the break
BROKEN_PIECE = 2
MORE_TURNS = 12  # wound after the pause, before the program is left
WIND_S_MAX = 1800.0  # of machine time


def pieces_trial(coil: Coil, machine: MachineProfile, seed: int) -> dict[str, Any]:
    """Figures of the lay of both. ``WinderError`` where a wind does not end."""
    whole = _wound(coil, machine, seed, ())
    stops = tuple(round(coil.turns * piece / PIECES) for piece in range(1, PIECES))
    pieces = _wound(coil, machine, seed, stops)
    return {
        "recipe": coil.recipe.name,
        "turns": coil.turns,
        "free_length_m": machine.free_length_m,
        "seed": seed,
        "stops": stops,
        "lays": [
            {"lay": "in one go", **figures_of(whole.lay)},
            {"lay": f"in {PIECES} pieces", **figures_of(pieces.lay)},
        ],
    }


def _wound(
    coil: Coil, machine: MachineProfile, seed: int, stops: tuple[int, ...]
) -> SimulatedMachine:
    breaks = (WireBreak(float(stops[BROKEN_PIECE - 1])),) if stops else ()
    body = simulated_machine(machine, coil, seed, faults=breaks)
    clock, eye = HandClock(), Eye(seed, EYE_WIRES * coil.wire.overall_m * 1e3)
    with Logbook.in_memory() as book:
        coil_id = None
        for number, stop in enumerate((*stops, None), start=1):
            wish = None if coil_id is None else GoesOn(str(coil_id))
            at = Station(SimulatedLink(body, clock), clock, "sim", seed, body)
            order = Order(coil, machine, wish, Declared(Top.OPERATOR, 12.0), cautions_accepted=True)
            opened = open_wind(at, order, book, Numbers.from_seed(seed * 100 + number))
            piece = _Piece(opened, body, eye)
            piece.set_up(goes_on=wish is not None)
            piece.wind(stop, number)
            end_run(opened, book)
            coil_id = opened.coil_id
    return body


class _Piece:
    """One wind, with the person at it."""

    def __init__(self, opened: Opened, body: SimulatedMachine, eye: Eye) -> None:
        self._wind, self._body, self._eye = opened.wind, body, eye

    def set_up(self, *, goes_on: bool) -> None:
        self._until(Phase.SETTING_UP)
        self._step(0.3)
        self._ask(Intent.CONFIRM, Item.LEAD)
        if goes_on:  # the board was reset: its guide is known again by touching the flange
            self._move_guide(-self._body.guide_m * 1e3)
            self._ask(Intent.TOUCH_LEFT)
            self._guide_to_wire()
        else:
            self._ask(Intent.CONFIRM, Item.GUIDE)
        self._ask(Intent.SET_UP_DONE)

    def wind(self, stop: int | None, number: int) -> None:
        self._until(Phase.READY)
        if not self._wind.session.course.truth.is_sharp:
            self._ask(Intent.VOUCH_UNMOVED)
            self._until(Phase.READY)
        self._ask(Intent.START)
        if stop is None:
            self._wind_while(lambda: self._wind.session.phase is not Phase.COMPLETE)
            while not self._wind.finished:
                self._wind.step()
            return
        if number == BROKEN_PIECE:
            self._break()
        else:
            self._wind_to(stop)
            self._ask(Intent.PAUSE)
            self._until(Phase.PAUSED)
            self._take_off(TURNS_OFF)
        self._guide_to_wire()
        self._ask(Intent.CONTINUE)
        self._wind_to(self._wind.session.course.turns + MORE_TURNS)
        self._ask(Intent.PAUSE)
        self._until(Phase.PAUSED)
        self._ask(Intent.LEAVE)
        while not self._wind.finished:
            self._wind.step()
        self._wind.close()
        self._body.reset()

    def _break(self) -> None:
        """The board's sensor trips; what is loose comes off, the wire is joined, and what is on the bobbin is counted."""
        self._wind_while(lambda: self._wind.session.phase is not Phase.TRIPPED)
        self._step(1.0)
        self._take_off(LOOSE_TURNS)
        self._ask(Intent.WIRE_JOINED)
        self._ask(Intent.SETTLE_COUNT, round(self._body.wire_turns, 2))
        self._ask(Intent.CLEAR_TRIP)
        self._until(Phase.PAUSED)

    def _take_off(self, turns: float) -> None:
        self._step(0.3)
        self._ask(Intent.TURNS_OFF, TurnsOff(turns))
        self._until(Phase.PAUSED, Phase.TRIPPED)

    def _guide_to_wire(self) -> None:
        """The eye follows the wire to where it was led from; the record says which way it goes on."""
        self._step(0.5)
        wire_m = self._body.lay.led_at_m(self._body.wire_turns)
        off_mm = (wire_m - self._body.guide_m) * 1e3 + self._eye.off()
        self._move_guide(off_mm)
        self._ask(Intent.WIRE_HERE)
        self._step(1.0)

    def _move_guide(self, distance_mm: float) -> None:
        if abs(distance_mm) >= 0.001:
            self._ask(Intent.STEP_GUIDE, distance_mm)
            self._step(3.0)

    def _ask(self, intent: Intent, value: Value = None) -> None:
        self._wind.ask(Asked(intent, value, "trial"))
        if self._wind.refusals:
            raise WinderError(f"a piece of the trial: {self._wind.refusals[-1]}", remedy=REPORT)

    def _wind_to(self, turns: float) -> None:
        self._wind_while(lambda: self._wind.session.course.turns < turns)

    def _wind_while(self, goes_on: Callable[[], bool]) -> None:
        """Through the pauses that the recipe asks for."""
        while goes_on():
            self._while(lambda: goes_on() and self._wind.session.phase is not Phase.PAUSED)
            if goes_on():
                self._step(0.3)
                self._ask(Intent.CONTINUE)
                self._while(lambda: self._wind.session.phase is Phase.PAUSED)

    def _until(self, *phases: Phase) -> None:
        self._while(lambda: self._wind.session.phase not in phases)
        self._step(0.3)  # what was on its way is answered

    def _step(self, seconds: float) -> None:
        until_ns = self._wind.clock.now_ns() + round(seconds * NS_PER_S)
        self._while(lambda: self._wind.clock.now_ns() < until_ns)

    def _while(self, goes_on: Callable[[], bool]) -> None:
        limit_ns = self._wind.clock.now_ns() + round(WIND_S_MAX * NS_PER_S)
        while goes_on():
            self._wind.step()
            session = self._wind.session
            if (session.finished and goes_on()) or self._wind.clock.now_ns() > limit_ns:
                raise WinderError(
                    f"a piece of the trial stands in '{session.phase.value}'", remedy=REPORT
                )
