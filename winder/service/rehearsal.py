"""A whole wind on the simulated machine, in virtual time, judged by what really happened.

The same wind, session, host end and planner as for a real coil; only the link and the clock differ. The
judge asks the body, not the count: final turns are the true angle, resistance is that of the wire that
was laid. Unevenness is the standard deviation of the laid height across the width between the margins
over its mean (``winder/simulator/lay.py``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from firmware_protocol.records import dataclass
from winder.clock import NS_PER_S, HandClock, wall_seconds
from winder.coil.model import Coil
from winder.coil.winding import resistance_at
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import MachineProfile
from winder.plan.facing import Top
from winder.service.bodies import simulated_machine
from winder.service.journals import Gathered
from winder.service.opening import Declared, Numbers, Opened, Order, Station, end_run, open_wind
from winder.shelf.logbook import Logbook
from winder.simulator.machine import SimulatedMachine
from winder.wind.model import Asked, Intent, Phase, TurnsOff
from winder.wind.session import WindSession

WAITING_S_MAX = 60.0  # of machine time without another phase or count: the rehearsal has hung

Progress = Callable[[float], None]
# A person at rest, at a pause or with turns to come off: gives one intent after the other, each asked before the next
# is given, so that what one led to can be looked at. Going on from a pause need not be among them.
AtRest = Callable[["Opened"], Iterator[Asked]]

# What a person would press, phase by phase, to have the whole plan wound.
PERSON = {
    Phase.READY: Intent.START,
    Phase.PAUSED: Intent.CONTINUE,
    Phase.COMPLETE: Intent.LEAVE,
    Phase.TRIPPED: Intent.LEAVE,
    Phase.LOST: Intent.LEAVE,
    Phase.UNHEARD: Intent.LEAVE,
    Phase.ALARM: Intent.LEAVE,
}


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """A finished rehearsal: the opened wind (the coil's last), its body, and what it took."""

    opened: Opened
    body: SimulatedMachine
    seed: int
    simulated_s: float
    wall_s: float


def rehearse(
    coil: Coil,
    machine: MachineProfile,
    seed: int,
    *,
    body: SimulatedMachine | None = None,
    progress: Progress | None = None,
    at_rest: AtRest | None = None,
) -> Rehearsed:
    """Wind the coil once in virtual time. Raises ``WinderError`` if the wind hangs.

    ``at_rest`` stands for a person who measures, and adopts what follows.
    """
    began_s = wall_seconds()
    body = body or simulated_machine(machine, coil, seed)
    clock = HandClock(body.now_ns)
    start_ns = clock.now_ns()
    with Logbook.in_memory() as logbook:
        at = Station(SimulatedLink(body, clock), clock, "rehearsal", seed, body, Gathered)
        declared = Declared(top=Top.OPERATOR, by="rehearsal")
        order = Order(coil, machine, declared=declared, cautions_accepted=True)
        opened = open_wind(at, order, logbook, Numbers.from_seed(seed))
        _wind_to_the_end(opened, progress, at_rest)
        opened.wind.close()
        end_run(opened, logbook)
    simulated_s = (clock.now_ns() - start_ns) / NS_PER_S
    return Rehearsed(opened, body, seed, simulated_s, wall_seconds() - began_s)


def _wind_to_the_end(opened: Opened, progress: Progress | None, at_rest: AtRest | None) -> None:
    wind, session = opened.wind, opened.wind.session
    counted = 0
    asked_in: Phase | None = None
    quiet_since_ns = shown_ns = wind.clock.now_ns()
    while not session.finished:
        phase = session.phase
        if phase is not asked_in:
            asked_in = phase
            quiet_since_ns = wind.clock.now_ns()
            for asked in _said_in(phase, opened, at_rest):
                wind.ask(asked)
        wind.step()
        now_ns = wind.clock.now_ns()
        if session.course.count != counted:
            counted, quiet_since_ns = session.course.count, now_ns
        if progress is not None and now_ns - shown_ns > NS_PER_S:
            shown_ns = now_ns
            progress(min(1.0, session.course.truth.low / session.course.plan.target_counts))
        if now_ns - quiet_since_ns > WAITING_S_MAX * NS_PER_S:
            raise WinderError(
                f"the rehearsal has stood in '{phase.value}' for {WAITING_S_MAX:g} s of machine time",
                remedy="this is a fault of the program; please report it with the seed",
            )


def _said_in(phase: Phase, opened: Opened, at_rest: AtRest | None) -> Iterator[Asked]:
    """All that the person says in a phase that has just begun."""
    if at_rest is not None and phase in (Phase.PAUSED, Phase.TAKING_OFF):
        yield from at_rest(opened)
    elif phase is Phase.TAKING_OFF:
        yield from _take_off(opened)
    may = opened.wind.session.may()  # not after an end, nor before an adopted plan is loaded
    if phase in PERSON and (PERSON[phase] is not Intent.CONTINUE or Intent.CONTINUE in may):
        yield Asked(PERSON[phase], by="rehearsal")


def _take_off(opened: Opened) -> Iterator[Asked]:
    """At rest past the target, and nobody measures: a coil wound long is kept so.

    Turns too many come off: turned back under a sensor that knows the direction, else pulled off and said.
    """
    session = opened.wind.session
    off = off_turns(session)
    if opened.plan.measure_at_end or off is None or not session.course.truth.is_sharp:
        yield Asked(Intent.END_HERE, by="rehearsal")
    elif session.course.board.motor:
        yield Asked(Intent.TAKE_OFF, off, by="rehearsal")
    elif not session.course.sense:
        yield Asked(Intent.TURNS_OFF, TurnsOff(off), by="rehearsal")


def off_turns(session: WindSession) -> float | None:
    """Turns still to be taken off; None where that is not known."""
    return session.wire.off_turns(session.readings.left_counts)


def _state_of(session: WindSession) -> str:
    """The last phase. A coil wound long that nobody was to measure is kept as it was asked for: complete."""
    plan, truth = session.course.plan, session.course.truth
    kept_long = plan.measure_at_end and session.readings.left_counts is None
    past = truth.best - plan.target_counts
    if session.phase is Phase.ENDED and kept_long and truth.is_sharp:
        return str((Phase.COMPLETE if 0 <= past < plan.counts_per_turn else Phase.ENDED).value)
    return str(session.phase.value)


def report_of(rehearsed: Rehearsed) -> dict[str, Any]:
    """The documented figures of one rehearsal (``docs/reference/rehearsal.md``)."""
    opened, body = rehearsed.opened, rehearsed.body
    session = opened.wind.session
    plan = session.course.plan  # with the target that was adopted last
    target_counts = plan.target_turns * plan.counts_per_turn
    if plan.measure_at_end and session.readings.left_counts is not None:
        target_counts = session.readings.left_counts
    target_turns = target_counts // plan.counts_per_turn
    assert isinstance(opened.coil, Coil)
    expected = resistance_at(opened.coil, target_turns)
    final_counts = session.course.truth.low
    return {
        "recipe": opened.coil.recipe.name,
        "target_turns": target_turns,
        "final_turns": body.wire_turns,
        "counts_per_turn": plan.counts_per_turn,
        "target_counts": target_counts,
        "final_counts": final_counts,
        "overrun_counts": final_counts - target_counts,
        "overrun_turns": body.wire_turns - target_turns,
        "state": _state_of(session),
        "measure_at_end": plan.measure_at_end,
        "count_is": session.course.truth.certainty.value,
        "seed": rehearsed.seed,
        "simulated_s": rehearsed.simulated_s,
        "resistance_ohm_20c": {
            "expected": expected.nominal,
            "low": expected.low,
            "high": expected.high,
            "wound": body.wound_ohm,
        },
        "lay": {
            "layers": body.lay.layers,
            "unevenness": body.lay.unevenness,
            "edge_share": body.lay.edge_share,
        },
        "wall_s": rehearsed.wall_s,
    }
