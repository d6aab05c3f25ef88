"""After every pause the first turns creep; a start that waits behind its pace is gone with a stop."""

from __future__ import annotations

from session_bench import CPT, NS_PER_MS, Bench
from test_session_stops import Script

from firmware_protocol.heard import Answered, Trouble
from firmware_protocol.messages import Answer, Pace, Start, State, Verdict
from winder.wind.model import Intent, Phase
from winder.wind.motion import CREEP_RPM, CREEP_TURNS


def test_the_first_turns_after_a_pause_creep_and_the_rest_does_not():
    bench = Bench().winding().run_to_count(20 * CPT)
    bench.ask(Intent.PAUSE)
    bench.run_until(Phase.PAUSED).run(200)
    begun = bench.body.seen.count
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.WINDING)
    assert "first turns go slowly, then 1200 rpm" in bench.view().advice
    took_ms = -bench.now_ms
    bench.run_to_count(begun + CREEP_TURNS * CPT)
    took_ms += bench.now_ms
    assert took_ms >= 0.9 * CREEP_TURNS * 60_000 / CREEP_RPM
    bench.run(150)
    before = bench.body.seen.count
    bench.run(200)
    assert (bench.body.seen.count - before) / CPT / 0.2 * 60 > 1000  # rpm


def test_a_new_coil_begins_as_its_plan_says():
    script = Script().started()
    assert script.count_of(Pace) == 0
    assert script.count_of(Start) == 1


def test_a_stop_before_the_pace_is_answered_lets_no_start_follow():
    script = Script().started()
    script.status(State.PAUSED, 12)
    assert script.ask(Intent.CONTINUE) == ""
    pace = script.requests[-1]
    assert isinstance(pace, Pace)
    script.ask(Intent.PAUSE)
    script.trouble(Trouble.WITHDRAWN, "a stop overtook it", pace)
    for _ in range(5):
        script.status(State.PAUSED, 12)
    assert script.count_of(Start) == 1
    assert script.session.phase is Phase.PAUSED


def test_a_late_answer_to_the_pace_after_a_stop_lets_no_start_follow():
    script = Script().started()
    script.status(State.PAUSED, 12)
    script.ask(Intent.CONTINUE)
    pace = script.requests[-1]
    script.ask(Intent.PAUSE)
    script.session.hear(Answered(pace, Answer(0, Verdict.DONE, 1, 0)), script.now_ms * NS_PER_MS)
    script.tick()
    for _ in range(5):
        script.status(State.PAUSED, 12)
    assert script.count_of(Start) == 1


def test_a_board_that_refuses_the_slow_pace_is_not_started():
    script = Script().started()
    script.status(State.PAUSED, 12)
    script.ask(Intent.CONTINUE)
    script.answer(Verdict.BAD_VALUE)
    script.status(State.PAUSED, 12)
    assert script.count_of(Start) == 1
    assert script.session.phase is Phase.PAUSED
