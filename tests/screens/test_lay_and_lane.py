"""The lay as it is, the lane of a guiding hand, and what is said of wire, readings and turns that come off."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pages import SIZES_ASKED, assert_keys_shown, drawn, rows_of

from tests.pages.scenes import SCENES, WINDING, moment
from winder.screens.figures import SIZES
from winder.screens.hand_lane import lane_parts, lane_words
from winder.screens.lay import Window, lay_columns, lay_pillars, unevenness
from winder.screens.page import Ink
from winder.screens.words import finding_notices, off_figure
from winder.wind.model import CountTruth, Intent, WindView


def led(**changes: object) -> WindView:
    """A view with heights that are told; 8 places, the outer two in the margins."""
    base = moment(
        WINDING,
        lay=(0.0, 0.5, 0.5, 0.5, 0.25, 0.25, 0.5, 0.0),
        lay_span=(0.125, 0.875),
        window_mm=(8.0, 4.0, 3.0),
        layer=20,
        layers=40,
    )
    return moment(base, **changes)


def test_the_lay_is_drawn_as_high_as_it_is():
    window = Window(columns=8, rows=4, build_eighths=24, to_scale=True, flange_eighths=32)
    pillars = [pillar.strip() for pillar in lay_pillars(led(), window)]
    assert pillars == ["", "██", "██", "██", "█", "█", "██", ""]
    wide = Window(columns=16, rows=4, build_eighths=24, to_scale=True, flange_eighths=32)
    assert [p.strip() for p in lay_pillars(led(), wide)] == [p for p in pillars for _ in range(2)]


def test_a_column_over_the_edge_of_a_margin_shows_the_side_it_mostly_lies_on():
    heights = lay_columns(led(lay=(0.0, 0.5) + (0.5,) * 6), 3)
    assert heights == pytest.approx([0.5, 0.5, 0.5])
    assert lay_columns(led(lay_span=(0.3, 0.875)), 3)[0] == pytest.approx(
        (0.5 * 0.125 + 0.5 * 0.05) / 0.3
    )


def test_the_caption_says_how_far_lowest_and_highest_are_from_the_mean():
    # Places: means of neighbours 0.5 0.5 0.375 0.25 0.375; the mean of the six is 2.5 / 6.
    assert unevenness(led()) == "lowest 40 % under, highest 20 % over the mean"
    assert unevenness(led(), 36) == "40 % under to 20 % over the mean"
    text = drawn(led(), 120, 40).text()
    assert "lowest 40 % under, highest 20 % over the mean" in text


def test_low_places_have_the_mean_as_a_line_over_them():
    page = drawn(led(), 120, 40)
    lines = [piece for row in page.rows() for piece in row if piece.text[0] in "▁─▔"]
    lines = [piece for piece in lines if piece.ink is Ink.QUIET and 70 < piece.x < 118]
    assert lines
    level = drawn(led(lay=(0.0, *[0.5] * 6, 0.0)), 120, 40).text()
    assert "lowest 0 % under, highest 0 % over the mean" in level


@pytest.mark.parametrize(
    "changes", [{"lay": ()}, {"layer": 3}, {"guide_share": None}, {"lay": (0.0,) * 8}]
)
def test_nothing_is_said_of_evenness_where_it_would_say_nothing(changes):
    assert unevenness(led(**changes)) == ""


@pytest.mark.parametrize("size", SIZES_ASKED)
def test_the_lane_of_a_guiding_hand_moves_with_the_wire(size):
    """The bar goes from wall to wall and is the largest thing that moves."""
    places = []
    for share in (0.02, 0.5, 0.98):
        lane = moment(SCENES["by hand"].lay.lane, share=share)
        page = drawn(moment(SCENES["by hand"], lane=lane), *size)
        bars = [
            p
            for row in page.rows()
            for p in row
            if p.ink is Ink.MOTION and set(p.text) <= set("█▐▌")
        ]
        assert len(bars) >= {120: 4, 100: 3, 80: 3, 60: 1}[size[0]]
        assert len({(bar.x, bar.cells) for bar in bars}) == 1
        places.append((bars[0].x, bars[0].x + bars[0].cells))
    margin = {120: 3, 100: 2, 80: 1, 60: 1}[size[0]]
    assert places[0][0] == margin + 1
    assert places[2][1] == size[0] - margin - 1
    assert abs(sum(places[1]) - size[0]) <= 1


@given(share=st.floats(0.02, 0.98), width=st.integers(20, 150), near=st.booleans())
def test_a_row_of_the_lane_has_its_width(share, width, near):
    lane = moment(SCENES["by hand"].lay.lane, share=share)
    for rightward in (True, False):
        before, bar, after = lane_parts(replace(lane, rightward=rightward), width, near=near)
        assert len(before + bar + after) == width
        assert before[0] == after[-1] == "█"


def test_the_lane_says_where_it_turns_and_warns_of_it():
    lane = SCENES["by hand"].lay.lane
    assert lane_words(lane) == " guide to the right, 58 turns to the edge   layer 23 »"
    near = replace(lane, turns_to_edge=20.0, rightward=False)
    assert lane_words(near) == "« last 20 turns to the left edge, then turn round   layer 23 "
    assert "last 1 turn to" in lane_words(replace(lane, turns_to_edge=0.25))
    assert "turn round now" in lane_words(replace(lane, turns_to_edge=0.0))
    for size in SIZES_ASKED:
        far, close = (drawn(SCENES[scene], *size) for scene in ("by hand", "edge near"))
        assert "58 turns to the edge" in far.text() and "last" not in far.text()
        assert "last 7 turns" in close.text()
        assert len(rows_of(close, Ink.MOTION_BLOCK)) > len(rows_of(far, Ink.MOTION_BLOCK))


@pytest.mark.parametrize("size", SIZES_ASKED)
def test_what_is_to_be_taken_off_is_the_big_figure(size):
    page = drawn(SCENES["taking off"], *size)
    assert all(row.strip() in page.text() for row in SIZES[0].draw(38))
    assert "turns to take off" in page.text()
    unmeasured = drawn(SCENES["measure first"], *size).text()
    assert "turns to take off: measure the coil" in " ".join(unmeasured.split())
    assert "turns to go" not in unmeasured


def test_parts_of_turns_and_too_many_taken_off_are_told():
    view = SCENES["taking off"]
    assert off_figure(moment(view, off_turns=2.25)) == (
        3,
        "turns to take off, exactly 2.25",
    )
    assert off_figure(moment(view, off_turns=-2.0)) == (
        2,
        "turns too many were taken off",
    )
    between = CountTruth(1, 1, 2)
    assert "at most" in off_figure(moment(view, truth=between))[1]


def test_turning_back_looks_like_motion_and_offers_the_stop():
    for size in SIZES_ASKED:
        page = drawn(SCENES["turning back"], *size)
        assert rows_of(page, Ink.MOTION_BLOCK)
        assert "SPACE" in page.text() and "q leave" not in page.text()


@pytest.mark.parametrize("size", SIZES_ASKED)
def test_a_broken_wire_and_an_offered_target_are_in_sight(size):
    broke = " ".join(page_with_notices(SCENES["wire broke"], size).split())
    assert "wire broke at about turn 3318" in broke
    assert "j joined" in broke and "i w" in broke and "c continue" not in broke
    offered = " ".join(page_with_notices(SCENES["offered"], size).split())
    assert "853 ohm take 4951 turns" in offered
    assert any(f"y {label}" in offered for label in ("use the new target", "adopt"))
    silent = moment(SCENES["offered"], advice="continue, or end here")
    told = " ".join(page_with_notices(silent, size).split())
    assert "853 ohm take" in told


def page_with_notices(view: WindView, size: tuple[int, int]) -> str:
    return drawn(view, *size, notices=finding_notices(view)).text()


def test_every_key_at_a_pause_fits_sixty_columns_even_all_of_them_at_once():
    everything = SCENES["offered"].may | {Intent.VOUCH_UNMOVED}
    view = moment(SCENES["offered"], may=everything)
    assert_keys_shown(view, "\n".join(drawn(view, 60, 18).text().splitlines()[-2:]))
    broke = moment(
        SCENES["wire broke"],
        may=SCENES["wire broke"].may | {Intent.VOUCH_UNMOVED, Intent.ADOPT_TURNS},
    )
    assert_keys_shown(broke, "\n".join(drawn(broke, 60, 18).text().splitlines()[-2:]))
