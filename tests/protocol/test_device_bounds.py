"""Every way to rest is bounded by the two told times, and what the drive does by itself isolates it."""

from __future__ import annotations

import pytest
from pair import COUNTER_BOARD, FULL_BOARD
from raw_board import TOKEN, RawBoard

from firmware_protocol.body import Order
from firmware_protocol.device import DeviceEnd
from firmware_protocol.messages import ClearTrip, CloseWind, OpenWind, Reason, State, Trip, Verdict

CUT_MS, REST_MS = FULL_BOARD.cut_ms, FULL_BOARD.rest_ms


def winding(**facts) -> RawBoard:
    bench = RawBoard()
    bench.arm()
    bench.start()
    bench.run(10)
    return bench


def never_rests(bench: RawBoard) -> None:
    bench.body._advance_1_ms = lambda: None  # what was true stays so


@pytest.mark.parametrize("cause", ["stop", "lease"])
def test_the_drive_is_cut_at_the_first_time_and_a_spindle_that_goes_on_trips_at_the_second(cause):
    bench = winding()
    if cause == "stop":
        bench.stop()
    else:
        bench.body.seen.count = -(1 << 20)  # far from any leg's end
        bench.run(1010)
    assert bench.board.state is State.SLOWING
    never_rests(bench)
    slowed_ms = bench.now_ms
    while bench.body.drive.order is Order.REST:
        bench.run(1)
    assert CUT_MS - 200 <= bench.now_ms - slowed_ms <= CUT_MS
    never_rests(bench)
    assert bench.board.trip is Trip.NONE
    while bench.board.state is State.SLOWING:
        bench.run(1)
    assert REST_MS - 200 <= bench.now_ms - slowed_ms <= REST_MS
    assert (bench.board.state, bench.board.trip) == (State.TRIPPED, Trip.NOT_STOPPED)
    assert bench.body.drive.order is Order.ISOLATE


def test_a_cut_by_a_person_does_not_begin_the_time_anew():
    bench = winding()
    bench.stop()
    never_rests(bench)
    bench.run(REST_MS - 50)
    bench.cut()
    never_rests(bench)
    bench.run(60)
    assert bench.board.trip is Trip.NOT_STOPPED


def test_a_trip_whose_spindle_goes_on_gives_way_to_not_stopped():
    bench = winding()
    bench.body.seen.guard_open = True
    bench.run(1)
    assert bench.board.trip is Trip.GUARD_OPENED
    never_rests(bench)
    bench.run(REST_MS + 1)
    assert (bench.board.trip, bench.body.drive.order) == (Trip.NOT_STOPPED, Order.ISOLATE)
    revision = bench.board.revision
    bench.run(2 * REST_MS)
    assert bench.board.revision == revision  # once


@pytest.mark.parametrize("trip", [Trip.NOT_STOPPED, Trip.TURNED_UNDRIVEN])
def test_motion_with_the_drive_off_trips_at_rest_and_isolates(trip):
    bench = RawBoard()
    bench.arm()
    never_rests(bench)
    bench.body.seen.trip, bench.body.seen.at_rest = trip, False
    bench.run(1)
    assert (bench.board.state, bench.board.trip) == (State.TRIPPED, trip)
    assert bench.body.drive.order is Order.ISOLATE
    bench.body.seen.trip = Trip.NONE
    clear = {"trip": trip}
    assert bench.verdict(bench.make(ClearTrip, **clear)) is Verdict.CAUSE_REMAINS
    bench.body.seen.at_rest = True
    bench.run(1)
    assert bench.verdict(bench.make(ClearTrip, **clear)) is Verdict.DONE
    assert (bench.board.state, bench.body.drive.order) == (State.ARMED, Order.OFF)


def test_other_causes_trip_nothing_at_rest():
    bench = RawBoard()
    bench.arm()
    for trip in (Trip.OVERSPEED, Trip.STALLED, Trip.WIRE_LOST, Trip.GUARD_OPENED):
        bench.body.seen.trip = trip
        bench.run(5)
        assert bench.board.state is State.ARMED


def test_a_count_that_turned_undriven_is_kept_without_at_rest():
    bench = winding()
    bench.stop()
    bench.run(200)
    assert bench.body.kept().at_rest
    bench.body.seen.trip, bench.body.seen.at_rest = Trip.TURNED_UNDRIVEN, False
    bench.run(1)
    bench.body.seen.trip, bench.body.seen.at_rest = Trip.NONE, True
    bench.run(1)
    assert bench.body.kept().valid and not bench.body.kept().at_rest


def rebooted(bench: RawBoard, by_watchdog: bool = False) -> RawBoard:
    body = bench.body
    body.seen.at_rest = True
    again = RawBoard()
    again.body = body
    again.device = DeviceEnd(body, FULL_BOARD, 5, again.now_ms, by_watchdog)
    return again


def test_a_board_that_was_in_motion_comes_back_tripped_until_it_is_cleared():
    again = rebooted(winding())
    assert (again.board.state, again.board.trip) == (State.TRIPPED, Trip.RESET_IN_MOTION)
    assert again.board.reason is Reason.TRIP
    again.run(500)
    once_more = rebooted(again)
    assert once_more.board.trip is Trip.RESET_IN_MOTION  # seen at rest, and not forgotten
    once_more.hello()
    assert once_more.verdict(OpenWind(TOKEN, 5, once_more.board.revision, 3)) is Verdict.WRONG_STATE
    clear = once_more.make(ClearTrip, trip=Trip.RESET_IN_MOTION)
    assert once_more.verdict(clear) is Verdict.DONE
    assert rebooted(once_more).board.state is State.STILL


def test_the_watchdog_is_told_before_the_motion_that_it_ended():
    assert rebooted(winding(), by_watchdog=True).board.trip is Trip.WATCHDOG


def test_motion_is_remembered_before_it_is_ordered_and_forgotten_at_every_rest():
    bench = winding()
    deeds = bench.body.deeds
    assert deeds.index("in motion") < deeds.index("wind") and bench.body.moving
    bench.stop()
    bench.run(200)
    assert not bench.body.moving
    assert bench.verdict(bench.make(CloseWind)) is Verdict.DONE


def test_a_board_without_a_motor_remembers_and_trips_nothing():
    bench = RawBoard(COUNTER_BOARD)
    bench.body.moving = True
    bench.body.seen.trip = Trip.TURNED_UNDRIVEN
    bench.device = DeviceEnd(bench.body, COUNTER_BOARD, 5, bench.now_ms)
    bench.run(100)
    assert bench.board.state is State.STILL
