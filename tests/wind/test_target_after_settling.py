"""What was settled or came off moves the end of the wind, whatever the board is and whenever it was said."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import COUNTER, CPT, HAND_DRILL, Bench, SmallBody, leg, plan_of

from firmware_protocol.messages import SetTarget, Trip
from winder.plan.model import AtEnd
from winder.wind.model import Certainty, Intent, Phase, TurnsOff

PLAN = plan_of(leg("body", 60, AtEnd.COMPLETE, 1200.0))


class UpwardBody(SmallBody):
    """Counts every edge upward, as a board without motor and without a sense of direction does."""

    def turn_by_hand(self, counts: int) -> None:
        super().turn_by_hand(counts)
        self.seen.count += abs(counts) - counts  # either way


def counter(turns: int, sense: bool) -> Bench:
    machine = replace(HAND_DRILL, direction_sense=sense)
    identity = replace(COUNTER, has=1 if sense else 0)
    plan = plan_of(leg("body", turns, AtEnd.COMPLETE, 900.0, pitch_m=0.0))
    bench = Bench(plan, machine, identity, body=SmallBody() if sense else UpwardBody()).ready()
    assert bench.ask(Intent.START) == ""
    return bench.run(100)


def drill(bench: Bench, turns: float) -> Bench:
    return bench.by_hand(round(turns * CPT), every_ms=5)


@pytest.mark.parametrize(
    ("intent", "value"), [(Intent.TURNS_OFF, TurnsOff(6.5)), (Intent.SETTLE_COUNT, 13.5)]
)
def test_what_is_said_while_tripped_is_wound_again_after_the_trip_is_cleared(intent, value):
    bench = Bench(PLAN).winding().run_to_count(400)
    bench.body.seen.trip, bench.body.seen.guard_open = Trip.GUARD_OPENED, True
    bench.run_until(Phase.TRIPPED).run(400)
    bench.body.seen.trip, bench.body.seen.guard_open = Trip.NONE, False
    before = bench.truth.low
    assert bench.ask(intent, value) == ""
    off = before - bench.truth.low
    assert off > 0
    assert bench.ask(Intent.CLEAR_TRIP) == ""
    bench.run_until(Phase.PAUSED).run(300)
    assert bench.session.phase is Phase.PAUSED
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.COMPLETE).run(300)
    assert bench.truth.low == 60 * CPT
    assert bench.body.true_count == 60 * CPT + off


@pytest.mark.parametrize("sense", [True, False])
def test_a_counter_is_given_its_target_anew_when_turns_came_off_on_the_way(sense):
    bench = drill(counter(40, sense), 30)
    bench.ask(Intent.PAUSE)
    bench.run_until(Phase.PAUSED).run(200)
    assert bench.ask(Intent.TURNS_OFF, TurnsOff(6.5)) == ""
    bench.run_until(Phase.PREPARING).run_until(Phase.PAUSED).run(200)
    targets = [request.count for request in bench.sent if isinstance(request, SetTarget)]
    assert targets == [40 * CPT, 46.5 * CPT]
    assert bench.ask(Intent.CONTINUE) == ""
    drill(bench, 10)  # where the target was: the coil has 33.5
    assert bench.session.phase is Phase.WINDING
    drill(bench, 6.5)
    bench.run_until(Phase.COMPLETE)
    assert bench.truth.low == 40 * CPT


def test_a_hand_that_may_have_turned_back_unseen_is_never_called_exact():
    bench = counter(40, sense=False)
    assert bench.truth.certainty is Certainty.EXACT, "nothing has turned yet"
    drill(bench, 1)
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.VOUCHED, CPT)
    assert "one direction" in truth.why


def test_a_coil_of_fewer_turns_than_the_call_comes_before_is_counted_too():
    bench = drill(counter(3, sense=True), 3)
    bench.run_until(Phase.COMPLETE)
    (target,) = (request for request in bench.sent if isinstance(request, SetTarget))
    assert (target.count, target.warn_before) == (3 * CPT, 3 * CPT)
