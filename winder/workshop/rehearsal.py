"""A whole wind on the simulated machine, in virtual time, judged by what really happened.

The same wind, session, host end and planner as for a real coil; only the link and the clock differ. The
judge asks the body, not the count: final turns are the true angle, resistance is that of the wire that
was laid. Unevenness is the standard deviation of the laid height across the winding width over its
mean (``winder/simulator/lay.py``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from winder.clock import NS_PER_S, HandClock, wall_seconds
from winder.coil.model import Coil
from winder.coil.winding import resistance_at
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.logbook.logbook import Logbook
from winder.machine.model import MachineProfile
from winder.session.model import Asked, Intent, Phase
from winder.simulator.machine import SimulatedMachine
from winder.workshop.bodies import simulated_machine
from winder.workshop.opening import Numbers, Opened, end_run, open_wind

WAITING_S_MAX = 60.0  # of machine time without a phase that moves: the rehearsal has hung

Progress = Callable[[float], None]

# What a person would press, phase by phase, to have the whole plan wound.
PERSON = {
    Phase.READY: Intent.START,
    Phase.PAUSED: Intent.CONTINUE,
    Phase.COMPLETE: Intent.LEAVE,
    Phase.TRIPPED: Intent.LEAVE,
    Phase.BROKEN_OFF: Intent.LEAVE,
    Phase.UNHEARD: Intent.LEAVE,
}


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """A finished rehearsal: the opened wind, the body it ran on, and what it took."""

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
) -> Rehearsed:
    """Wind the coil once in virtual time. Raises ``WinderError`` if the wind hangs."""
    began_s = wall_seconds()
    body = body or simulated_machine(machine, coil, seed)
    clock = HandClock(body.now_ns)
    start_ns = clock.now_ns()
    with Logbook.in_memory() as logbook:
        opened = open_wind(
            SimulatedLink(body, clock),
            clock,
            coil,
            machine,
            logbook,
            port="rehearsal",
            numbers=Numbers.from_seed(seed),
            seed=seed,
            simulated=body,
            cautions_accepted=True,
        )
        _wind_to_the_end(opened, progress)
        end_run(opened, logbook)
        opened.wind.close()
    simulated_s = (clock.now_ns() - start_ns) / NS_PER_S
    return Rehearsed(opened, body, seed, simulated_s, wall_seconds() - began_s)


def _wind_to_the_end(opened: Opened, progress: Progress | None) -> None:
    wind, session = opened.wind, opened.wind.session
    target = opened.plan.target_counts
    asked_in: Phase | None = None
    quiet_since_ns = shown_ns = wind.clock.now_ns()
    while not session.finished:
        phase = session.phase
        if phase is not asked_in:
            asked_in = phase
            quiet_since_ns = wind.clock.now_ns()
            if phase in PERSON:
                wind.ask(Asked(PERSON[phase], by="rehearsal"))
        wind.step()
        now_ns = wind.clock.now_ns()
        if progress is not None and now_ns - shown_ns > NS_PER_S:
            shown_ns = now_ns
            progress(min(1.0, session.truth.low / target))
        if phase is not Phase.WINDING and now_ns - quiet_since_ns > WAITING_S_MAX * NS_PER_S:
            raise WinderError(
                f"the rehearsal has stood in '{phase.value}' for {WAITING_S_MAX:g} s of machine time",
                remedy="this is a fault of the program; please report it with the seed",
            )


def report_of(rehearsed: Rehearsed) -> dict[str, Any]:
    """The documented figures of one rehearsal (``docs/reference/rehearsal.md``)."""
    opened, body = rehearsed.opened, rehearsed.body
    plan, session = opened.plan, opened.wind.session
    expected = resistance_at(opened.coil, plan.target_turns)
    final_counts = session.truth.low
    return {
        "recipe": opened.coil.recipe.name,
        "target_turns": plan.target_turns,
        "final_turns": body.turns,
        "counts_per_turn": plan.counts_per_turn,
        "target_counts": plan.target_counts,
        "final_counts": final_counts,
        "overrun_counts": final_counts - plan.target_counts,
        "overrun_turns": body.turns - plan.target_turns,
        "state": session.phase.value,
        "count_is": session.truth.certainty.value,
        "seed": rehearsed.seed,
        "simulated_s": rehearsed.simulated_s,
        "resistance_ohm_20c": {
            "expected": expected.nominal,
            "low": expected.low,
            "high": expected.high,
            "wound": body.wound_ohm,
        },
        "lay": {"layers": body.lay.layers, "unevenness": body.lay.unevenness},
        "wall_s": rehearsed.wall_s,
    }
