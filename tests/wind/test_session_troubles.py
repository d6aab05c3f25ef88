"""Silence, resets, trips and unlikely statuses: the count is exact, or bounded with the reason."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import (
    BLIND_BOARD,
    BLIND_MACHINE,
    BOARD,
    COUNTER,
    CPT,
    HAND_DRILL,
    LONG_PLAN,
    MACHINE,
    NS_PER_MS,
    PLAN,
    Bench,
    holds,
    leg,
    plan_of,
)
from test_session_stops import Script

from firmware_protocol.heard import Trouble, Troubled
from firmware_protocol.messages import ClearTrip, SetTarget, Start, State, Stop, Trip
from winder.plan.model import AtEnd
from winder.wind.model import Certainty, Intent, Phase
from winder.wind.truth import words
from winder.wind.watch import RESETS_AFTER


def how(bench: Bench) -> str:
    return dict(bench.journal[-1].facts)["how"]


# --- silence ------------------------------------------------------------------------------------


def test_silence_while_winding_is_told_and_the_board_comes_to_rest_by_itself():
    bench = Bench(LONG_PLAN).winding().run(1000)
    bench.cable = False
    bench.run(900)
    assert bench.session.phase is Phase.WINDING
    bench.run(200)
    assert bench.session.phase is Phase.UNHEARD
    view = bench.view()
    assert "stops the spindle by itself" in view.advice
    assert view.trouble.link_age_s > 1
    assert view.count.truth.certainty is Certainty.BETWEEN
    bench.run(1000)
    assert not bench.moving
    assert holds(bench.truth, bench.body.true_count)


def test_a_board_that_is_heard_again_stands_where_it_says_and_is_not_started():
    bench = Bench(LONG_PLAN).winding().run(1000)
    bench.cable = False
    bench.run(2500)
    starts = bench.body.starts
    bench.cable = True
    bench.run(3000)
    assert bench.session.phase is Phase.PAUSED
    assert bench.body.starts == starts
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.EXACT, bench.body.true_count)
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.WINDING)


def test_a_start_whose_board_fell_silent_does_not_happen_later():
    bench = Bench(LONG_PLAN).ready()
    bench.cable = False
    bench.ask(Intent.START)
    bench.run(5000)
    bench.cable = True
    bench.run(4000)
    assert bench.body.starts == 0
    assert bench.session.phase is Phase.READY


def test_a_board_that_hears_us_but_is_not_heard_is_stopped():
    script = Script().started()
    script.tick(1100)
    assert script.session.phase is Phase.UNHEARD
    assert script.requests[-1] == Stop()
    script.status(State.WINDING, 300, uptime_ms=script.now_ms + 50)
    assert script.session.phase is Phase.SLOWING, "it is heard again, and comes to rest"


def test_a_lost_link_ends_the_run_after_the_time_to_rest():
    bench = Bench(LONG_PLAN).winding().run(1000)
    bench.unplug()
    assert bench.session.phase is Phase.UNHEARD
    bench.run(8000)
    assert not bench.session.finished, "the port may come back, with the wind still open"
    bench.run_until(Phase.LOST, limit_ms=300_000)
    assert bench.session.finished
    assert how(bench) == "lost"
    assert holds(bench.truth, bench.body.true_count)
    assert bench.truth.certainty is Certainty.BETWEEN


def test_a_link_lost_at_rest_leaves_a_count_to_vouch_for():
    bench = Bench().winding().run_until(Phase.PAUSED)
    bench.unplug()
    bench.run_until(Phase.LOST, limit_ms=310_000)
    assert bench.session.finished
    truth = bench.truth
    assert (truth.low, truth.high) == (39 * CPT, 41 * CPT)
    assert bench.ask(Intent.VOUCH_UNMOVED) == ""
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.VOUCHED, 40 * CPT)


@pytest.mark.parametrize(
    ("trouble", "word"),
    [
        (Trouble.NO_WELCOME, "no board"),
        (Trouble.OTHER_VERSION, "version"),
        (Trouble.HELD, "another program"),
    ],
)
def test_a_board_that_cannot_be_had_ends_the_run_in_words(trouble, word):
    bench = Bench()
    bench.session.hear(Troubled(trouble), 1)
    assert bench.session.phase is Phase.LOST
    assert bench.session.finished
    assert word in bench.session.view(1).advice


# --- resets and other hosts -----------------------------------------------------------------------


@pytest.mark.parametrize("after_ms", [40, 333, 1210, 2500])
def test_a_reset_in_motion_leaves_a_count_with_true_bounds(after_ms):
    bench = Bench(LONG_PLAN).winding().run(after_ms)
    bench.reset()
    bench.run(3000)
    truth = bench.truth
    assert bench.session.phase is Phase.LOST and bench.session.finished
    assert truth.certainty is Certainty.BETWEEN
    assert holds(truth, bench.body.true_count)
    assert "not heard to come to rest" in words(truth, CPT)
    assert "this wind is over" in bench.view().advice
    assert how(bench) == "lost"
    assert bench.view().may == {Intent.SETTLE_COUNT, Intent.NOTE}


def test_a_reset_right_after_the_start_is_a_reset_in_motion():
    bench = Bench(LONG_PLAN).ready()
    bench.ask(Intent.START)
    bench.run(15)
    assert bench.session.course.board.status.state == State.ARMED and bench.moving
    bench.reset()
    bench.run(3000)
    assert holds(bench.truth, bench.body.true_count)
    assert bench.body.true_count > CPT


def test_a_reset_at_rest_is_in_doubt_until_somebody_vouches_or_settles():
    bench = Bench().winding().run_until(Phase.PAUSED)
    bench.reset()
    bench.run(3000)
    truth = bench.truth
    assert truth.certainty is Certainty.BETWEEN
    assert (truth.low, truth.high) == (39 * CPT, 41 * CPT)
    assert bench.ask(Intent.SETTLE_COUNT, 40.0) == ""
    assert bench.truth.certainty is Certainty.VOUCHED
    assert bench.truth.low == 40 * CPT


def test_one_stray_status_of_another_boot_or_wind_is_no_reset():
    script = Script().started()
    script.status(State.STILL, 0, wind=0, boot=6, uptime_ms=5)
    script.status(State.WINDING, 15, rate_mcps=200_000)
    script.status(State.STILL, 0, wind=99)
    script.status(State.WINDING, 25, rate_mcps=200_000)
    assert script.session.phase is Phase.WINDING
    assert script.session.course.truth.low == 25


def test_a_board_that_another_host_took_ends_the_wind():
    bench = Bench().winding().run_until(Phase.PAUSED)
    other = type(bench.host)(4711)
    bench.alive = False
    bench.run(1500)
    other.open(bench.now_ns)
    for _ in range(40):
        bench.run(5)
        bench.device.receive(other.data_to_send(bench.now_ns), bench.now_ms)
    bench.ask(Intent.CONTINUE)
    bench.run(2000)
    assert bench.session.phase is Phase.LOST
    assert bench.session.finished
    assert not bench.moving
    truth = bench.truth
    assert truth.certainty is Certainty.BETWEEN, "the other host may have turned it"
    assert (truth.best, truth.high - truth.low) == (40 * CPT, 2 * CPT)


# --- trips ------------------------------------------------------------------------------------------


def trip_bench(trip: Trip, **seen) -> Bench:
    bench = Bench(LONG_PLAN).winding().run(1000)
    bench.body.seen.trip = trip
    for name, value in seen.items():
        setattr(bench.body.seen, name, value)
    return bench.run_until(Phase.TRIPPED)


def test_a_trip_is_told_latches_and_moves_nothing_when_it_is_cleared():
    bench = trip_bench(Trip.GUARD_OPENED, guard_open=True)
    view = bench.view()
    assert "guard" in view.trouble.trip and "close the guard" in view.trouble.advice
    bench.run(1000)
    assert not bench.moving
    assert bench.ask(Intent.CLEAR_TRIP) == ""
    bench.run(300)
    assert bench.session.phase is Phase.TRIPPED, "the cause is still there"
    assert "cause" in bench.view().advice
    bench.body.seen.guard_open, bench.body.seen.trip = False, Trip.NONE
    bench.ask(Intent.CLEAR_TRIP)
    bench.run_until(Phase.PAUSED).run(3000)
    assert not bench.moving
    assert bench.truth.certainty is Certainty.EXACT
    assert [r.trip for r in bench.sent if isinstance(r, ClearTrip)] == [Trip.GUARD_OPENED] * 2
    assert "cleared" in bench.kinds()
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.WINDING)


def test_turns_after_the_wire_was_lost_are_in_doubt():
    bench = Bench(LONG_PLAN).winding().run(1000)
    on_the_coil = bench.body.true_count
    bench.body.seen.trip = Trip.WIRE_LOST
    bench.run_until(Phase.TRIPPED).run(1000)
    truth = bench.truth
    assert truth.certainty is Certainty.BETWEEN
    assert truth.low <= on_the_coil < bench.body.true_count == truth.high
    assert bench.ask(Intent.SETTLE_COUNT, on_the_coil / CPT) == ""
    assert bench.truth.certainty is Certainty.VOUCHED


def test_a_stall_is_in_doubt_until_somebody_says_that_the_spindle_stood():
    bench = Bench(LONG_PLAN).winding().run(1000)
    bench.body._drive = type(bench.body._drive)(
        bench.body._drive.order, legs=bench.body._drive.legs
    )
    bench.body._turn = lambda counts, counted: None  # held fast
    bench.body.seen.rate_mcps = 0
    bench.run(300)
    bench.body.seen.trip = Trip.STALLED
    bench.run_until(Phase.TRIPPED).run(500)
    truth = bench.truth
    assert truth.certainty is Certainty.BETWEEN
    assert truth.low == bench.body.true_count
    assert truth.high - truth.low >= 0.3 * 400, "a dead sensor hides as much as the leg winds"
    assert bench.ask(Intent.VOUCH_UNMOVED) == ""
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.VOUCHED, bench.body.true_count)


# --- beyond the CRC -----------------------------------------------------------------------------------


def test_what_was_said_before_is_not_heard_again():
    """A frame that comes late or twice carries an uptime that was heard already."""
    script = Script().started()
    script.status(State.WINDING, 15)
    script.status(State.WINDING, 10, uptime_ms=script.now_ms)
    script.status(State.WINDING, 900, uptime_ms=3)
    truth = script.session.course.truth
    assert (truth.certainty, truth.low) == (Certainty.EXACT, 15)


def test_a_count_that_jumps_is_believed_in_doubt_from_its_first_word():
    script = Script().started()
    script.status(State.WINDING, 15)
    script.status(State.WINDING, 5000, rate_mcps=200_000)
    truth = script.session.course.truth
    assert truth.certainty is Certainty.BETWEEN
    assert truth.low <= 15 + 10 and truth.high == 5000 == truth.best
    assert "jumped" in truth.why
    assert any(e.kind == "doubt" for e in script.session.take_events())


def test_an_uptime_that_began_anew_is_a_reset_though_the_boot_number_stands():
    """A board without memory for its boots."""
    script = Script().started()
    for step in range(RESETS_AFTER):
        assert script.session.phase is Phase.WINDING
        script.status(State.WINDING, 3, uptime_ms=1 + 50 * step)
    assert script.session.phase is Phase.LOST
    assert script.session.course.truth.certainty is Certainty.BETWEEN


def test_the_uptime_may_wrap():
    script = Script().started()
    near = (1 << 32) - 20
    script.status(State.WINDING, 10, uptime_ms=(1 << 31) + 40)
    script.status(State.WINDING, 15, uptime_ms=near)
    script.status(State.WINDING, 20, uptime_ms=30)
    assert script.session.course.count == 20


# --- boards that do not fit -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"groups": (0, 0, 0, 0, 0, 0)}, "count"),
        ({"groups": (1, 0, 1, 0, 0, 0)}, "motor"),
        ({"groups": (1, 1, 0, 1, 0, 0)}, "guide"),
        ({"legs_max": 2}, "legs"),
        ({"rate_max_mcps": 300_000}, "400"),
        ({"edge_rate_max_cps": 399}, "399"),
    ],
)
def test_a_plan_the_board_cannot_do_is_refused_in_words_before_anything_is_sent(change, word):
    bench = Bench(identity=replace(BOARD, **change)).run(200)
    assert bench.session.phase is Phase.LOST
    assert bench.session.finished
    assert word in bench.view().advice
    assert bench.sent == []


def test_a_counter_without_a_motor_is_a_full_citizen():
    bench = Bench(
        plan_of(leg("body", 30, AtEnd.COMPLETE, 900.0, pitch_m=0.0)), HAND_DRILL, COUNTER
    ).ready()
    (target,) = (r for r in bench.sent if isinstance(r, SetTarget))
    assert target.count == 30 * CPT
    assert bench.ask(Intent.START) == ""
    bench.run_until(Phase.WINDING)
    for _ in range(30):
        bench.body.turn_by_hand(CPT)
        bench.run(60)
    bench.run_until(Phase.COMPLETE).run(300)
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.VOUCHED, 30 * CPT)
    assert "one direction" in truth.why
    assert bench.session.finished
    assert not [r for r in bench.sent if isinstance(r, Start)]


def test_a_sensor_without_direction_is_only_exact_until_something_rocks_the_spindle():
    bench = Bench(PLAN, BLIND_MACHINE, BLIND_BOARD).winding().run_until(Phase.PAUSED)
    assert bench.truth.certainty is Certainty.EXACT
    bench.body.turn_by_hand(2)
    bench.body.turn_by_hand(-1)
    bench.run(200)
    truth = bench.truth
    assert (truth.certainty, truth.low, truth.high) == (Certainty.BETWEEN, 797, 803)
    assert holds(truth, bench.body.true_count)
    assert "3 edges" in truth.why


def test_a_direction_sense_makes_rocking_exact():
    bench = Bench(PLAN, MACHINE, BOARD).winding().run_until(Phase.PAUSED)
    bench.body.turn_by_hand(5)
    bench.body.turn_by_hand(-7)
    bench.run(200)
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.EXACT, 798)


def test_a_profile_that_promises_more_than_the_board_has_is_not_believed():
    bench = Bench(PLAN, MACHINE, BLIND_BOARD).winding().run_until(Phase.PAUSED)
    bench.body.turn_by_hand(1)
    bench.run(200)
    assert bench.truth.certainty is Certainty.BETWEEN


def test_silence_counts_from_the_last_status_that_was_believed():
    script = Script().started()
    session, start_ms = script.session, script.now_ms
    session.tick((start_ms + 999) * NS_PER_MS)
    assert session.phase is Phase.WINDING
    session.tick((start_ms + 1000) * NS_PER_MS)
    assert session.phase is Phase.UNHEARD
