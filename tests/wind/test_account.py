"""The account's laws, one by one, against numbers worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import CPT, WIND, folded

from winder.wind.account import TURNED_BY_HAND, UNMOVED, Account
from winder.wind.deeds import (
    UNDRIVEN_MAX,
    Brought,
    Doubt,
    Drive,
    Drives,
    Keeps,
    Opens,
    Place,
    Says,
    Stretch,
    TakenOff,
    Unmoved,
    Vouch,
    WireWhole,
    Word,
)
from winder.wind.log import EventLog
from winder.wind.truth import Certainty, CountTruth

OTHER = WIND + 1
DRIVE = Drive((Stretch(10**6, True, 400.0, 2000.0),), 2000.0)


def fold(deeds, account: Account | None = None) -> Account:
    account = Account(CPT) if account is None else account
    for deed in deeds:
        account = account.take(deed)
    return account


def opens(wind: int = WIND, *, sense: bool = True, driven: bool = True, boot: int = 5) -> Opens:
    return Opens(wind, boot, CPT, sense, driven)


def says(count: int, at_ms: int, wind: int = WIND, **more) -> Says:
    final = more.pop("final", False)
    return Says(wind, Word(count, uptime_ms=at_ms, **more), final)


# --- words -----------------------------------------------------------------------------------------


def test_a_later_word_replaces_an_earlier_one_and_never_the_other_way_round():
    account = fold([opens(), says(100, 50), says(130, 100)])
    assert account.truth(WIND) == CountTruth(130, 130, 130)
    assert fold([says(7, 60)], account) == account, "said before"
    assert fold([says(131, 150, final=True), says(900, 200)], account).truth() == CountTruth(
        131, 131, 131
    ), "nothing follows a last word"


def test_a_board_that_has_been_up_for_a_month_is_heard_and_its_clock_may_wrap():
    month_ms = 30 * 24 * 3_600_000
    assert month_ms > 1 << 31
    account = fold([opens(), says(10, month_ms)])
    assert account.truth(WIND).low == 10
    account = fold([says(15, (1 << 32) - 10), says(20, 30)], account)
    assert account.truth(WIND).low == 20


def test_two_winds_are_a_sum_and_a_wind_is_opened_once():
    first = fold([opens(), says(800, 50, final=True)])
    both = fold([opens(OTHER, boot=6), says(30, 10, OTHER)], first)
    assert both.truth(OTHER) == CountTruth(830, 830, 830)
    assert both.offset(OTHER) == 800
    assert both.take(opens(OTHER, boot=9)) == both


def test_what_may_have_come_is_gone_when_the_same_wind_is_heard_again():
    account = fold([opens(), Drives(WIND, DRIVE), says(100, 50, moving=True)])
    unheard = account.truth()
    assert unheard.certainty is Certainty.BETWEEN and unheard.low == unheard.best == 100
    again = account.take(says(640, 900))
    assert again.truth(WIND) == CountTruth(640, 640, 640)


def test_what_nobody_heard_after_a_word_at_rest_is_a_turn_either_way():
    truth = fold([opens(), says(800, 50)]).truth()
    assert (truth.low, truth.best, truth.high) == (780, 800, 820)


def test_the_run_on_by_hand():
    """400 counts/s, 15 % over: 460. Unseen 1.5 s; to rest 460/2000 = 0.23 s; coasting 460^2 / 4000 = 52.9.
    460 * 1.73 + 52.9 = 848.7; up, and one for a part of a count."""
    truth = fold([opens(), Drives(WIND, DRIVE), says(100, 50, moving=True)]).truth()
    assert (truth.low, truth.high) == (100, 100 + 850)


def test_the_run_on_goes_no_further_than_the_next_end_that_stops():
    near = Drive((Stretch(300, True, 400.0, 2000.0), Stretch(10**6, True, 400.0, 2000.0)), 2000.0)
    truth = fold([opens(), Drives(WIND, near), says(100, 50, moving=True)]).truth()
    assert truth.high == 300 + CPT + 53 + 1, (
        "a turn past it, and a board that is reset coasts: 52.9"
    )


def test_a_bound_that_the_board_told_replaces_the_guess():
    told = replace(DRIVE, rest_s=2.0)
    truth = fold([opens(), Drives(WIND, told), says(100, 50, moving=True)]).truth()
    seen = 460 * 3.5  # the unseen second and a half, and two to rest
    assert truth.high == 100 + seen + 53 + 1, "and the coasting of a board that is reset"


# --- what a board kept -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "kept", "bounds"),
    [
        ({"moving": True}, Keeps(WIND, 790, True), (770, 810)),  # a rest after the last word
        ({}, Keeps(WIND, 700, True), (680, 720)),
        ({}, Keeps(WIND, 706, True), (680, 726)),  # the hull of both, and a turn
        ({}, Keeps(WIND, 600, False), (680, 720)),  # a start before the last word says nothing
        ({"moving": True}, Keeps(WIND, 640, True), (700, 1550)),  # an older rest neither
    ],
)
def test_what_the_board_kept_is_evidence_and_not_a_word(word, kept, bounds):
    account = fold([opens(), Drives(WIND, DRIVE), says(700, 50, **word), kept])
    truth = account.truth()
    assert (truth.low, truth.high) == bounds
    assert account.take(says(705, 90)).truth(WIND) == CountTruth(705, 705, 705), "it is heard again"


def test_a_start_that_the_board_kept_and_the_record_lacks_leaves_room_for_its_motion():
    truth = fold([opens(), Drives(WIND, DRIVE), says(700, 50), Keeps(WIND, 900, False)]).truth()
    assert truth.low <= 700 and truth.high >= 900 + 850


# --- statements ------------------------------------------------------------------------------------


def test_a_vouch_closes_what_lies_before_its_place():
    early = Doubt("wire", Place(WIND, 600), Place(WIND, 800), 200, 0)
    account = fold([opens(), says(800, 50), early])
    vouched = account.take(Vouch(760, CPT, "Mira", "counted", account.place))
    assert vouched.truth(WIND) == CountTruth(760, 760, 760, "Mira", "counted")
    more = vouched.take(says(900, 90))
    assert more.truth(WIND).low == 860 and more.truth(WIND).by == "Mira"


def test_a_doubt_does_not_reach_behind_a_number_that_was_vouched_for():
    """A break is found at 900; all since 500 may be without wire, but somebody counted at 800."""
    account = fold([opens(), says(800, 50)])
    account = account.take(Vouch(800, CPT, "Mira", "counted", account.place))
    account = fold([says(900, 90)], account)
    account = account.take(Doubt("wire", Place(WIND, 500), Place(WIND, 900), 400, 0))
    truth = account.truth(WIND)
    assert (truth.low, truth.high) == (800, 900)


def test_a_number_said_while_nobody_is_heard_is_placed_at_the_first_word_after_it():
    account = fold([opens(), Drives(WIND, DRIVE), says(700, 50, moving=True)])
    told = account.take(Vouch(790, CPT, "Mira", "counted", None))
    assert told.truth() == CountTruth(790, 790, 790, "Mira", "counted")
    assert told.take(says(790, 90)).truth(WIND).low == 790
    assert fold([says(790, 90), says(800, 95)], told).truth(WIND).low == 800
    fresh = fold([opens(OTHER, boot=6), says(30, 10, OTHER)], told)
    assert fresh.truth(OTHER).low == 820, "a new wind's zero is the first word"


def test_the_same_number_said_twice_with_turns_between_is_two_numbers():
    account = fold([opens(), says(800, 50)])
    account = account.take(Vouch(800, CPT, "Mira", "counted", None, account.number(Vouch)))
    account = fold([says(810, 90), says(850, 140)], account)
    assert account.truth(WIND).low == 840
    account = account.take(Vouch(800, CPT, "Mira", "counted", None, account.number(Vouch)))
    assert account.truth(WIND).low == 800
    assert account.take(says(851, 190)).truth(WIND).low == 800


def test_turns_that_came_off_twice_at_one_place_came_off_twice():
    account = fold([opens(), says(800, 50)])
    for _ in range(2):
        number = account.number(TakenOff)
        account = account.take(TakenOff(40, "Mira", account.place, number=number))
    assert account.truth(WIND).low == 720


@pytest.mark.parametrize(("turns", "bounds"), [(3, (740, 740)), (2, (760, 760)), (0, (740, 860))])
def test_edges_that_turns_off_explain_are_no_doubt(turns, bounds):
    account = fold([opens(sense=False), says(800, 50, undriven=60)])
    if turns:
        account = account.take(TakenOff(turns * CPT, "Mira", account.place, explains=60))
    truth = account.truth(WIND)
    assert (truth.low, truth.high) == bounds


def test_a_look_settles_what_came_before_it_and_nothing_later():
    account = fold([opens(), says(800, 50)])
    looked = account.take(Unmoved("Mira", account.place, 50))
    assert looked.truth() == CountTruth(800, 800, 800, "Mira", UNMOVED)
    later = looked.take(says(800, 3_600_000))
    assert later.truth().certainty is Certainty.BETWEEN, "an hour later nobody looked"
    assert looked.take(says(900, 90, moving=True)).truth().certainty is Certainty.BETWEEN


def test_a_wire_found_whole_takes_back_its_own_doubt_and_no_other():
    of_wire = Doubt("wire", Place(WIND, 600), Place(WIND, 800), 200, 0, of_wire=True)
    other = Doubt("sensor", Place(WIND, 700), Place(WIND, 800), 5, 5)
    account = fold([opens(), says(800, 50), of_wire, other, WireWhole(Place(WIND, 800))])
    truth = account.truth(WIND)
    assert (truth.low, truth.high, truth.why) == (795, 805, "sensor")
    after = account.take(replace(of_wire, start=Place(WIND, 790)))
    assert after.truth(WIND).low < 795, "a break after the look"


def test_a_hand_under_a_blind_sensor_is_vouched_for_and_edges_of_both_kinds_count():
    account = fold([opens(sense=False, driven=False), says(40, 50, undriven=20)])
    assert account.truth(WIND) == CountTruth(60, 60, 60, "operator", TURNED_BY_HAND)
    full = account.take(says(40, 90, undriven=UNDRIVEN_MAX))
    assert full.truth(WIND).is_open and full.truth(WIND).low >= 60


def test_nobody_knows_how_far_a_hand_turns_while_nobody_counts():
    account = fold([opens(driven=False), says(800, 50)])
    assert account.truth().is_open
    bounded = account.truth(0, 2.0)  # 6000 rpm at 20 counts a turn are 2000 counts/s
    assert bounded.high == 800 + 4000 + CPT


def test_coils_brought_from_elsewhere():
    account = Account(CPT).take(Brought(780, 800, 830, CPT, "", "an older logbook"))
    assert account.truth() == CountTruth(780, 800, 830, "", "an older logbook")
    assert fold([opens(), says(20, 9)], account).truth(WIND).best == 820


def test_a_clock_that_leaps_is_on_record_step_by_step():
    """Two leaps, each less than half of the clock's range: the last word alone would be taken for an old one."""
    log, live = EventLog(), Account(CPT)
    leaps = (610, 610 + (1 << 30), 630 + (1 << 31))
    for deed in (
        Opens(WIND, 1, CPT, True, True),
        *(Says(WIND, Word(count, uptime_ms=ms)) for count, ms in enumerate(leaps)),
    ):
        live = live.take(deed)
        log.did(deed)
        if live.entry(WIND).word.uptime_ms == 610:
            log.tell("count", 0, "0 turns", 0, {})
    log.tell("count", 0, "0.1 turns", 2, {})
    assert live.entry(WIND).word.count == 2
    assert folded(log.take()) == live
