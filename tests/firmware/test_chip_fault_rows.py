"""Every ordinary fault once, on the unmodified binary: the small version of the campaign, its stops and its gaps.

python -m tests.campaigns.chip_faults          all rows
python -m tests.campaigns.chip_faults_stops    more plans
python -m tests.campaigns.chip_faults_gaps     all sensors
"""

from __future__ import annotations

import dataclasses

import pytest

from firmware_protocol.messages import State, Status
from firmware_protocol.vocabulary import Low, Trip
from tests.campaigns.chip_faults import CASES, small
from tests.campaigns.chip_faults_claim import BETWEEN, EXACT, Claim, Heard, claim
from tests.campaigns.chip_faults_gaps import gaps_of
from tests.campaigns.chip_faults_run import Must, run
from tests.campaigns.chip_faults_stops import stopped
from tests.firmware.emulator.builds import needs_cross_tools
from tests.firmware.emulator.loaders import needs_loaders

pytestmark = [needs_cross_tools, needs_loaders]

STATUS = Status(
    **{field.name: 0 for field in dataclasses.fields(Status)}
    | {"state": State.WINDING, "wind": 7, "boot": 3}
)
PLANS = (1, 2, 3, 8)  # each way to stop once; 1 and 8 are soft legs at speed


@pytest.mark.parametrize(
    "case", small(), ids=lambda case: f"{case.fault}, sensor {case.sensor}, {case.counts_per_turn}"
)
def test_a_fault_is_seen_or_its_doubt_is_told_and_the_spindle_rests(case):
    row = run(case)
    assert row.holds, row


def test_no_row_is_put_twice():
    rows = [(c.fault, c.sensor, c.counts_per_turn, c.rpm) for c in CASES]
    assert len(set(rows)) == len(rows)


@pytest.mark.parametrize("seed", PLANS)
def test_after_a_stop_the_drive_is_cut_and_the_spindle_rests_by_the_told_times(seed):
    row = stopped(seed)
    assert row.holds, row


ON_WHILE_LOW = {"low": sum(Low)}
DEAD_MS = 1


@pytest.mark.parametrize("settings", [{}, ON_WHILE_LOW], ids=["on while high", "on while low"])
def test_drive_and_brake_never_meet_over_a_whole_wind(settings):
    gaps = gaps_of(4, 20, **settings)
    assert gaps.count == gaps.true == 60 * 20
    assert gaps.times.drives > 5 and gaps.times.brakes > 5, "nothing was switched"
    assert gaps.times.overlaps == 0
    assert min(gaps.times.drive_to_brake, gaps.times.brake_to_drive) >= DEAD_MS * 16_000


# --- the judge itself ------------------------------------------------------------------------------


def heard(*statuses: tuple[float, dict[str, int]]) -> list[Heard]:
    return [Heard(at_s, dataclasses.replace(STATUS, **changes)) for at_s, changes in statuses]


def test_a_fault_that_is_taken_for_none_does_not_hold():
    case = next(case for case in CASES if case.fault.startswith("both lost running"))
    row = run(dataclasses.replace(case, must=Must.EXACT))
    assert not row.holds and row.why == "tripped without a fault"


def test_a_claim_is_exact_until_the_board_doubts():
    told = heard((0.0, {}), (1.0, {"count": 50, "state": State.COMPLETE}))
    assert claim(told, 7, 100.0, 3.0) == Claim(EXACT, 50, 50)
    told = heard((0.0, {}), (1.0, {"count": 50, "unattributed": 2, "implausible": 3}))
    assert claim(told, 7, 100.0, 3.0) == Claim(BETWEEN, 45, 55)


def test_a_claim_after_a_silent_sensor_spans_what_the_machine_can_have_done():
    tripped = {"count": 40, "trip": Trip.STALLED, "state": State.TRIPPED}
    told = heard((0.0, {}), (1.0, {"count": 40}), (2.0, tripped), (3.0, tripped))
    # Since 1.0 s nothing was counted; it rests from 2.0 s on; a status is 0.06 s late.
    assert claim(told, 7, 100.0, 3.0) == Claim(BETWEEN, 40, 40 + 106 + 1)


def test_a_claim_after_a_reset_spans_the_time_since_the_last_status():
    lost = {"wind": 0, "boot": 4, "state": State.TRIPPED, "trip": Trip.RESET_IN_MOTION}
    told = heard((0.0, {}), (1.0, {"count": 40}), (1.5, lost), (9.0, lost))
    assert claim(told, 7, 100.0, 3.0) == Claim(BETWEEN, 40, 40 + 306 + 1)
