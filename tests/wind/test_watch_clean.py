"""The watch over clean winds: no alarm and no doubt, on the bench of this room and on machines of the simulator, drawn
by seed over all that is supported.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import (
    BLIND_BOARD,
    BLIND_MACHINE,
    BOARD,
    CPT,
    MACHINE,
    Bench,
    TurningBackBody,
    leg,
    plan_of,
)

from winder.coil.winding import figure_coil
from winder.plan.model import AtEnd
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget
from winder.service.bodies import drawn_machine
from winder.service.rehearsal import rehearse
from winder.wind.account import Account
from winder.wind.model import Certainty, Intent, Phase

P = Phase


def scaled(counts: int, sense: bool) -> Bench:
    """The bench with another sensor: three legs, a pause, and a body that coasts in proportion."""

    def at(name: str, end: int, at_end: AtEnd, rpm: float):
        return replace(leg(name, end, at_end, rpm), end_counts=end * counts, dwell_counts=0)

    machine = replace(MACHINE if sense else BLIND_MACHINE, counts_per_turn=counts)
    legs = (
        at("bedding", 10, AtEnd.CONTINUE, 600.0),
        at("body", 40, AtEnd.PAUSE, 900.0),
        at("landing", 60, AtEnd.COMPLETE, 600.0),
    )
    plan = replace(plan_of(*legs), counts_per_turn=counts, target_turns=60)
    body = TurningBackBody(sense)
    body.coasting = 0.2 * counts / CPT
    identity = BOARD if sense else BLIND_BOARD
    return Bench(plan, machine, identity, body=body, account=Account(counts))


@pytest.mark.parametrize("lost", [0.0, 0.1])
@pytest.mark.parametrize("sense", [True, False])
@pytest.mark.parametrize("counts", [1, 2, 4, 20, 100])
def test_a_clean_wind_raises_no_alarm_and_no_doubt(counts, sense, lost):
    bench = scaled(counts, sense).winding()
    bench.lost = lost
    bench.run(700).ask(Intent.PAUSE)
    bench.run_until(P.PAUSED).run(600)
    assert bench.ask(Intent.TAKE_OFF, 2.0) == ""
    bench.run(4000)
    while not bench.session.finished and bench.now_ms < 120_000:
        bench.run(200)
        if Intent.CONTINUE in bench.session.may():
            bench.ask(Intent.CONTINUE)
    assert bench.session.phase is P.COMPLETE
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.EXACT, bench.body.true_count)
    assert truth.low == 60 * counts
    assert not [event.text for event in bench.journal if event.kind in ("alarm", "doubt")]


def short_coil(turns: int, pauses: tuple[int, ...]):
    return figure_coil(
        Recipe(
            name="sensor coil (invented)",
            note="",
            wire=AwgWire(42, "single"),
            core=RoundCore(0.010),
            width_m=0.008,
            height_m=0.004,
            target=TurnsTarget(turns),
            direction=Direction.CLOCKWISE,
            pause_at_turns=pauses,
        )
    )


@pytest.mark.parametrize("seeds", [range(1, 16), range(16, 31)], ids=["1-15", "16-30"])
def test_a_clean_wind_on_a_machine_drawn_by_seed_raises_none_either(seeds):
    coil = short_coil(120, (50,))
    for seed in seeds:
        machine, body = drawn_machine(coil, seed)
        session = rehearse(coil, machine, seed, body=body).opened.wind.session
        counts, truth = machine.counts_per_turn, session.course.truth
        assert session.phase is P.COMPLETE and not session.watch.alarm, seed
        assert truth.certainty is Certainty.EXACT and truth.low // counts == 120, seed
        said = session.course.log.lines()
        assert not [line for line in said if "as no spindle can" in line or "alarm" in line], seed
