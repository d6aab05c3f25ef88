"""A thousand short winds in which something goes wrong, and as many as fit in which nothing does.

The judge knows the true turns of the simulated wire; the larger runs are commands (``docs/reliability.md``).
"""

from __future__ import annotations

import json

import pytest

from winder.laboratory.faulty import ALL, ONLY_CLEAN, names_of, run_faults
from winder.laboratory.judge import WRONGS
from winder.simulator.scene import KINDS, UNSEEABLE

RUNS, CLEAN_RUNS, SEED = 250, 60, 1
QUIET = ("link late", "link doubled", "link damaged")  # of a line: nothing strikes at one moment


@pytest.fixture(scope="module")
def faulty():
    return run_faults(names_of(ALL), runs=RUNS, seed=SEED)


def shown(found) -> str:
    return json.dumps(found["failing"][:10], indent=1)


@pytest.mark.parametrize("wrong", WRONGS)
def test_whatever_goes_wrong_is_never_silent(faulty, wrong):
    assert faulty["summary"]["runs"] == RUNS
    assert faulty["summary"][wrong] == 0, shown(faulty)


def test_every_fault_struck_and_what_no_host_can_see_did_not(faulty):
    summary = faulty["summary"]
    assert set(summary["struck"]) == set(KINDS) - set(UNSEEABLE) - set(QUIET)
    assert set(summary["unseeable"]) == set(UNSEEABLE)


def test_nothing_is_doubted_where_nothing_went_wrong():
    found = run_faults(names_of(ONLY_CLEAN), runs=CLEAN_RUNS, seed=SEED)
    assert found["summary"]["runs"] == CLEAN_RUNS
    assert not found["failing"], shown(found)
