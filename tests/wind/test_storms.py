"""A storm of false edges on a sensor of one channel: what is told is a part of it, so all that it counted is in doubt.

The scripted board says how many edges it counted and how many it did not believe; how many of the counted ones were
false is known to the test alone. The same on the unmodified binary: ``tests/firmware/test_chip_storms.py``.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import BLIND_MACHINE, brought, session_of
from test_session_stops import WELCOME, Script

from firmware_protocol.messages import Has, State, Trip
from winder.wind.model import CountTruth, Intent

PER_STATUS = 10  # 200 counts/s
BLIND = replace(WELCOME, has=int(Has.GUARD))


class Blind(Script):
    """A board of one channel that winds at 200 counts/s; ``told`` edges it did not believe so far."""

    def __init__(self, *, sense: bool = False) -> None:
        if sense:
            super().__init__()
        else:
            self.session = session_of(machine=BLIND_MACHINE)
            self.now_ms, self.revision, self.count, self.requests = 0, 1, 0, []
            self.session.hear(BLIND, 0)
        self.told = 0
        self.started()

    def winds(self, statuses: int, *tells: int, each: int = PER_STATUS) -> Blind:
        """So many statuses; the first of them tell so many edges more."""
        for number in range(statuses):
            self.told += tells[number] if number < len(tells) else 0
            self.status(State.WINDING, self.count + each, implausible=self.told)
        return self

    def trips(self, cause: Trip, *, coasts: int = 0) -> Blind:
        for number in range(coasts + 3):
            risen = PER_STATUS if number < coasts else 0
            rate = {"rate_mcps": 200_000} if risen else {}
            self.status(
                State.TRIPPED,
                self.count + risen,
                trip=cause,
                implausible=self.told,
                flags=0,
                **rate,
            )
        return self

    @property
    def truth(self) -> CountTruth:
        return self.session.course.truth


def test_a_single_edge_that_is_told_is_in_doubt_either_way():
    board = Blind().winds(20, 0, 1)
    assert (board.truth.low, board.truth.high) == (board.count - 1, board.count + 1)


@pytest.mark.parametrize(
    "tells", [(0, 2), (0, 1, *[0] * 60, 1)], ids=["at once", "three seconds apart"]
)
def test_two_that_one_disturbance_tells_or_two_far_apart_stay_two(tells):
    board = Blind().winds(80, *tells)
    assert (board.truth.low, board.truth.high) == (board.count - 2, board.count + 2)


@pytest.mark.parametrize("tells", [(1, 1, 1), (3,), (1, 0, 0, 0, 1)], ids=str)
def test_more_of_them_put_in_doubt_what_was_counted_among_them(tells):
    board = Blind().winds(30)
    before = board.count
    board.winds(len(tells), *tells)
    among = board.count - before
    board.winds(60)
    wide = board.count - sum(tells) - board.truth.low
    assert among + 4 * PER_STATUS <= wide < among + 40 * PER_STATUS  # two statuses on either side
    assert board.truth.high == board.count + sum(tells)


def test_the_longer_from_one_told_edge_to_the_next_the_longer_may_none_have_been_told_before():
    downs = []
    for quiet in (1, 5, 10):
        board = Blind().winds(100)
        board.winds(3 * (quiet + 1), *3 * (1, *[0] * quiet)).winds(100)
        downs.append(board.count - board.told - board.truth.low)
    assert downs[0] < downs[1] < downs[2]
    assert downs[2] >= 2 * 3 * 11 * PER_STATUS  # three gaps of eleven statuses before and behind


def test_the_counts_between_two_storms_are_not_in_doubt():
    board = Blind().winds(30, 3).winds(400).winds(30, 3)
    assert board.count - board.told - board.truth.low < 20 * PER_STATUS


@pytest.mark.parametrize("cause", [Trip.SENSOR_IMPLAUSIBLE, Trip.OVERSPEED])
def test_a_trip_that_questions_the_sensor_reaches_back_and_on_until_rest(cause):
    board = Blind().winds(30)
    tripped_at = board.count
    board.trips(cause, coasts=12)
    assert board.truth.low <= tripped_at - 6 * PER_STATUS  # 0.3 s
    assert board.truth.low > tripped_at - 12 * PER_STATUS
    assert board.truth.high >= board.count


def test_a_trip_reaches_back_over_the_storm_that_it_ends():
    board = Blind().winds(60)
    before = board.count
    board.winds(20, *10 * (1, 0)).trips(Trip.SENSOR_IMPLAUSIBLE, coasts=4)
    assert before - 20 * PER_STATUS < board.truth.low + board.told < before


def test_silence_after_told_edges_is_a_storm_and_without_them_none():
    stormed, jammed = (Blind().winds(60, *[0] * 58, told).trips(Trip.STALLED) for told in (1, 0))
    assert stormed.truth.low < stormed.count - 6 * PER_STATUS
    assert jammed.truth.low == jammed.count


def test_a_sensor_that_knows_the_direction_has_no_storms():
    board = Blind(sense=True).winds(30, 3)
    assert board.truth.low == board.count - 3


def test_what_a_person_counted_after_a_storm_ends_its_doubt():
    board = Blind().winds(30, 3)
    board.ask(Intent.PAUSE)
    for _ in range(4):
        board.status(State.PAUSED, board.count, implausible=board.told)
    assert not board.truth.is_sharp
    board.ask(Intent.SETTLE_COUNT, 15.0)
    assert board.truth.is_sharp and board.truth.best == 300


def test_a_storm_doubts_nothing_from_before_the_last_rest():
    board = Blind().winds(30)
    for _ in range(4):
        board.status(State.PAUSED, board.count)
    rested = board.count
    board.ask(Intent.CONTINUE)
    board.answer()
    board.winds(21, 1, *[0] * 9, 1, *[0] * 9, 1)  # three gaps of 0.5 s reach back over the rest
    assert board.truth.low == rested - 3


def test_the_storm_is_written_down_and_found_again():
    board = Blind().winds(30, 3).winds(10)
    account = brought(0)
    for event in board.session.take_events():
        account = account.take_all(event.deeds)
    assert account.truth(live=board.session.course.wind).low == board.truth.low < board.count - 3
