"""A pause says why it is there and what to do, and the next one stands ahead."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import PLAN, Bench

from winder.wind.model import Phase

NAMED = replace(PLAN, pauses=((40, "measure"), (50, "tape a tap out")))


@pytest.fixture
def bench():
    return Bench(NAMED).winding()


def test_the_next_pause_stands_ahead_with_what_it_is_for(bench):
    bench.run_to_count(15 * 20)
    assert bench.view().advice.startswith("pauses (measure) in ")


def test_at_the_pause_it_is_said_what_to_do_and_what_comes_next(bench):
    bench.run_until(Phase.PAUSED).run(100)
    view = bench.view()
    assert view.motion.pauses_here == "measure"
    assert view.advice.startswith("measure, then continue, or end here")
    assert view.advice.endswith("the next pause is at turn 50 (tape a tap out)")
    assert any("(a planned pause, for: measure)" in event.text for event in bench.journal)


def test_a_pause_without_a_reason_is_a_pause_still():
    bench = Bench(replace(PLAN, pauses=((40, ""),))).winding()
    assert bench.run_until(Phase.PAUSED).run(100).view().motion.pauses_here == ""
    assert bench.view().advice.startswith("continue, or end here")
