"""Numbers and durations as a person reads and types them."""

from __future__ import annotations

import pytest

from winder.files.digits import show_duration, show_number
from winder.files.quantities import read_number


@pytest.mark.parametrize(
    ("value", "figures", "text"),
    [
        (26378.4, 4, "26380"),
        (9999.6, 4, "10000"),
        (2e6, 6, "2000000"),
        (1652.04, 5, "1652"),
        (0.00001234, 3, "0.0000123"),
        (107.80, 4, "107.8"),
        (-40.0, 4, "-40"),
        (0.0, 4, "0"),
    ],
)
def test_a_number_is_all_digits(value, figures, text):
    assert show_number(value, figures) == text


@pytest.mark.parametrize("value", [1.0, 999.96, 12_400.0, 1e7, 0.0001, 3.14159e8])
def test_a_number_can_be_typed_back(value):
    assert read_number(show_number(value, 6)) == pytest.approx(value, rel=1e-5)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.2, "0 s"),
        (14.4, "14 s"),
        (59.6, "1 min 00 s"),
        (126, "2 min 06 s"),
        (3599.6, "1 h 00 min"),
        (3900, "1 h 05 min"),
    ],
)
def test_a_duration_as_a_glance_takes_it(seconds, text):
    assert show_duration(seconds) == text
