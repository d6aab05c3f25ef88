"""Readings as a person writes them, and what follows from them for one coil."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.known import figure_known, target_words
from winder.coil.winding import figure_coil, turns_for_resistance
from winder.errors import UserMistake, WinderError
from winder.machine.instruments import Instruments
from winder.machine.model import SIMULATED_BENCH
from winder.recipe.model import (
    AwgWire,
    Direction,
    Recipe,
    ResistanceTarget,
    RoundCore,
    TurnsTarget,
)
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    OhmReading,
    SpoolTail,
)
from winder.recipe.readings import read_reading, reading_text


def coil(target):
    return figure_coil(
        Recipe("test coil", "invented", AwgWire(42, "single"), RoundCore(0.008), 0.008, 0.005,
               target, Direction.CLOCKWISE)
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("tail, 8 m, 43.1 ohm, 22 C", SpoolTail(8.0, 43.1, 22.0)),
        ("tail, 8 m", SpoolTail(8.0, None, 20.0)),
        ("build, 2000 turns, 1.41 mm", BuildCaliper(2000.0, 1.41e-3)),
        ("outside, 2000 turns, 8 mm, 10.9 mm", FinishedDiameter(2000.0, 8e-3, 10.9e-3)),
        ("outside, 2000 turns, 8 mm", FinishedDiameter(2000.0, 8e-3)),
        ("ohm, 2500 turns, 0.832 kohm, 23 C", OhmReading(2500.0, 832.0, 23.0)),
        ("ohm, 23 C, 2500.5 turns", OhmReading(2500.5, None, 23.0)),
        ("earlier, 5000 turns, 1712 ohm", EarlierCoil(5000.0, 1712.0, 20.0, noted_c=False)),
    ],
)
def test_a_reading_is_understood_by_its_units(text, meant):
    assert read_reading(text) == meant


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("5.655k 23", OhmReading(2500.0, 5655.0, 23.0)),
        ("5655 23", OhmReading(2500.0, 5655.0, 23.0)),
        ("5655", OhmReading(2500.0, 5655.0, 20.0, noted_c=False)),
        ("3.77 k\u03a9, 22 \u00b0C", OhmReading(2500.0, 3770.0, 22.0)),
        ("3.77 k\u2126", OhmReading(2500.0, 3770.0, noted_c=False)),
        ("43.1 \u03a9, 22 \u00b0C", OhmReading(2500.0, 43.1, 22.0)),
        ("832 ohm, 68 F", OhmReading(2500.0, 832.0, 20.0)),
        ("832 ohm, 23 C, rested 1 h", OhmReading(2500.0, 832.0, 23.0, 60.0)),
        ("832 ohm, 23 C, just wound", OhmReading(2500.0, 832.0, 23.0)),
        ("tail, 20 m, 107.8 ohm 22", SpoolTail(20.0, 107.8, 22.0)),
        ('build, 0.055", on the flats', BuildCaliper(2500.0, 1.397e-3, on_flats=True)),
        ("build, 1.41 mm, at the ends", BuildCaliper(2500.0, 1.41e-3, on_flats=False)),
    ],
)
def test_a_reading_is_taken_as_people_write_it(text, meant):
    found = read_reading(text, 2500.0)
    assert found == meant
    again = read_reading(reading_text(found))
    assert again == found
    assert getattr(again, "step_ohm", 0) == getattr(found, "step_ohm", 0)


@pytest.mark.parametrize(
    ("text", "step"), [("5.655k", 1.0), ("5.66k", 10.0), ("43.1 ohm", 0.1), ("832 ohm", 1.0)]
)
def test_what_was_typed_tells_the_last_digit_that_was_read(text, step):
    assert read_reading(text, 2500.0).step_ohm == step


@pytest.mark.parametrize(
    ("text", "says", "remedy"),
    [
        ("43.1 V", "not a unit of a reading", "write ohm or k"),
        ("5.6k, rested 3 days", "rested for", "20 min"),
        ("1e3 ohm", "an exponent", "without"),
        ("1_000 ohm", "digits and a point", "1000"),
        ("ohm, 2 3 turns, 4 ohm", "not a measurement", "a number and its unit"),
        ("832 ohm, 400 C", "not a temperature", "150"),
        ("caliper, 3 mm", "not something to measure", "tail, build"),
        ("ohm, 300 ohm", "at how many turns", "2500 turns"),
        ("tail, 43 ohm", "its length", "8 m"),
        ("ohm, 100 turns, 3,9 ohm", "a decimal comma: 3,9", "with a point, 3.9"),
        ("ohm, 100 turns, 3 ohm, 4 ohm", "its ohm twice", "keep one"),
        ("outside, 9 turns, 6 mm, 9 mm, 4 mm", "a length too many", "leave it out"),
        ("ohm, 9 turns, 3 mm", "a length too many", "leave it out"),
        ("tail, 0 m turns", "", ""),
        ("ohm, 0 turns, 3 ohm", "no turns", "above zero"),
        ("", "not something to measure", "begin with"),
        ("tail, 8 mOhm", "unit", "write ohm"),
    ],
)
def test_what_is_no_reading_is_told_with_the_remedy(text, says, remedy):
    with pytest.raises(UserMistake) as mistake:
        read_reading(text)
    assert says in mistake.value.what
    assert remedy in mistake.value.remedy


@given(st.text(max_size=60))
def test_any_text_is_a_reading_or_a_mistake(text):
    try:
        read_reading(text)
    except UserMistake as mistake:
        assert mistake.remedy


def test_readings_narrow_the_ohms_and_the_turns_for_a_target():
    a_coil = coil(ResistanceTarget(500.0))
    # A spool 3 % above its table, a winding as figured: what the coil itself would then show.
    true_ohm = 1.03 * a_coil.wire.ohm_per_m.nominal
    readings = [
        SpoolTail(8.0, 8.0 * true_ohm),
        OhmReading(float(a_coil.turns), 1.03 * a_coil.resistance_ohm_20c.nominal),
    ]
    nothing, tail, both = (figure_known(a_coil, readings[:count]) for count in (0, 1, 2))

    def width(known):
        return known.ohm.high / known.ohm.low

    assert width(nothing) > width(tail) > width(both)
    assert both.ohm.low < 1.03 * 500 < both.ohm.high
    assert both.turns_for_target is not None and both.wind_long_turns is not None
    before = turns_for_resistance(a_coil, 500.0).nominal
    assert before * 0.96 < both.turns_for_target.nominal < before * 0.985
    assert both.wind_long_turns >= both.turns_for_target.high
    off = both.take_off
    assert off is not None and off.whole > 0
    assert any("take off" in sentence for sentence in target_words(both))


def test_a_good_meter_takes_off_what_all_that_is_known_says():
    """Taking off has the meter at its word; only a good one, on a coil at rest, outweighs what tables say."""
    good = Instruments(
        counts=1_000_000, gain_share=5e-4, digits=1.0, leads_ohm=0.0, thermometer_k=0.1
    )
    recipe = coil(ResistanceTarget(500.0)).recipe
    a_coil = figure_coil(recipe, machine=replace(SIMULATED_BENCH, instruments=good))
    shown = 1.03 * a_coil.resistance_ohm_20c.nominal
    known = figure_known(a_coil, [OhmReading(float(a_coil.turns), shown, rested_min=10_000.0)])
    assert known.take_off is not None and known.turns_for_target is not None
    assert known.take_off.turns == pytest.approx(
        a_coil.turns - known.turns_for_target.nominal, abs=3
    )


def test_what_is_not_measured_yet_is_asked_what_it_would_buy():
    known = figure_known(coil(TurnsTarget(4000)), [SpoolTail(8.0), BuildCaliper(2000.0)])
    assert [told.made for told in known.told] == [False, False]
    for told in known.told:
        assert told.ohm_after.high - told.ohm_after.low < known.ohm.high - known.ohm.low
    assert known.ohm == known.ohm_before
    assert target_words(known) == []


def test_a_reading_that_cannot_be_is_told_and_not_swallowed():
    with pytest.raises(WinderError) as trouble:
        figure_known(coil(TurnsTarget(4000)), [OhmReading(4000.0, 1.2)])
    assert "expected" in trouble.value.what
    assert "likely causes in order" in trouble.value.remedy
