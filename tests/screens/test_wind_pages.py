"""What stands on the page of a wind, for every state and size. Read from the page, not pictured."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pages import SIZES_ASKED, assert_keys_shown, drawn, has_figure, has_word, rows_of
from rich.cells import cell_len

from tests.pages.scenes import SCENES, WINDING, moment
from winder.screens.figures import SIZES
from winder.screens.keys import KEYS, STOP_PLACE_COLUMNS, shown_keys
from winder.screens.lay import Window, fit_window, lay_pillars
from winder.screens.page import Ink
from winder.screens.trip_page import draw_trip
from winder.screens.words import counted, moves
from winder.wind.model import Certainty, CountTruth, Intent, Phase


@pytest.mark.parametrize("size", SIZES_ASKED)
@pytest.mark.parametrize("scene", sorted(SCENES))
def test_every_state_tells_its_word_its_count_and_its_keys_at_every_size(scene, size):
    view = SCENES[scene]
    page = drawn(view, *size)
    assert has_word(page, view.headline)
    text = page.text()
    if view.count.truth.certainty is Certainty.BETWEEN:
        assert not has_figure(page, int(view.count.turns)) or has_figure(
            page, view.count.truth.low // 4
        )
    elif view.phase is not Phase.TRIPPED:
        assert has_figure(page, int(view.count.turns))
        assert "exact" in text
    last_rows = "\n".join(text.splitlines()[-3:])
    assert_keys_shown(view, last_rows)
    assert ("stop" in last_rows) == moves(view)


@pytest.mark.parametrize("size", SIZES_ASKED)
def test_the_sentence_of_what_comes_next_is_shown(size):
    assert "Pauses (measure) in 212 turns, about 14 s." in drawn(WINDING, *size).text()


def test_keys_that_are_not_possible_now_are_not_shown():
    shown = {key.intent for key in shown_keys(WINDING)}
    assert shown == {Intent.SLOWER, Intent.FASTER, Intent.WIRE_BROKE}
    paused = {key.intent for key in shown_keys(SCENES["paused"])}
    assert {Intent.CONTINUE, Intent.END_HERE, Intent.LEAVE} <= paused
    assert Intent.START not in paused


def test_the_place_of_stop_is_never_taken_by_another_key():
    everything = frozenset(Intent)
    for phase in Phase:
        view = moment(WINDING, phase=phase, may=everything)
        for row in drawn(view, 60, 18).rows()[-2:]:
            for piece in row:
                if any(piece.text.strip() == key.cap for key in KEYS):
                    assert piece.x >= STOP_PLACE_COLUMNS


@pytest.mark.parametrize("size", SIZES_ASKED)
@pytest.mark.parametrize("phase", [Phase.READY, Phase.PAUSED, Phase.TRIPPED])
def test_all_keys_that_can_be_possible_at_once_fit(phase, size):
    first = {
        Phase.READY: Intent.START,
        Phase.PAUSED: Intent.CONTINUE,
        Phase.TRIPPED: Intent.CLEAR_TRIP,
    }
    others = {Intent.VOUCH_UNMOVED, Intent.SETTLE_COUNT, Intent.NOTE}
    if phase is not Phase.TRIPPED:
        others |= {Intent.SLOWER, Intent.FASTER, Intent.END_HERE}
    view = moment(
        SCENES["paused"], phase=phase, may=frozenset({first[phase], Intent.PAUSE, *others})
    )
    text = "\n".join(drawn(view, *size).text().splitlines()[-3:])
    assert_keys_shown(view, text)
    assert "q leave" in text or " q  leave" in text


def test_slower_keeps_its_name_where_faster_is_not_possible():
    may = SCENES["paused"].may - {Intent.FASTER} | {Intent.VOUCH_UNMOVED}
    text = drawn(moment(SCENES["paused"], may=may), 60, 18).text()
    assert "- slower" in text and "+" not in text


def test_preparing_moves_nothing_and_does_not_look_like_motion():
    view = moment(SCENES["ready"], phase=Phase.PREPARING, headline="preparing")
    page = drawn(view, 120, 40)
    assert not rows_of(page, Ink.MOTION_BLOCK) | rows_of(page, Ink.BLOCK)
    assert "┌─" in page.text() and "┏" not in page.text()


def test_what_turns_is_reversed_and_what_waits_is_framed():
    turning, waiting = drawn(WINDING, 120, 40), drawn(SCENES["paused"], 120, 40)
    assert len(rows_of(turning, Ink.MOTION_BLOCK)) >= 5
    assert "┏" not in turning.text()
    assert not rows_of(waiting, Ink.MOTION_BLOCK) | rows_of(waiting, Ink.BLOCK)
    assert "┏━" in waiting.text() and "━┓" in waiting.text()


def test_the_accent_is_used_only_while_something_turns():
    for view in SCENES.values():
        if not moves(view):
            page = drawn(view, 120, 40)
            assert not rows_of(page, Ink.MOTION) | rows_of(page, Ink.MOTION_BLOCK)


def test_the_bigger_figure_is_the_count_far_from_the_end_and_what_is_left_near_it():
    large = SIZES[0]
    far, near = drawn(WINDING, 120, 40).text(), drawn(SCENES["landing"], 120, 40).text()
    assert all(row.strip() in far for row in large.draw(3106))
    assert all(row.strip() in near for row in large.draw(87))
    assert not all(row.strip() in near for row in large.draw(4913))


def test_a_count_in_doubt_is_shown_as_two_figures_with_the_reason():
    for size in SIZES_ASKED:
        page = drawn(SCENES["doubt"], *size, notices=("Not exact: the spindle was turned.",))
        assert has_figure(page, 3315) and has_figure(page, 3321)
        assert "between these two" in page.text()
        assert "Not exact: the spindle was turned." in page.text()


def test_a_vouched_count_names_who_vouched():
    truth = CountTruth(12424, 12424, 12424, by="Ada", why="counted by hand")
    view = moment(WINDING, truth=truth)
    assert "vouched for by Ada" in drawn(view, 80, 24).text()


def test_turns_beyond_the_target_are_told_and_not_hidden():
    view = moment(
        SCENES["complete"],
        turns=5003.0,
        remaining_turns=0.0,
        truth=CountTruth(20012, 20012, 20012),
    )
    page = drawn(view, 100, 30)
    assert "turns over the target" in page.text()
    assert has_figure(page, 5003) and has_figure(page, 3)


def test_a_started_turn_counts_as_a_turn_to_go():
    view = moment(
        WINDING,
        turns=3106.75,
        remaining_turns=1893.25,
        truth=CountTruth(12427, 12427, 12427),
    )
    page = drawn(view, 120, 40)
    assert has_figure(page, 3106) and has_figure(page, 1894)


def test_a_trip_takes_the_whole_page_and_tells_all_five_things():
    for size in SIZES_ASKED:
        page = drawn(SCENES["trip"], *size)
        assert page.ground is Ink.ALARM
        text = " ".join(page.text().split())
        assert "The wire broke or ran out." in text
        assert "First seen 1 min 15 s ago." in text
        assert "Take off the loose turns and say how many" in text
        assert "t clears it; this moves nothing." in text
        assert has_figure(page, 3118) or "between 3106 and 3118 turns" in text


def test_a_trip_whose_cause_remains_does_not_offer_to_clear_it():
    view = moment(SCENES["trip"], may=frozenset({Intent.NOTE}))
    text = " ".join(drawn(view, 80, 24).text().split())
    assert "t clear the trip" not in text and "t clears it" not in text
    assert "You can clear the trip once the cause is gone and nothing turns." in text


def test_only_the_word_of_a_trip_blinks():
    lit = draw_trip(SCENES["trip"], 80, 24, since_s=1, lit=True)
    dark = draw_trip(SCENES["trip"], 80, 24, since_s=1, lit=False)
    assert lit.text() == dark.text()
    differing = [
        y for y, pair in enumerate(zip(lit.rows(), dark.rows(), strict=True)) if pair[0] != pair[1]
    ]
    assert differing and max(differing) <= 6


def test_the_lay_stands_higher_behind_the_guide_than_before_it():
    view = moment(WINDING, layers=4, layer=3, guide_share=0.5, window_mm=None, lay=())
    window = Window(columns=10, rows=4, build_eighths=32, to_scale=False)
    behind, ahead = "█" * 3, "█" * 2
    rightward = lay_pillars(view, window)
    assert [pillar.strip() for pillar in rightward] == [behind] * 5 + [ahead] * 5
    leftward = lay_pillars(moment(view, guide_rightward=False), window)
    assert [pillar.strip() for pillar in leftward] == [ahead] * 5 + [behind] * 5


def test_the_bobbin_keeps_its_shape_at_any_size():
    for width, rows in ((50, 10), (30, 10), (60, 4)):
        window = fit_window(WINDING, width, rows)
        assert window.columns <= width - 2 and window.rows <= rows
        assert abs(window.columns / (2 * window.rows) - 9.5 / 3.4) < 0.5


def test_without_a_window_nothing_claims_to_be_to_scale():
    assert "to scale" in drawn(WINDING, 120, 40).text()
    assert "to scale" not in drawn(moment(WINDING, window_mm=None), 120, 40).text()


def allowed(sign: str) -> bool:
    """ASCII, Latin-1, box drawing, block elements: what every common terminal font has."""
    code = ord(sign)
    return 0x20 <= code < 0x7F or 0xA0 <= code <= 0xFF or 0x2500 <= code <= 0x259F or sign == "\n"


@pytest.mark.parametrize("scene", sorted(SCENES))
def test_pages_use_only_signs_every_terminal_has(scene):
    for size in SIZES_ASKED:
        text = drawn(SCENES[scene], *size).text()
        assert {sign for sign in text if not allowed(sign)} == set()


HOSTILE = [
    "[/x]",
    "[bold red]",
    "\x1b[2J\x1b]0;x\x07",
    "a\nb\tc",
    "\u202eevil",
    "\ud800",
    "名前" * 40,
    "",
]


@given(
    name=st.one_of(st.sampled_from(HOSTILE), st.text(max_size=60)),
    scene=st.sampled_from(sorted(SCENES)),
    width=st.integers(1, 160),
    height=st.integers(1, 60),
)
@settings(max_examples=150, deadline=None)
def test_any_text_at_any_size_stays_inside_the_page(name, scene, width, height):
    view = moment(
        SCENES[scene],
        recipe_name=name,
        headline=name or "x",
        advice=name,
        trip=name,
        trip_advice=name,
        lines=(name,) * 3,
        direction=name,
    )
    page = drawn(view, width, height, notices=(name,))
    rows = page.rows()
    assert len(rows) == height
    for row in rows:
        end = 0
        for piece in row:
            assert piece.x >= end
            assert cell_len(piece.text) == piece.cells
            assert piece.text.isprintable()
            end = piece.x + piece.cells
        assert end <= width


@given(turns=st.floats(0, 99_999), doubt=st.integers(0, 4000), target=st.integers(1, 99_999))
@settings(max_examples=100, deadline=None)
def test_counts_of_any_size_are_told_at_every_size(turns, doubt, target):
    counts = int(turns * 4)
    view = moment(
        WINDING,
        turns=counts / 4,
        remaining_turns=max(0.0, target - counts / 4),
        target_turns=target,
        truth=CountTruth(counts, counts, counts + doubt),
    )
    for size in SIZES_ASKED:
        page = drawn(view, *size)
        low, high = counts // 4, -(-(counts + doubt) // 4) if doubt else counts // 4
        told = has_figure(page, low) and has_figure(page, high)
        assert told or counted(view).split(" ")[-2] in page.text()
