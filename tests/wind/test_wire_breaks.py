"""When the wire broke: what of the count is in doubt depends on who can have seen the wire whole, and when."""

from __future__ import annotations

from dataclasses import replace

from session_bench import BOARD, COUNTER, CPT, HAND_DRILL, LONG_PLAN, Bench, holds
from test_coil_orders import BODY_PLAN, HandBody, paused, told
from test_session_stops import Script

from firmware_protocol.messages import Has, State
from winder.wind.model import Certainty, Intent, Phase, TurnsOff

A, P = Intent, Phase
NO_SENSOR = replace(BOARD, has=int(Has.DIRECTION_SENSE | Has.GUARD))


def test_a_board_that_sees_the_wire_would_have_tripped():
    bench = paused()
    bench.ask(A.WIRE_BROKE)
    assert bench.truth.certainty is Certainty.EXACT


def test_a_break_told_after_a_stop_doubts_the_moments_before_it():
    bench = Bench(LONG_PLAN, identity=NO_SENSOR).winding().run_to_count(2000)
    true_at_break = bench.body.true_count - 600  # 1.5 s at 400 counts a second
    bench.ask(A.PAUSE)
    bench.run_until(P.PAUSED).run(300)
    bench.ask(A.WIRE_BROKE)
    truth = bench.truth
    assert truth.certainty is Certainty.BETWEEN and holds(truth, true_at_break)
    assert truth.high - truth.low < 1100


def test_a_break_of_a_spindle_that_has_slowed_is_doubted_by_the_counts_that_were():
    """Two seconds ago it turned fast: what came since is in doubt, not two seconds of its speed now."""
    script, passed = Script().started(), [0]
    for status in range(75):
        rise = 10 if status < 50 else max(2, 10 - (status - 49))
        passed.append(passed[-1] + rise)
        script.status(State.WINDING, passed[-1], rate_mcps=rise * 20_000)
    script.ask(A.WIRE_BROKE)
    for _ in range(4):
        script.status(State.PAUSED, passed[-1], rate_mcps=0)
    truth = script.session.course.truth
    assert truth.low <= passed[-41] and truth.low >= passed[-45]


def test_a_break_found_at_a_planned_pause_may_have_been_anywhere_since_the_start():
    bench = paused(identity=NO_SENSOR)
    bench.ask(A.WIRE_BROKE)
    truth = bench.truth
    assert (truth.low, truth.high) == (0, 40 * CPT)
    assert bench.ask(A.SETTLE_COUNT, 25.0) == ""
    bench.run_until(P.PREPARING).run_until(P.PAUSED).run(200)
    assert bench.ask(A.WIRE_JOINED) == ""
    assert told(bench, "wire")[-1] == "splice at turn 25"


def test_what_came_off_in_doubt_moves_the_end_by_the_best_guess():
    bench = Bench(LONG_PLAN).winding().run_to_count(600)
    bench.ask(A.WIRE_BROKE)
    bench.run_until(P.PAUSED).run(300)
    before = bench.session.course.preparation.loaded[-1].end_count
    bench.ask(A.TURNS_OFF, TurnsOff(5.0))
    bench.run_until(P.PREPARING).run_until(P.PAUSED)
    assert bench.session.course.preparation.loaded[-1].end_count == before + 5 * CPT


def test_a_hand_that_still_turns_after_a_stop_is_not_told_to_be_at_rest():
    machine, identity = replace(HAND_DRILL, direction_sense=True), replace(COUNTER, has=1)
    bench = Bench(BODY_PLAN, machine, identity, body=HandBody()).ready()
    bench.ask(A.START)
    bench.body.to_turn = 500
    bench.run(200)
    assert A.SLOWER not in bench.session.may() and bench.view().motion.planned_rpm == 0
    bench.ask(A.PAUSE)
    bench.run(100)
    assert bench.session.phase is P.SLOWING
    bench.run_until(P.PAUSED)
    assert bench.truth.low == 500


def test_a_wire_found_whole_takes_its_doubt_back_and_no_other():
    bench = Bench(LONG_PLAN, identity=NO_SENSOR).winding().run_to_count(2000)
    bench.ask(A.WIRE_BROKE)
    bench.run_until(P.PAUSED).run(300)
    assert bench.truth.certainty is Certainty.BETWEEN
    assert bench.ask(A.WIRE_WHOLE) == ""
    truth = bench.truth
    assert truth.certainty is Certainty.EXACT and truth.low == bench.body.true_count
    assert bench.ask(A.CONTINUE) == ""


def test_a_wire_found_whole_after_turns_came_off_takes_back_its_own_doubt_only():
    bench = Bench(LONG_PLAN, identity=NO_SENSOR).winding().run_to_count(2000)
    bench.ask(A.WIRE_BROKE)
    bench.run_until(P.PAUSED).run(300)
    bench.ask(A.TURNS_OFF, TurnsOff(3.0))
    bench.run_until(P.PREPARING).run_until(P.PAUSED).run(200)
    assert bench.truth.certainty is Certainty.BETWEEN
    bench.ask(A.WIRE_WHOLE)
    truth = bench.truth
    assert truth.certainty is Certainty.VOUCHED, "on the word of whoever took turns off"
    assert truth.low == bench.body.true_count - 3 * CPT
