"""The account over a coil's life, against a model that knows the truth, and over deeds that nobody would make.

The model of a coil below is the reference: it keeps its true turns apart from everything that is said of them, in a
dozen lines without an account. What the account says of the coil must hold that truth, whatever happened.
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from session_bench import CPT, holds
from test_account import DRIVE, fold, opens, says

from winder.shelf.deeds_json import deeds_from_json, deeds_to_json
from winder.wind.account import Account
from winder.wind.deeds import (
    OPEN,
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


more = st.integers(0, 1)


@settings(max_examples=200)
@given(st.lists(strange, max_size=6), more, more, more, winds, st.none() | st.floats(0, 1e9))
def test_an_account_that_counts_as_another_has_its_truth(
    deeds, counts, undriven, sooner, live, since_s
):
    account = fold([*deeds, opens(1), says(800, 50, 1)])
    entry = account.entries[-1]
    word = entry.word
    later = replace(
        word,
        count=word.count + counts,
        undriven=word.undriven + undriven,
        sooner=word.sooner + sooner,
        uptime_ms=(word.uptime_ms + 50) % (1 << 32),
        moving=not word.moving,
    )
    after = account.take(Says(entry.wind, later))
    if after.counts_as(account, live):
        assert after.truth(live, since_s) == account.truth(live, since_s)
