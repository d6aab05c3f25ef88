"""What was read off an instrument is understood alike wherever it is typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.files.amounts import MeasuredOhms, read_measured_ohms
from winder.files.quantities import QuantityError
from winder.recipe.observations import OhmReading
from winder.recipe.readings import read_reading
from winder.shelf.readings import read_measured

LIKE = "'832 ohm, 27 C'"


@pytest.mark.parametrize(
    ("text", "ohm", "step", "celsius"),
    [
        ("832 ohm, 27 C", 832.0, 1.0, 27.0),
        ("27 C, 832 ohm", 832.0, 1.0, 27.0),
        ("5.655k 23", 5655.0, 1.0, 23.0),
        ("3.77 k\u03a9, 72 F", 3770.0, 10.0, 22.2222),
        ("43.1 \u03a9, 22 \u00b0C", 43.1, 0.1, 22.0),
        ("43.10 ohms", 43.1, 0.01, 20.0),
    ],
)
def test_all_readers_read_the_same(text, ohm, step, celsius):
    at_desk = read_measured_ohms(text, LIKE)
    assert at_desk == MeasuredOhms(
        pytest.approx(ohm), pytest.approx(step), pytest.approx(celsius, abs=1e-4), celsius != 20.0
    )
    on_shelf = read_measured(text)
    assert (on_shelf.ohm, on_shelf.temperature_c) == (at_desk.ohm, at_desk.celsius)
    while_wound = read_reading(text, 100.0)
    assert isinstance(while_wound, OhmReading)
    assert (while_wound.ohm, while_wound.temperature_c) == (at_desk.ohm, at_desk.celsius)
    assert while_wound.step_ohm == at_desk.step_ohm


@pytest.mark.parametrize(
    ("text", "what", "remedy"),
    [
        ("832", "has no unit", "3.9 ohm"),
        ("8,32 ohm", "decimal comma: 8,32", "8.32"),
        ("832 V", '"V" is not a unit', "write ohm"),
        ("832 ohm, 31 C, 32 C", "twice", LIKE),
        ("832 ohm, 3 mm", "a length in it too", LIKE),
        ("22 C", "does not give a resistance", LIKE),
        ("0 ohm", "must be above zero", "measure again"),
        ("832 ohm, 500 F", "not a temperature", "150 C"),
        ("", "not a measurement", "a number and its unit"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_remedy(text, what, remedy):
    with pytest.raises(QuantityError) as wrong:
        read_measured_ohms(text, LIKE)
    assert what in wrong.value.what and remedy in wrong.value.remedy


@given(st.text(max_size=40), st.booleans())
def test_any_text_is_read_or_told(text, length):
    try:
        assert read_measured_ohms(text, LIKE, length=length).ohm > 0
    except QuantityError as wrong:
        assert wrong.what and wrong.remedy and "\x1b" not in wrong.what
