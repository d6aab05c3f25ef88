"""The picture of the winding's height: what comes on is there, where it came on, and comes off again."""

from __future__ import annotations

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.lay import HeightProfile

WIDTH_M, WIRE_M, AREA_M2 = 6e-3, 71e-6, 6.2e-9
PLACES = st.one_of(st.none(), st.floats(-1e-3, 8e-3))


def profile(bins: int = 64) -> HeightProfile:
    return HeightProfile(WIDTH_M, WIRE_M, AREA_M2, bins)


def area_m2(found: HeightProfile) -> float:
    return sum(found.heights_m) * WIDTH_M / len(found.heights_m)


@given(st.lists(st.tuples(st.floats(0, 1000), PLACES), min_size=1), st.integers(1, 300))
def test_the_filled_area_is_that_of_the_turns_whatever_is_reported(reports, bins):
    found = profile(bins)
    for turns, place_m in reports:
        found.report(turns, place_m)
    last = reports[-1][0]
    assert found.turns == last
    assert area_m2(found) == pytest.approx(last * AREA_M2, rel=1e-9, abs=1e-12)


def test_a_full_stroke_in_steps_is_level_between_the_edges():
    found = profile()
    for step in range(81):
        found.report(float(step), WIDTH_M * step / 80)
    inner = found.heights_m[2:-2]
    assert max(inner) == pytest.approx(min(inner), rel=0.05)
    assert inner[20] == pytest.approx(80 * AREA_M2 / WIDTH_M, rel=0.05)


def test_turns_lie_where_the_guide_was():
    found = profile()
    found.report(0.0, 1e-3)
    found.report(10.0, 2e-3)
    filled = [index for index, height in enumerate(found.heights_m) if height > 0]
    assert (filled[0], filled[-1]) == (int(0.9645 / 6 * 64), int(2.0355 / 6 * 64))


def test_a_standing_guide_heaps_one_wire_wide():
    found = profile(600)  # bins of 10 um
    found.report(0.0, 3e-3)
    found.report(1.0, 3e-3)
    assert max(found.heights_m) == pytest.approx(AREA_M2 / WIRE_M)
    assert sum(height > 0 for height in found.heights_m) in (7, 8, 9)


def test_what_is_taken_off_the_way_it_came_leaves_nothing():
    found = profile()
    found.report(0.0, 1e-3)
    found.report(40.0, 4e-3)
    found.report(0.0, 1e-3)
    assert found.heights_m == pytest.approx([0.0] * 64, abs=1e-18)


def test_a_wire_led_by_hand_is_level_for_lack_of_a_place():
    found = profile()
    found.report(100.0, None)
    assert found.heights_m == pytest.approx([100 * AREA_M2 / WIDTH_M] * 64)
    assert found.shares(100 * AREA_M2 / WIDTH_M) == pytest.approx([1.0] * 64)


def test_a_wire_wider_than_the_bobbin_fills_it():
    found = HeightProfile(50e-6, WIRE_M, AREA_M2, 4)
    found.report(2.0, 0.0)
    assert found.heights_m == pytest.approx([2 * AREA_M2 / 50e-6] * 4)


def test_an_update_touches_only_the_bins_between_two_reports():
    """Its cost is that of its bins: counted in executed lines, which no load on the machine changes."""
    found = profile(4000)
    found.report(0.0, 1e-3)
    lines = 0

    def count(frame, event, argument):
        nonlocal lines
        lines += event == "line"
        return count

    before = sys.gettrace()
    sys.settrace(count)
    try:
        found.report(2.0, 1.01e-3)  # 20 reports a second at 1500 rpm: some turns, some bins
    finally:
        sys.settrace(before)
    assert lines < 2 * 54 + 40  # 81 um are 54 bins


def test_turns_without_a_place_leave_the_margins_free_and_a_guide_that_goes_there_does_not():
    found = HeightProfile(WIDTH_M, WIRE_M, AREA_M2, 12, margin_m=1e-3)
    found.report(100.0, None)
    level = 100 * AREA_M2 / 4e-3
    assert found.heights_m == pytest.approx([0.0] * 2 + [level] * 8 + [0.0] * 2)
    found.report(100.0, 0.75e-3)
    found.report(101.0, 0.75e-3)  # as it is, wherever it was meant to be
    assert found.heights_m[1] == pytest.approx(AREA_M2 / 0.5e-3)


def test_the_wire_lags_behind_the_guide_by_the_free_length():
    """A steady guide: v t behind, whatever the steps, as dx/dn = (g - x) / t says (solved by hand)."""
    found = HeightProfile(WIDTH_M, 1e-6, AREA_M2, 6000, lag_turns=2.0)
    for turn in range(41):
        found.report(float(turn), 1e-3 + turn * 0.1e-3)
    last = max(index for index, height in enumerate(found.heights_m) if height > 0)
    assert last * 1e-6 == pytest.approx(5e-3 - 0.2e-3, abs=3e-6)


def test_the_lag_is_the_same_in_many_steps_as_in_one():
    one, many = (HeightProfile(WIDTH_M, 1e-6, AREA_M2, 6000, lag_turns=2.0) for _ in range(2))
    one.report(0.0, 1e-3)
    one.report(4.0, 2e-3)
    for step in range(101):
        many.report(step * 0.04, 1e-3 + step * 0.01e-3)
    ends = [max(i for i, height in enumerate(p.heights_m) if height > 0) for p in (one, many)]
    assert ends[0] == pytest.approx(ends[1], abs=2)
    assert ends[0] * 1e-6 == pytest.approx(2e-3 - 0.5e-3 * (1 - 0.1353), abs=3e-6)


def test_a_guide_that_moves_at_rest_lays_nothing():
    found = profile()
    found.report(10.0, 1e-3)
    before = list(found.heights_m)
    found.report(10.0, 5e-3)
    assert found.heights_m == before
