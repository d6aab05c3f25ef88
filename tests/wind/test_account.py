"""The account's laws, as properties: over a coil's life that knows its own truth, and over deeds that nobody would make.

The model of a coil below is the reference: it keeps its true turns apart from everything that is said of them, in a
dozen lines without an account. What the account says of the coil must hold that truth, whatever happened.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from session_bench import CPT, WIND, holds

from winder.shelf.deeds_json import deeds_from_json, deeds_to_json
from winder.wind.account import TURNED_BY_HAND, UNMOVED, Account
from winder.wind.deeds import (
    OPEN,
    UNDRIVEN_MAX,
    Brought,
    Deed,
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
    account = fold([opens(), says(10, month_ms), says(15, (1 << 32) - 10), says(20, 30)])
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
    assert truth.high == 300 + CPT + 1


def test_a_bound_that_the_board_told_replaces_the_guess():
    told = replace(DRIVE, rest_s=2.0)
    truth = fold([opens(), Drives(WIND, told), says(100, 50, moving=True)]).truth()
    assert truth.high == 100 + 460 * 3.5 + 1, "the unseen second and a half, and two to rest"


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


# --- a coil's life, and a model that knows its truth ------------------------------------------------


class Coil:
    """A spindle, a board and a person; ``on_it`` is the truth. Every deed is told as the session would tell it."""

    def __init__(self, *, sense: bool, driven: bool) -> None:
        self.sense, self.driven = sense, driven
        self.on_it = 0
        self.wind, self.count, self.undriven, self.at_ms = 0, 0, 0, 0
        self.deeds: list[Deed] = []
        self.account = Account(CPT)
        self.live = 0
        self.open()

    def told(self, deed: Deed) -> None:
        self.deeds.append(deed)
        self.account = self.account.take(deed)

    def open(self) -> None:
        self.wind += 1
        self.count = self.undriven = 0
        self.at_ms = 1000 * (self.wind % 3)  # a reset may have come between
        self.told(opens(self.wind, sense=self.sense, driven=self.driven, boot=self.wind))
        self.told(Drives(self.wind, DRIVE))
        self.speak()

    def speak(self, **how) -> None:
        self.at_ms += 50
        word = Word(self.count, self.undriven, 0, self.at_ms, **how)
        self.told(Says(self.wind, word))
        self.live = self.wind

    def wind_on(self, counts: int) -> None:
        self.speak(moving=True)
        self.count += counts
        self.on_it += counts
        self.speak()

    def hand(self, counts: int) -> None:
        self.on_it += counts
        if self.sense:
            self.count += counts
        elif self.driven:
            self.undriven += abs(counts)
        else:  # one direction only: what a person vouches for
            self.on_it += abs(counts) - counts
            self.count += abs(counts)
        self.speak()

    def killed_in_motion(self, counts: int) -> None:
        """Nobody listens any more; the board comes to rest within its bound."""
        self.speak(moving=True)
        self.live = 0
        self.count += counts
        self.on_it += counts

    def lost(self, touch: int) -> None:
        """The board forgot the wind at rest, and a hand may have touched the spindle."""
        self.speak()
        self.live = 0
        self.on_it += touch if self.driven else 0
        self.open()

    def vouch(self, heard: bool) -> None:
        if not heard:
            self.live = 0
        place = self.account.place if self.live else None
        number = self.account.number(Vouch)
        self.told(Vouch(self.on_it, CPT, "Mira", "counted", place, number))

    def take_off(self, counts: int) -> None:
        counts = min(counts, self.on_it)
        self.on_it -= counts
        number = self.account.number(TakenOff)
        self.told(TakenOff(counts, "Mira", self.account.place, number=number))


acts = st.lists(
    st.one_of(
        st.tuples(st.just("wind_on"), st.integers(0, 500)),
        st.tuples(st.just("hand"), st.integers(-CPT, CPT)),
        st.tuples(st.just("killed_in_motion"), st.integers(0, 800)),
        st.tuples(st.just("lost"), st.integers(-CPT, CPT)),
        st.tuples(st.just("speak")),
        st.tuples(st.just("vouch"), st.booleans()),
        st.tuples(st.just("take_off"), st.integers(1, 60)),
    ),
    max_size=25,
)


def lived(order, *, sense: bool, driven: bool) -> Coil:
    coil = Coil(sense=sense, driven=driven)
    coil.wind_on(400)
    for act, *values in order:
        if not coil.live and act not in ("speak", "vouch"):
            coil.speak()
        if not driven and act in ("killed_in_motion", "lost"):
            continue
        getattr(coil, act)(*values)
        truth = coil.account.truth(coil.live)
        assert truth.low <= truth.best <= truth.high
        assert holds(truth, max(0, coil.on_it)), (act, values, truth, coil.on_it)
    return coil


@settings(max_examples=300)
@given(acts, st.booleans(), st.booleans())
def test_the_account_holds_the_truth_of_a_coil_that_knows_it(order, sense, driven):
    lived(order, sense=sense, driven=driven)


@settings(max_examples=150)
@given(acts, st.booleans())
def test_nothing_is_added_twice(order, sense):
    """Every deed twice in a row, all of them twice over, and through the shelf's own text: the same account."""
    coil = lived(order, sense=sense, driven=True)
    assert fold(deed for deed in coil.deeds for _ in range(2)) == coil.account
    truth = coil.account.truth(coil.live)
    assert fold(coil.deeds, coil.account).truth(coil.live) == truth
    assert fold(deeds_from_json(deeds_to_json(coil.deeds))) == coil.account


@settings(max_examples=150)
@given(acts)
def test_a_coil_under_a_sense_of_direction_that_is_always_heard_stays_sharp(order):
    """Doubting everything does not pass."""
    kept = [act for act in order if act[0] in ("wind_on", "hand", "speak", "take_off")]
    coil = lived(kept, sense=True, driven=True)
    truth = coil.account.truth(coil.live)
    assert truth.is_sharp and truth.low == max(0, coil.on_it)
    assert (truth.certainty is Certainty.EXACT) == (not any(a[0] == "take_off" for a in kept))


# --- deeds that nobody would make -------------------------------------------------------------------

numbers = st.one_of(st.integers(-50, 2000), st.integers(-(1 << 45), 1 << 45))
floats = st.floats(allow_nan=True, allow_infinity=True)
winds = st.integers(0, 3)
places = st.builds(Place, winds, numbers, numbers, numbers)
words = st.builds(Word, numbers, numbers, numbers, numbers, st.booleans(), st.booleans())
drives = st.builds(
    Drive,
    st.lists(st.builds(Stretch, numbers, st.booleans(), floats, floats), max_size=3).map(tuple),
    floats,
    floats,
)
whys = st.sampled_from(["a", "b", ""])
strange = st.one_of(
    st.builds(Opens, winds, numbers, st.integers(1, 100), st.booleans(), st.booleans()),
    st.builds(Says, winds, words, st.booleans()),
    st.builds(Drives, winds, drives),
    st.builds(Keeps, winds, numbers, st.booleans()),
    st.builds(Brought, numbers, numbers, numbers, st.integers(1, 100), whys, whys),
    st.builds(Doubt, whys, places, places, numbers, numbers, st.booleans(), st.booleans(), whys),
    st.builds(Vouch, numbers, st.integers(1, 100), whys, whys, st.none() | places, winds),
    st.builds(TakenOff, numbers, whys, places, numbers, winds),
    st.builds(Unmoved, whys, places, numbers),
    st.builds(WireWhole, places),
)


@settings(max_examples=400)
@given(st.lists(strange, max_size=20), winds, st.none() | st.floats(0, 1e9))
def test_no_deeds_make_a_truth_that_is_none_or_an_exception(deeds, live, since_s):
    account = fold(deeds)
    truth = account.truth(live, since_s)
    assert 0 <= truth.low <= truth.best <= truth.high
    assert isinstance(account.can_vouch_unmoved(live), bool)
    assert isinstance(account.offset(live), int)
    assert fold(deeds) == account, "the same deeds, the same account"


@settings(max_examples=100)
@given(st.lists(strange, max_size=12), st.integers(0, 10**6))
def test_a_number_that_a_person_counts_settles_whatever_came_before(deeds, counts):
    account = fold(deeds).take(Vouch(counts, CPT, "Mira", "counted", None, 9))
    assert account.truth() == CountTruth(counts, counts, counts, "Mira", "counted")


@given(st.lists(strange, max_size=12))
def test_doubts_and_evidence_never_make_a_count_surer(deeds):
    account = fold([opens(1), says(800, 50, 1), *deeds])
    if account.truth(1).is_sharp or account.truth(1).high >= OPEN:
        return
    doubted = account.take(Doubt("more", Place(1, 900), Place(1, 900), 3, 3, key="new"))
    assert (
        doubted.truth(1).high - doubted.truth(1).low >= account.truth(1).high - account.truth(1).low
    )
