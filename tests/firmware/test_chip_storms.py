"""Storms on a sensor of one channel, put to the unmodified binary and to the whole program: the bounds hold.

python -m tests.campaigns.chip_faults_storms    more of them, by seed
"""

from __future__ import annotations

import pytest

from tests.campaigns.chip_faults import CASES
from tests.campaigns.chip_faults_run import run
from tests.campaigns.chip_faults_storms import SEEN, storm_of
from tests.campaigns.chip_faults_storms import run as run_storm
from tests.firmware.emulator.builds import needs_cross_tools

pytestmark = needs_cross_tools

# Counted without a word: 193 of 200 in front of a trip, with hardly a trip, and behind one.
STORMS = {2: "5 of 200 are told", 10: "two are told, one of them was counted", 12: "OVERSPEED"}


@pytest.mark.parametrize("seed", STORMS, ids=STORMS.get)
def test_what_is_claimed_in_a_storm_holds(seed):
    one = run_storm(storm_of(seed))
    assert one.what == SEEN
    assert one.off > 0, "nothing false was counted: the test proves nothing"
    assert one.rule_holds, one
    assert one.account_holds, one


def test_the_row_of_137_a_second_at_600_rpm_holds():
    case = next(
        case
        for case in CASES
        if case.fault == "137 disturbances a second of 500 us"
        and (case.sensor, case.counts_per_turn) == (1, 20)
    )
    row = run(case)
    assert row.holds and not row.why, row
    assert row.shown - row.true > 100, "the bounds have nothing to hold"
