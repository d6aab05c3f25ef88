"""Complete means complete: at rest at the end, a sure count within the target's turn, and nothing else."""

from __future__ import annotations

import pytest
from session_bench import CPT, NS_PER_MS, Bench, TurningBackBody, brought, leg, plan_of
from test_session_stops import Script

from firmware_protocol.messages import State
from winder.plan.model import AtEnd
from winder.wind.deeds import COMMIT_GAP_S
from winder.wind.model import How, Intent, Phase

PLAN = plan_of(leg("body", 20, AtEnd.COMPLETE, 600.0), first_turn=40)
TARGET = 60 * CPT


def at_the_end(low: int, high: int, best: int | None = None) -> Bench:
    """A coil that began with so many counts, wound on by the best guess."""
    began = brought(low, high, best=best)
    bench = Bench(PLAN, body=TurningBackBody(), account=began, boot=6)
    assert bench.ready().ask(Intent.START) == ""
    return bench.run_until(Phase.COMPLETE, Phase.TAKING_OFF).run(300)


@pytest.mark.parametrize(
    ("low", "best", "high"),
    [
        (-20, 0, 0),  # the upper bound would be the target
        (0, 0, 20),  # the lower one
        (-20, 0, 20),
    ],
)
def test_a_count_between_two_bounds_is_not_complete(low, best, high):
    bench = at_the_end(*(40 * CPT + counts for counts in (low, high, best)))
    assert (bench.truth.low, bench.truth.high) == (TARGET + low, TARGET + high)
    assert bench.session.phase is Phase.TAKING_OFF and not bench.session.finished
    assert "count them" in bench.view().advice
    assert bench.ask(Intent.SETTLE_COUNT, 60.0) == ""
    bench.run_until(Phase.COMPLETE).run(300)
    assert bench.session.ending.how is How.COMPLETE


def test_turns_to_take_off_are_told_by_the_upper_bound():
    """Whoever takes off by the lower one may keep turns too many."""
    bench = at_the_end(40 * CPT, 43 * CPT)
    truth = bench.truth
    assert (truth.low, truth.high) == (TARGET, TARGET + 3 * CPT)
    assert bench.view().count.off_turns == 3


def test_a_sure_count_is_complete_within_the_targets_turn():
    bench = at_the_end(40 * CPT, 40 * CPT)
    assert bench.session.phase is Phase.COMPLETE and bench.session.ending.how is How.COMPLETE
    assert bench.truth.low == TARGET


def test_what_is_kept_with_turns_too_many_is_not_complete():
    bench = at_the_end(40 * CPT, 43 * CPT)
    assert bench.ask(Intent.END_HERE) == ""
    bench.run(300)
    assert bench.session.phase is Phase.ENDED and bench.session.ending.how is How.HERE


def test_a_sign_of_life_is_sent_only_while_the_newest_count_on_record_is_fresh():
    """A slow disk would else let the spindle run further than any bound knows."""
    script = Script().started()
    session = script.session
    session.take_events()
    session.recorded()
    fresh_until_ms = script.now_ms + round(COMMIT_GAP_S * 1000)
    assert session.may_live((fresh_until_ms - 1) * NS_PER_MS)
    for _ in range(12):
        script.status(State.WINDING, script.count + 10)
        session.take_events()  # written, and not on the disk
    assert not session.may_live(script.now_ms * NS_PER_MS)
    session.take_events()
    session.recorded()
    assert session.may_live(script.now_ms * NS_PER_MS)


def test_whoever_only_waits_lives_without_a_record():
    script = Script().prepared()
    assert script.session.may_live(3_600_000 * NS_PER_MS)
