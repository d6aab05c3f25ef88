"""A whole wind on the simulated machine, in virtual time, judged by what really happened.

The same wind, session, host end and planner as for a real coil; only the link and the clock differ. The
judge asks the body, not the count: final turns are the true angle, resistance is that of the wire that
was laid. Unevenness is the standard deviation of the laid height across the width between the margins
over its mean (``winder/simulator/lay.py``).
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
from winder.plan.facing import Top
from winder.session.model import Asked, Intent, Phase
from winder.simulator.machine import SimulatedMachine
from winder.workshop.bodies import simulated_machine
from winder.workshop.going_on import Wish
from winder.workshop.opening import Numbers, Opened, end_run, open_wind

WINDS_APART = 1 << 20  # between the seeds of one coil's winds: no two winds share a number
WAITING_S_MAX = 60.0  # of machine time without another phase or count: the rehearsal has hung

MEASURING_S = 5.0  # of machine time between two winds of a coil; longer than any lease

Progress = Callable[[float], None]
# Asked at every pause; None: go on as planned. A coil: end this wind here, go on with it in a new one.
# The wind's own coil: end here, it is done.
AtPause = Callable[["Opened"], Coil | None]

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
    """A finished rehearsal: the opened wind (the coil's last), its body, and what it took."""

    opened: Opened
    body: SimulatedMachine
    seed: int
    simulated_s: float
    wall_s: float
    winds: int = 1  # of this coil: a plan confirmed at a pause begins another


def rehearse(
    coil: Coil,
    machine: MachineProfile,
    seed: int,
    *,
    body: SimulatedMachine | None = None,
    progress: Progress | None = None,
    at_pause: AtPause | None = None,
) -> Rehearsed:
    """Wind the coil once in virtual time. Raises ``WinderError`` if the wind hangs.

    ``at_pause`` stands for a person who measures at a pause and may confirm another plan; the coil then
    goes on in a new wind, as it would at the bench.
    """
    began_s = wall_seconds()
    body = body or simulated_machine(machine, coil, seed)
    clock = HandClock(body.now_ns)
    start_ns = clock.now_ns()
    planned: Coil | None = coil
    goes_on: Wish | None = None
    winds = 0
    with Logbook.in_memory() as logbook:
        while planned is not None:
            opened = open_wind(
                SimulatedLink(body, clock),
                clock,
                planned,
                machine,
                logbook,
                port="rehearsal",
                numbers=Numbers.from_seed(seed + winds * WINDS_APART),
                seed=seed,
                simulated=body,
                cautions_accepted=True,
                goes_on=goes_on,
                top=Top.OPERATOR,
                declared_by="rehearsal",
            )
            planned = _wind_to_the_end(opened, progress, at_pause)
            end_run(opened, logbook)
            opened.wind.close()
            goes_on, winds = Wish(str(opened.coil_id)), winds + 1
            if planned is not None:
                _let_time_pass(body, clock)
    simulated_s = (clock.now_ns() - start_ns) / NS_PER_S
    return Rehearsed(opened, body, seed, simulated_s, wall_seconds() - began_s, winds)


def _wind_to_the_end(
    opened: Opened, progress: Progress | None, at_pause: AtPause | None
) -> Coil | None:
    """To the end of this wind; returns the coil to go on with, if a person wants another plan."""
    wind, session = opened.wind, opened.wind.session
    target = opened.plan.target_turns * opened.plan.counts_per_turn
    counted = 0
    asked_in: Phase | None = None
    other: Coil | None = None
    quiet_since_ns = shown_ns = wind.clock.now_ns()
    while not session.finished:
        phase = session.phase
        if phase is not asked_in:
            asked_in = phase
            quiet_since_ns = wind.clock.now_ns()
            if phase is Phase.READY and Intent.VOUCH_UNMOVED in session.may():
                wind.ask(Asked(Intent.VOUCH_UNMOVED, by="rehearsal"))
                asked_in = None  # vouching may have the legs loaded anew: look again
            elif phase is Phase.PAUSED and at_pause and (other := at_pause(opened)) is not None:
                wind.ask(Asked(Intent.END_HERE, by="rehearsal"))
            elif phase is Phase.TAKING_OFF:
                _take_off(opened)
            elif phase in PERSON:
                wind.ask(Asked(PERSON[phase], by="rehearsal"))
        wind.step()
        now_ns = wind.clock.now_ns()
        if session.count != counted:
            counted, quiet_since_ns = session.count, now_ns
        if progress is not None and now_ns - shown_ns > NS_PER_S:
            shown_ns = now_ns
            progress(min(1.0, session.truth.low / target))
        if now_ns - quiet_since_ns > WAITING_S_MAX * NS_PER_S:
            raise WinderError(
                f"the rehearsal has stood in '{phase.value}' for {WAITING_S_MAX:g} s of machine time",
                remedy="this is a fault of the program; please report it with the seed",
            )
    return None if other is opened.coil else other


def _take_off(opened: Opened) -> None:
    """At rest past the target.

    A coil wound long is kept so: who measures does so afterwards. Turns too many come off: turned back under a
    sensor that knows the direction, else pulled off and said.
    """
    wind, session = opened.wind, opened.wind.session
    off = session.off_turns()
    if opened.plan.measure_at_end or off is None:
        wind.ask(Asked(Intent.END_HERE, by="rehearsal"))
    elif not session.tally.direction_sense:
        wind.ask(Asked(Intent.TURNS_OFF, value=wind.view().off_turns, by="rehearsal"))


def _let_time_pass(body: SimulatedMachine, clock: HandClock) -> None:
    """The person measures; nobody talks to the board meanwhile."""
    end_ns = body.now_ns + round(MEASURING_S * NS_PER_S)
    while body.now_ns < end_ns:
        body.run_until(end_ns)
        body.take_bytes()
    clock.sleep_s(MEASURING_S)


def report_of(rehearsed: Rehearsed) -> dict[str, Any]:
    """The documented figures of one rehearsal (``docs/reference/rehearsal.md``)."""
    opened, body = rehearsed.opened, rehearsed.body
    plan, session = opened.plan, opened.wind.session
    expected = resistance_at(opened.coil, plan.target_turns)
    final_counts = session.truth.low
    target_counts = plan.target_turns * plan.counts_per_turn
    return {
        "recipe": opened.coil.recipe.name,
        "target_turns": plan.target_turns,
        "final_turns": body.wire_turns,
        "counts_per_turn": plan.counts_per_turn,
        "target_counts": target_counts,
        "final_counts": final_counts,
        "overrun_counts": final_counts - target_counts,
        "overrun_turns": body.wire_turns - plan.target_turns,
        "state": session.phase.value,
        "measure_at_end": plan.measure_at_end,
        "count_is": session.truth.certainty.value,
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
