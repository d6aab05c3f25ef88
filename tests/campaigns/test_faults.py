"""Short winds in which something goes wrong, some of each kind, and as many as fit in which nothing does.

The judge knows the true turns of the simulated wire; the larger runs are commands (``docs/reliability.md``).
"""

from __future__ import annotations

import json

import pytest

from winder.laboratory.faulty import ONLY_CLEAN, names_of, run_faults
from winder.simulator.scene import KINDS, UNSEEABLE

OF_EACH, CLEAN_RUNS, SEED = 4, 60, 1
QUIET = ("link late", "link doubled", "link damaged")  # of a line: nothing strikes at one moment


def shown(found) -> str:
    return json.dumps(found["failing"][:10], indent=1)


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_goes_wrong_is_never_silent(kind):
    found = run_faults((kind,), runs=OF_EACH, seed=SEED)
    summary = found["summary"]
    assert summary["runs"] == OF_EACH
    assert not found["failing"], shown(found)
    assert (kind in summary["unseeable"]) == (kind in UNSEEABLE)
    if kind not in UNSEEABLE and kind not in QUIET:
        assert kind in summary["struck"], "it never struck"


def test_nothing_is_doubted_where_nothing_went_wrong():
    found = run_faults(names_of(ONLY_CLEAN), runs=CLEAN_RUNS, seed=SEED)
    assert found["summary"]["runs"] == CLEAN_RUNS
    assert not found["failing"], shown(found)
