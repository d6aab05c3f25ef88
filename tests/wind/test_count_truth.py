"""A truth in words, its bounds rounded outwards, and never one that is none."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.wind.truth import (
    OPEN,
    Certainty,
    CountTruth,
    between,
    bounds_words,
    exact,
    made_truth,
    turns_words,
    vouched,
    words,
)


@pytest.mark.parametrize(
    ("truth", "said"),
    [
        (exact(62_120), "3106 turns, exact"),
        (exact(62_130), "3106.5 turns, exact"),
        (vouched(40, "Mira", "looked"), "2 turns, vouched for by Mira (looked)"),
        (vouched(40, "operator", "looked"), "2 turns, vouched for by you (looked)"),
        (
            between(62_090, 62_200, "the board was reset"),
            "3104.5 to 3110 turns: the board was reset",
        ),
        (between(62_090, OPEN, "a hand"), "at least 3104.5 turns: a hand"),
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
    assert bounds_words(between(1, 2, "why"), 3) == "0.33 to 0.67"


numbers = st.integers(-(1 << 45), 1 << 45)


@given(numbers, numbers, numbers)
def test_a_truth_of_whatever_numbers_is_one(low, best, high):
    truth = made_truth(low, best, high, "", "why")
    assert 0 <= truth.low <= truth.best <= truth.high
    assert truth.low <= max(0, low) and truth.high >= high
    assert (
        (truth.certainty is Certainty.BETWEEN) == (truth.low < truth.high) == (not truth.is_sharp)
    )


@given(st.integers(0, 1 << 30))
def test_one_number_is_exact_or_on_somebodys_word(counts):
    assert exact(counts) == CountTruth(counts, counts, counts)
    assert exact(counts).certainty is Certainty.EXACT
    assert vouched(counts, "Mira", "looked").certainty is Certainty.VOUCHED
