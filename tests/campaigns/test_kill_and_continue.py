"""Six coils whose program is killed, with whatever kills programs: nothing wrong is ever called sure.

The larger runs are a command (``docs/reliability.md``). Truth is the simulated spindle's angle, told by the bench.
"""

from __future__ import annotations

from tests.campaigns.kill_and_continue import figures, run_many, words_of

RUNS, SEED = 6, 1


def test_a_killed_program_never_costs_a_turn_and_never_lies_about_one():
    results = run_many(RUNS, SEED)
    found = figures(results)
    bad = "\n".join(words_of(result) for result in results if not result.good)
    assert found["runs"] == RUNS
    assert not found["wrong_exact"] and not found["bounds_missed"], bad
    assert not found["unclaimed"] and not found["unfinished"], bad
    assert found["finished_on_the_turn"] == RUNS, bad
