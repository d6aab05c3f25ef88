"""Bars and figures are text of an exact width."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.screens.asking import read_turns
from winder.screens.bars import band_bar, column_of_eighths, lane, progress_bar
from winder.screens.figures import SIZES, draw_bounds, draw_word
from winder.screens.keys import KEYS, STOP_KEYS
from winder.screens.words import number, ohms
from winder.wind.model import Phase
from winder.wind.phases import INTENTS_IN


@given(width=st.integers(2, 200), share=st.floats(0, 1), mark=st.none() | st.floats(0, 1))
def test_a_progress_bar_has_its_width_and_is_full_only_at_the_end(width, share, mark):
    done, left = progress_bar(width, share, mark)
    assert len(done) + len(left) == width
    assert (left == "") == (share >= 1)


def test_a_progress_bar_shows_the_next_pause_in_what_is_left():
    assert progress_bar(10, 0.5, 0.75) == ("━━━━━", "──┃──")
    assert progress_bar(10, 0.55) == ("━━━━━", "╾────")


@given(
    nominal=st.floats(0.1, 1e6),
    low=st.floats(0, 0.3),
    high=st.floats(0, 0.3),
    width=st.integers(5, 80),
)
def test_a_band_bar_has_its_width_whatever_the_band(nominal, low, high, width):
    bar = band_bar(width, nominal, nominal * (1 - low), nominal * (1 + high))
    assert len(bar) == width


def test_a_narrower_band_is_a_narrower_bar():
    wide, narrow = band_bar(41, 100, 92, 108), band_bar(41, 100, 98, 102)
    assert narrow.count("▄") < wide.count("▄")
    assert wide.index("▆") == narrow.index("▆") == 20


@given(width=st.integers(6, 100), share=st.floats(0, 1), rightward=st.booleans())
def test_the_lane_has_its_width_and_its_mark_points_where_the_guide_goes(width, share, rightward):
    parts = lane(width, share, rightward)
    assert len("".join(parts)) == width
    assert parts[1] == ("█»" if rightward else "«█")


def test_a_pillar_is_read_from_the_top():
    assert column_of_eighths(11, 3) == " ▃█"
    assert column_of_eighths(0, 2) == "  "
    assert column_of_eighths(99, 2) == "██"


def test_all_digits_of_a_size_have_one_width_and_differ():
    for size in SIZES:
        pictures = {tuple(size.draw(digit)) for digit in range(10)}
        assert len(pictures) == 10
        assert {len(row) for picture in pictures for row in picture} == {size.width}


def test_two_bounds_stand_side_by_side_and_equal_ones_are_one_figure():
    size = SIZES[1]
    assert draw_bounds(size, (7, 7)) == size.draw(7)
    assert len(draw_bounds(size, (7, 8))[0]) == 2 * size.width + 4
    assert "to" in draw_bounds(size, (7, 8))[-1]


def test_a_word_with_an_unknown_sign_has_no_block_letters():
    assert draw_word("no signal") is not None
    assert draw_word("zürich") is None
    assert draw_word("") is None


def test_numbers_read_as_people_write_them():
    assert number(1234567) == "1234567"
    assert [ohms(v) for v in (4.567, 45.67, 456.7, 4567.0)] == ["4.57", "45.7", "457", "4567"]


def test_turns_are_read_strictly():
    assert read_turns("3106") == 3106
    assert read_turns("3 106.5") == 3106.5
    for wrong in ("", "-3", "3,5", "nan", "1e3", "3.", "٣", "99999999", "3.5.1", "+4"):
        assert read_turns(wrong) is None


@pytest.mark.parametrize("phase", list(Phase))
def test_no_key_asks_for_two_things_and_none_is_a_stop_key(phase):
    names = [name for key in KEYS if key.intent in INTENTS_IN[phase] for name in key.names]
    assert len(names) == len(set(names))
    assert not STOP_KEYS & set(names)
