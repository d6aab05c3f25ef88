"""Arithmetic of the truth, against worked numbers and as laws."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from session_bench import CPT, LONG_PLAN, MACHINE, PLAN, WIND
from test_session_stops import WELCOME

from firmware_protocol.messages import Kept, State, Status
from winder.wind.events import truth_facts, truth_from_facts
from winder.wind.model import Certainty, CountTruth
from winder.wind.truth import (
    added,
    between,
    by_hand,
    exact,
    is_sharp,
    leg_at,
    moved,
    rocked,
    run_on_counts,
    truth_after_break,
    turns_words,
    vouched,
    widened,
    words,
)

counts = st.integers(0, 1 << 30)
few = st.integers(0, 10_000)
truths = st.one_of(
    counts.map(exact),
    counts.map(lambda n: vouched(n, "Mira", "looked")),
    st.tuples(counts, few).map(lambda t: between(t[0], t[0] + t[1], "reset")),
)


def status_of(count: int, unattributed: int = 0, wind: int = WIND) -> Status:
    return Status(State.PAUSED, 0, 0, 0, count, unattributed, 0, 0, 0, 1, wind, 5, 9, 9, 0)


def kept(count: int, flags: int = Kept.VALID | Kept.AT_REST, wind: int = WIND):
    return replace(WELCOME, kept_wind=wind, kept_count=count, kept_flags=int(flags))


@pytest.mark.parametrize(
    ("truth", "said"),
    [
        (exact(62_120), "exact: 3106 turns"),
        (exact(62_130), "exact: 3106.5 turns"),
        (vouched(40, "Mira", "looked"), "vouched for by Mira: 2 turns (looked)"),
        (
            between(62_090, 62_200, "board was reset while winding"),
            "between 3104.5 and 3110 turns: board was reset while winding",
        ),
    ],
)
def test_a_truth_in_words(truth, said):
    assert words(truth, 20) == said


@pytest.mark.parametrize(
    ("number", "rounding", "said"),
    [(1, 0, "0.33"), (1, -1, "0.33"), (1, 1, "0.34"), (2, 0, "0.67"), (2, -1, "0.66"), (3, 1, "1")],
)
def test_bounds_are_rounded_outwards(number, rounding, said):
    assert turns_words(number, 3, rounding) == said


@given(truths, few)
def test_counted_turns_shift_both_bounds_and_change_no_certainty(truth, more):
    after = moved(truth, more)
    assert after.certainty is truth.certainty
    assert (after.low - truth.low, after.high - truth.high) == (more, more)


@given(truths, few, few)
def test_a_doubt_only_widens(truth, down, up):
    after = widened(truth, down, up, "why")
    assert after.certainty is Certainty.BETWEEN
    assert after.low <= truth.low and after.high == truth.high + up
    assert after.low == max(0, truth.low - down)
    assert "why" in after.why


@given(truths, truths)
def test_a_sum_is_never_surer_than_its_parts(one, other):
    both = added(one, other)
    assert (both.low, both.high) == (one.low + other.low, one.high + other.high)
    order = [Certainty.EXACT, Certainty.VOUCHED, Certainty.BETWEEN]
    assert order.index(both.certainty) == max(
        order.index(one.certainty), order.index(other.certainty)
    )
    assert added(None, one) == one


@given(truths)
def test_a_truth_survives_the_facts_of_an_event(truth):
    assert truth_from_facts(dict(truth_facts(truth))) == truth
    assert truth_from_facts({"leg": 1}) is None


def test_rocking_is_symmetrical_and_nothing_for_nothing():
    assert rocked(exact(100), 0) == exact(100)
    truth = rocked(exact(100), 3)
    assert (truth.low, truth.high) == (97, 103)
    assert truth.why == "3 edges came while nothing drove the spindle"
    assert rocked(exact(100), 1).why == "1 edge came while nothing drove the spindle"


def test_repeated_doubts_of_one_kind_are_said_once():
    truth = widened(widened(exact(100), 1, 1, "the wire was lost"), 1, 1, "the wire was lost")
    assert truth.why == "the wire was lost"
    assert widened(truth, 1, 1, "reset").why == "the wire was lost; reset"


def test_a_hand_that_turned_one_way_vouches_for_it():
    assert by_hand(exact(0), 0, 0) == exact(0)
    assert by_hand(exact(60), 60, 60).certainty is Certainty.VOUCHED
    assert by_hand(exact(60), 60, 0).certainty is Certainty.VOUCHED, (
        "the board counts up either way"
    )
    assert by_hand(exact(65_535), 65_535, 65_535).certainty is Certainty.BETWEEN


def test_the_run_on_after_a_break_by_hand():
    """1200 rpm at 20 counts a turn, 15 % over: 460 counts/s. Unseen 1.5 s; to rest 1380/6000 = 0.23 s;
    coasting 460^2 / (2 * 2000) = 52.9. 460 * 1.73 + 52.9 = 848.7; up, and one for a part of a count."""
    assert run_on_counts(LONG_PLAN, MACHINE, 100) == 850


def test_the_run_on_takes_the_faster_leg_if_it_can_be_reached():
    slow = run_on_counts(PLAN, MACHINE, 0)
    assert slow == run_on_counts(LONG_PLAN, MACHINE, 100), "leg 2 begins within reach"
    assert run_on_counts(PLAN, MACHINE, 41 * CPT) < slow
    assert [leg_at(PLAN, n) for n in (0, 199, 200, 799, 800, 5000)] == [0, 0, 1, 1, 2, 2]


BREAK = {"wind": WIND, "plan": LONG_PLAN, "machine": MACHINE}


def test_a_break_in_motion_without_a_board_is_bounded():
    truth = truth_after_break(exact(700), count=700, moving=True, **BREAK)
    assert (truth.low, truth.high, truth.last_sure) == (700, 700 + 850, 700)
    assert truth.certainty is Certainty.BETWEEN


def test_a_reset_in_motion_says_so():
    started = kept(600, Kept.VALID)
    truth = truth_after_break(exact(700), count=700, moving=True, welcome=started, **BREAK)
    assert "reset while winding" in truth.why
    assert (truth.low, truth.high) == (700, 1550)


def test_a_rest_that_the_board_kept_narrows_a_break_in_motion():
    truth = truth_after_break(exact(700), count=700, moving=True, welcome=kept(790), **BREAK)
    assert (truth.low, truth.high, truth.last_sure) == (790 - CPT, 790 + CPT, 790)


def test_a_break_at_rest_is_in_doubt_until_vouched():
    for welcome in (None, kept(700), kept(700, wind=3)):
        truth = truth_after_break(exact(700), count=700, moving=False, welcome=welcome, **BREAK)
        assert (truth.low, truth.high, truth.last_sure) == (680, 720, 700)


def test_a_board_with_the_wind_still_open_went_on_counting():
    truth = truth_after_break(exact(1500), count=700, moving=True, status=status_of(790), **BREAK)
    assert truth == exact(1590), "800 counts of the coil are from earlier winds"
    rocked_by = truth_after_break(
        exact(700), count=700, moving=False, status=status_of(700, 2), **BREAK
    )
    assert (rocked_by.low, rocked_by.high) == (698, 702)
    other = truth_after_break(
        exact(700), count=700, moving=False, status=status_of(700, wind=3), **BREAK
    )
    assert other.certainty is Certainty.BETWEEN


@given(truths, st.booleans(), st.integers(0, 900))
def test_a_break_never_makes_a_count_surer(last, moving, more):
    truth = truth_after_break(last, count=500, moving=moving, welcome=kept(500 + more), **BREAK)
    assert truth.certainty is Certainty.BETWEEN
    assert truth.low <= last.low + more and truth.high >= last.high


def test_is_sharp():
    assert is_sharp(exact(1)) and is_sharp(vouched(1, "a", "b"))
    assert not is_sharp(CountTruth(Certainty.BETWEEN, 1, 1))
