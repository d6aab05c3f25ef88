"""What a board's end lets move and brings to rest: states, stop, lease, trips, the kept record.

What is expected here is written from ``docs/design.md`` ("The board's rules") and the sentences in
``firmware_protocol/messages.py``, not from the code.
"""

from __future__ import annotations

import itertools

import pytest
from pair import THREE_LEGS
from raw_board import BOOT, TOKEN, WIND, RawBoard

from firmware_protocol.body import KeptRecord, Order
from firmware_protocol.device_table import ALLOWED, BOARD_TABLE, IN_MOTION
from firmware_protocol.framing import encode_message
from firmware_protocol.messages import (
    Alive,
    ClearTrip,
    CloseWind,
    Flag,
    Move,
    OpenWind,
    Pace,
    Reason,
    SettleNumber,
    Start,
    State,
    TraverseStep,
    Trip,
    Verdict,
)
from firmware_protocol.wire import REGISTER

# --- states -------------------------------------------------------------------------------------

EVERY_BELIEVING_COMMAND = (
    (CloseWind, {}),
    (Start, {"generation": 1}),
    (Move, {"counts": 4, "rate_mcps": 1000, "accel_mcps2": 1000}),
    (Pace, {"permille": 500}),
    (ClearTrip, {"trip": Trip.NONE}),
)


@pytest.mark.parametrize(
    "state, case", list(itertools.product(State, EVERY_BELIEVING_COMMAND)), ids=str
)
def test_what_a_state_does_not_allow_is_a_wrong_state_and_changes_nothing(state, case) -> None:
    cls, values = case
    if state in ALLOWED[cls]:
        return
    bench = RawBoard()
    bench.arm()
    bench.board.state = state
    bench.board._back_to = State.ARMED
    bench.body.seen.at_rest = False
    revision, deeds = bench.board.revision, list(bench.body.deeds)
    assert bench.verdict(bench.make(cls, **values)) is Verdict.WRONG_STATE
    assert (bench.board.state, bench.board.revision) == (state, revision)
    assert bench.body.deeds == deeds


def test_the_table_leads_everywhere_and_out_again() -> None:
    assert set(BOARD_TABLE.values()) == set(State)
    assert {state for state, _ in BOARD_TABLE} == set(State)
    assert {State.WINDING, State.SLOWING, State.SETTING_UP} == IN_MOTION
    numbered = {layout.cls for layout in REGISTER.values() if layout.numbered}
    assert set(ALLOWED) == numbered


def test_a_wind_by_its_plan_pauses_goes_on_and_is_complete() -> None:
    bench = RawBoard()
    bench.arm(THREE_LEGS)
    assert bench.start() is Verdict.DONE
    assert bench.board.state is State.WINDING
    bench.run(60, alive=True)
    assert bench.board.leg == 1 and bench.statuses[-1].leg == 1
    bench.run(300, alive=True)
    assert (bench.board.state, bench.board.reason) == (State.PAUSED, Reason.LEG_PAUSE)
    assert bench.board.facts.count == 400 and bench.board.leg == 2
    assert bench.start() is Verdict.DONE
    bench.run(500, alive=True)
    assert (bench.board.state, bench.board.reason) == (State.COMPLETE, Reason.TARGET)
    assert bench.statuses[-1].leg == 255 and bench.statuses[-1].count == 1000
    assert bench.start() is Verdict.WRONG_STATE


def test_a_rest_short_of_the_end_is_never_called_complete() -> None:
    bench = RawBoard()
    bench.arm()
    bench.body.seen.count = 900
    bench.start()
    bench.run(10, alive=True)
    bench.body.seen.arrived = True  # a body that is wrong about itself
    bench.body._coming_to_rest_ms = 5
    bench.run(10, alive=True)
    assert bench.board.facts.count < 1000
    assert bench.board.state is State.PAUSED


def test_every_answer_tells_the_revision_after_the_command_and_status_agrees() -> None:
    bench = RawBoard()
    bench.arm()
    before = bench.board.revision
    said = bench.ask(bench.make(Start, generation=1))
    assert said.revision == before + 1
    bench.run(60)
    assert bench.statuses[-1].revision == said.revision
    assert bench.statuses[-1].flags & Flag.DRIVEN


# --- stop and lease -----------------------------------------------------------------------------


def test_a_stop_needs_no_session_and_changes_nothing_at_rest() -> None:
    bench = RawBoard()
    bench.stop()
    assert bench.board.revision == 0 and bench.board.state is State.STILL


@pytest.mark.parametrize("begin", ["winding", "move", "guide"])
def test_a_stop_ends_every_motion_with_the_count_kept(begin: str) -> None:
    bench = RawBoard()
    bench.arm()
    set_in_motion(bench, begin)
    bench.run(10)
    bench.stop()
    bench.stop()  # idempotent
    assert [drive.order for drive in bench.body.drives].count(Order.REST) == 1
    bench.run(150)
    assert bench.board.state is (State.PAUSED if begin == "winding" else State.ARMED)
    assert bench.board.reason is Reason.STOP
    assert bench.body.drive.order is Order.OFF
    assert bench.body.kept() == KeptRecord(WIND, bench.body.seen.count, True, True)


def set_in_motion(bench: RawBoard, begin: str) -> None:
    commands = {
        "winding": (Start, {"generation": 1}),
        "move": (Move, {"counts": -400, "rate_mcps": 1000, "accel_mcps2": 1000}),
        "guide": (TraverseStep, {"distance_um": 500}),
    }
    cls, values = commands[begin]
    assert bench.verdict(bench.make(cls, **values)) is Verdict.DONE


@pytest.mark.parametrize("begin", ["winding", "move"])
def test_silence_of_one_second_means_slow_down(begin: str) -> None:
    bench = RawBoard()
    bench.arm()
    bench.run(300)
    bench.live()
    set_in_motion(bench, begin)
    bench.body.seen.count = -5000  # far from any end
    bench.body._move_left = -5000
    bench.run(999)
    assert bench.body.drive.order in (Order.WIND, Order.MOVE)
    assert bench.device.next_tick_ms() <= bench.now_ms + 1
    bench.run(1)
    assert bench.body.drive.order is Order.REST
    assert bench.board.reason is Reason.LEASE_LOST
    bench.live()  # too late: it goes on slowing
    bench.run(200)
    assert bench.board.state in (State.PAUSED, State.ARMED)


def test_only_a_rising_number_of_the_open_session_renews_the_lease() -> None:
    bench = RawBoard()
    bench.hello()
    for token, number in ((88, 1), (TOKEN, 0)):
        bench.give(encode_message(Alive(token, number)))
        assert not bench.device.lease_live
    bench.give(encode_message(Alive(TOKEN, 5)))
    assert bench.device.lease_live
    bench.run(999)
    for number in (5, 4):
        bench.give(encode_message(Alive(TOKEN, number)))
    bench.run(1)
    assert not bench.device.lease_live


def test_a_stop_and_a_sign_of_life_pass_an_unanswerable_number() -> None:
    bench = RawBoard()
    bench.arm()
    bench.start()
    data = encode_message(SettleNumber(TOKEN), 99) + encode_message(Alive(TOKEN, 50))
    assert bench.give(data)[0][1].verdict is Verdict.CONFLICT
    bench.stop()
    assert bench.board.state is State.SLOWING


# --- cut ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("begin", ["winding", "move", "guide"])
def test_a_cut_takes_the_drive_away_at_once_and_comes_to_rest_like_a_stop(begin: str) -> None:
    bench = RawBoard()
    bench.arm()
    set_in_motion(bench, begin)
    bench.run(10)
    revision = bench.board.revision
    bench.cut()
    assert bench.body.drive.order is Order.CUT
    assert (bench.board.state, bench.board.reason) == (State.SLOWING, Reason.STOP)
    assert bench.board.revision == revision + 1
    bench.run(300)
    assert bench.board.state is (State.PAUSED if begin == "winding" else State.ARMED)
    assert bench.board.trip is Trip.NONE


def test_a_cut_while_slowing_keeps_the_reason_and_the_state() -> None:
    bench = RawBoard()
    bench.arm()
    bench.start()
    bench.run(10)
    bench.stop()
    revision = bench.board.revision
    bench.cut()
    bench.cut()
    assert bench.body.deeds[-2:] == ["cut", "cut"]
    assert (bench.board.state, bench.board.reason) == (State.SLOWING, Reason.STOP)
    assert bench.board.revision == revision


def test_a_cut_at_rest_or_tripped_changes_nothing() -> None:
    bench = RawBoard()
    bench.cut()
    assert bench.board.revision == 0 and bench.body.deeds == ["off"]
    bench = RawBoard(by_watchdog=True)
    bench.cut()
    assert (bench.board.state, bench.board.revision) == (State.TRIPPED, 0)


# --- trips --------------------------------------------------------------------------------------


def test_a_trip_cuts_the_drive_at_once_latches_and_needs_its_cause_gone() -> None:
    bench = RawBoard()
    bench.arm()
    bench.start()
    bench.run(20)
    bench.body.seen.trip = Trip.WIRE_LOST
    bench.body.seen.wire_present = False
    bench.device.tick(bench.now_ms)
    assert bench.body.drive.order is Order.CUT
    assert (bench.board.state, bench.board.trip) == (State.TRIPPED, Trip.WIRE_LOST)
    clear = {"trip": Trip.WIRE_LOST}
    assert bench.verdict(bench.make(ClearTrip, **clear)) is Verdict.CAUSE_REMAINS
    bench.body.seen.trip = Trip.NONE
    bench.body.seen.wire_present = True
    assert bench.verdict(bench.make(ClearTrip, **clear)) is Verdict.CAUSE_REMAINS  # not at rest
    assert bench.start() is Verdict.WRONG_STATE
    bench.run(150)
    assert bench.ask(bench.make(ClearTrip, trip=Trip.STALLED)).detail == 4
    assert bench.verdict(bench.make(ClearTrip, **clear)) is Verdict.DONE
    assert (bench.board.state, bench.board.reason) == (State.PAUSED, Reason.CLEARED)
    assert bench.body.drive.order is Order.OFF  # clearing moves nothing


def test_a_guard_opened_in_motion_trips_and_an_open_one_at_rest_troubles_nobody() -> None:
    bench = RawBoard()
    bench.arm()
    bench.body.seen.guard_open = True
    bench.run(100)
    assert bench.board.state is State.ARMED
    bench.body.seen.guard_open = False
    bench.live()
    bench.start()
    bench.run(5)
    bench.body.seen.guard_open = True
    bench.run(1)
    assert bench.board.trip is Trip.GUARD_OPENED
    bench.run(150)
    clear = bench.make(ClearTrip, trip=Trip.GUARD_OPENED)
    assert bench.verdict(clear) is Verdict.CAUSE_REMAINS


def test_missing_wire_does_not_trip_a_move_at_the_bench() -> None:
    bench = RawBoard()
    bench.arm()
    bench.body.seen.wire_present = False
    bench.body.seen.trip = Trip.WIRE_LOST
    set_in_motion(bench, "move")
    bench.run(20)
    assert bench.board.state is State.SETTING_UP


def test_a_trip_before_the_first_start_clears_to_armed_or_still() -> None:
    for armed in (True, False):
        bench = RawBoard()
        bench.arm()
        if not armed:
            assert bench.verdict(bench.make(CloseWind)) is Verdict.DONE
        set_in_motion(bench, "move")
        bench.body.seen.trip = Trip.OVERSPEED
        bench.run(1)
        bench.body.seen.trip = Trip.NONE
        bench.run(150)
        assert bench.verdict(bench.make(ClearTrip, trip=Trip.OVERSPEED)) is Verdict.DONE
        assert bench.board.state is (State.ARMED if armed else State.STILL)


def test_a_watchdog_reset_is_a_trip_until_it_is_cleared() -> None:
    bench = RawBoard(by_watchdog=True)
    bench.hello()
    assert (bench.board.state, bench.board.trip) == (State.TRIPPED, Trip.WATCHDOG)
    assert bench.verdict(OpenWind(TOKEN, BOOT, bench.board.revision, 3)) is Verdict.WRONG_STATE
    assert bench.verdict(bench.make(ClearTrip, trip=Trip.WATCHDOG)) is Verdict.DONE
    assert bench.board.state is State.STILL


# --- the kept record -----------------------------------------------------------------------------


@pytest.mark.parametrize("begin", ["winding", "move", "guide"])
def test_the_rest_is_taken_back_before_anything_is_ordered(begin: str) -> None:
    bench = RawBoard(kept=KeptRecord(3, 100, True, True))
    bench.arm()
    set_in_motion(bench, begin)
    ordered = {"winding": "wind", "move": "move", "guide": "guide"}[begin]
    deeds = bench.body.deeds
    assert deeds.index("keep started") < deeds.index(ordered)
    assert bench.body.kept() == KeptRecord(3, 100, True, False)
    bench.run(400, alive=True)
    assert bench.body.kept().at_rest and bench.body.kept().wind == WIND


def test_no_rest_is_recorded_without_a_wind() -> None:
    bench = RawBoard()
    bench.hello()
    bench.live()
    set_in_motion(bench, "guide")
    bench.run(50)
    assert bench.board.state is State.STILL and bench.body.records == []


def test_a_doubtful_count_is_not_recorded_as_a_rest() -> None:
    bench = RawBoard()
    bench.arm()
    bench.start()
    bench.run(20)
    bench.body.seen.trip = Trip.SENSOR_IMPLAUSIBLE
    bench.run(200)
    assert bench.body.kept().valid and not bench.body.kept().at_rest
