"""The watch: a board that does what it was not told raises an alarm, a count that moves as no spindle can leaves its
doubt. That a clean wind raises neither is in ``test_watch_clean.py``.

The scripted boards say what a wrong board would say; what is true is known to the test alone.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import (
    COUNTER,
    CPT,
    HAND_DRILL,
    NS_PER_MS,
    Bench,
    holds,
    leg,
    plan_of,
)
from test_session_stops import MOVING, Script

from firmware_protocol.messages import Flag, State, Stop
from winder.plan.model import AtEnd
from winder.wind import watch as w
from winder.wind.model import Certainty, Intent, Phase

P = Phase
PER_STATUS = 10  # 200 counts/s, the first leg's 600 rpm


def wound(counts: int) -> Script:
    """Winding as asked, some way into the plan; a count every 5 ms."""
    script = Script().started()
    while script.count < counts:
        script.status(State.WINDING, min(script.count + PER_STATUS, counts))
    assert script.session.phase is P.WINDING and not script.session.watch.alarm
    return script


def paused(counts: int = 205) -> Script:
    script = wound(counts)
    script.ask(Intent.PAUSE)
    script.status(State.SLOWING, counts + 4)
    for _ in range(3):
        script.status(State.PAUSED, counts + 4)
    assert script.session.phase is P.PAUSED and script.session.course.truth.is_sharp
    return script


def alarmed(script: Script, why: str) -> None:
    session = script.session
    assert session.phase is P.ALARM and session.watch.alarm == why
    assert Stop() in script.requests
    assert not session.may_live(script.now_ms * NS_PER_MS), "the lease shall run out"
    trouble = session.view(script.now_ms * NS_PER_MS).trouble
    assert trouble.alarm == why and w.OFF in trouble.advice
    assert any(event.kind == "alarm" and w.OFF in event.text for event in session.take_events())


def on(script: Script, state: State, rise: int, statuses: int, **more) -> Script:
    """So many statuses more, until an alarm."""
    for _ in range(statuses):
        if script.session.phase is P.ALARM:
            break
        script.status(state, script.count + rise, **more)
    return script


# --- alarms ----------------------------------------------------------------------------------------


def test_a_board_that_is_deaf_to_a_stop():
    script = wound(205)
    script.ask(Intent.PAUSE)
    on(script, State.WINDING, PER_STATUS, 10)
    assert script.session.phase is P.SLOWING, "a stop has its time"
    on(script, State.WINDING, PER_STATUS, 20)
    alarmed(script, w.NOT_STOPPING)


def test_a_board_that_takes_a_stop_and_does_not_slow_down():
    script = wound(205)
    script.ask(Intent.PAUSE)
    on(script, State.SLOWING, PER_STATUS, 60)
    alarmed(script, w.NOT_STOPPING)


def test_a_board_that_slows_by_its_plan_and_drives_on_after_the_cut():
    """Slowing to half the speed is no proof that a stop is obeyed: once the drive is cut, the speed falls."""
    script = wound(205)
    script.ask(Intent.PAUSE)
    on(script, State.SLOWING, PER_STATUS, 3)
    on(script, State.SLOWING, PER_STATUS // 2, 37)
    assert script.session.phase is P.SLOWING, "the drive may be on for two seconds"
    on(script, State.SLOWING, PER_STATUS // 2, 30)
    alarmed(script, w.NOT_STOPPING)


def test_a_spindle_that_gathered_speed_in_a_silence_and_slows_now_is_no_fault():
    script = Script().started()
    for count in (7, 9, 11):
        script.status(State.WINDING, count, rate_mcps=40_000)
    script.tick(800)  # and what came first behind it was lost as well; the lease ran out
    for rise in (250, 10, 9, 9, 8, 8, 7, 7, 6, 6):
        uptime_ms, rate_mcps = script.now_ms + 450, min(rise, 10) * 20_000
        script.status(State.SLOWING, script.count + rise, uptime_ms=uptime_ms, rate_mcps=rate_mcps)
    assert script.session.phase is P.SLOWING and not script.session.watch.alarm


def test_words_that_were_held_up_are_not_taken_for_disobedience():
    """A driver sat on them: they were said before the board could hear of the stop. Then the stop has its time."""
    script = wound(205)
    heard_ms = script.now_ms
    for _ in range(15):
        script.tick(100)
    assert script.session.phase is P.UNHEARD and Stop() in script.requests
    for said_ms in range(heard_ms + 50, heard_ms + 1550, 50):
        script.now_ms -= 50  # all in one go
        script.status(State.WINDING, script.count + PER_STATUS, uptime_ms=said_ms)
    assert script.session.phase is P.SLOWING and not script.session.watch.alarm
    on(script, State.WINDING, PER_STATUS, 10)
    assert script.session.phase is P.SLOWING, "a stop has its time"
    on(script, State.WINDING, PER_STATUS, 20)
    alarmed(script, w.NOT_STOPPING)


def test_a_board_that_slows_down_and_never_rests():
    script = wound(205)
    script.ask(Intent.PAUSE)
    on(script, State.SLOWING, 4, 5)
    on(script, State.SLOWING, 0, 60, rate_mcps=1000)
    assert script.session.phase is P.SLOWING
    on(script, State.SLOWING, 0, 200, rate_mcps=1000)
    alarmed(script, w.NOT_STOPPING)


@pytest.mark.parametrize("end", [40, 60])
def test_a_board_that_runs_on_past_an_end_that_stops(end):
    """A planned pause as well as the target; no status need show the very count of the end."""
    script = wound(35 * CPT)
    if end == 60:
        on(script, State.WINDING, PER_STATUS, 10, leg=1)
        script.status(State.PAUSED, 40 * CPT, leg=1)
        script.ask(Intent.CONTINUE)
        script.answer()
    on(script, State.WINDING, PER_STATUS + 1, 200, leg=2)
    alarmed(script, w.PAST_THE_END)
    assert script.count <= (end + 2) * CPT


def test_edges_that_come_faster_than_the_machine_turns_are_doubted_whatever_speed_is_told():
    """False edges reach the end of a wind by themselves: the count is not the turns, though its speed fits it."""
    script, cps = wound(35 * CPT), 40_000
    wire = script.count
    for _ in range(6):
        script.status(State.SLOWING, script.count + cps // 20, rate_mcps=cps * 1000)
    for _ in range(3):
        script.status(State.COMPLETE, script.count, rate_mcps=0)
    truth = script.session.course.truth
    assert truth.certainty is Certainty.BETWEEN and truth.low <= wire <= truth.high


def test_an_overrun_within_a_turn_is_no_alarm():
    script = wound(40 * CPT - 5)
    script.status(State.WINDING, 40 * CPT + 5, leg=1)
    script.status(State.SLOWING, 41 * CPT - 7, leg=1)
    for _ in range(3):
        script.status(State.PAUSED, 41 * CPT - 7, leg=1)
    assert script.session.phase is P.PAUSED and script.session.course.truth.is_sharp


def test_a_spindle_that_turns_at_rest_faster_than_a_hand():
    script = paused()
    on(script, State.PAUSED, 20, 3, rate_mcps=400_000)
    alarmed(script, w.UNASKED)


def test_a_spindle_that_goes_on_turning_after_a_trip():
    script = wound(205)
    on(script, State.TRIPPED, PER_STATUS, 40, trip=2, rate_mcps=200_000)
    assert script.session.phase is P.TRIPPED, "it coasts"
    on(script, State.TRIPPED, PER_STATUS, 200, trip=2, rate_mcps=200_000)
    alarmed(script, w.UNASKED)


def test_a_board_whose_clock_stands_while_bytes_come():
    script = wound(205)
    frozen_ms = script.now_ms
    on(script, State.WINDING, 0, 15, uptime_ms=frozen_ms)
    assert script.session.phase is P.WINDING
    on(script, State.WINDING, 0, 15, uptime_ms=frozen_ms)
    assert script.session.course.truth.certainty is Certainty.BETWEEN, "nobody knows what it does"
    alarmed(script, w.CLOCK_STANDS)


def test_a_drive_that_is_on_without_an_edge():
    script = wound(205)
    on(script, State.WINDING, 0, 60)
    on(script, State.WINDING, 0, 100)
    alarmed(script, w.NO_EDGES)
    truth = script.session.course.truth
    assert truth.low <= 205 and truth.high >= 205 + 6 * 200, "a dead sensor hides as much"
    assert "no edge came while driven" in truth.why


def test_a_drive_that_is_on_while_the_board_says_it_rests():
    script = paused()
    on(script, State.PAUSED, 0, 2, flags=int(Flag.DRIVEN))
    alarmed(script, w.DRIVES_AT_REST)


def test_an_alarm_stays_until_a_person_has_seen_the_spindle_at_rest():
    script = paused()
    on(script, State.WINDING, PER_STATUS, 3)
    alarmed(script, w.UNASKED)
    assert script.ask(Intent.ACKNOWLEDGE) != ""
    for _ in range(20):
        script.status(State.PAUSED, script.count)
    assert script.session.phase is P.ALARM
    assert script.ask(Intent.ACKNOWLEDGE) == ""
    script.status(State.PAUSED, script.count)
    assert script.session.phase is P.PAUSED


def test_an_alarm_whose_board_falls_silent_leaves_the_count_in_doubt():
    script = paused()
    on(script, State.WINDING, PER_STATUS, 3)
    assert script.session.phase is P.ALARM
    script.tick(1500)
    assert script.session.course.truth.certainty is Certainty.BETWEEN


# --- findings --------------------------------------------------------------------------------------


@pytest.mark.parametrize("turns", [1, 20, -1, -9])
def test_a_count_that_jumps_or_falls_in_motion_leaves_its_bounds_and_is_not_wound_on(turns):
    script = wound(300)
    wrong = script.count + PER_STATUS + turns * CPT
    script.status(State.WINDING, wrong, rate_mcps=200_000)
    on(script, State.SLOWING, PER_STATUS, 3)
    truth, true_count = script.session.course.truth, script.count - turns * CPT
    assert truth.certainty is Certainty.BETWEEN and holds(truth, true_count)
    assert "as no spindle can" in truth.why
    assert truth.high - truth.low <= (abs(turns) + 2) * CPT, "no wider than what it was"
    assert script.session.phase is P.SLOWING and not script.session.watch.alarm


@pytest.mark.parametrize("turns", [1, 50, -1, -9])
def test_a_count_that_jumps_or_falls_at_rest_leaves_its_bounds_and_stops_nothing(turns):
    script = paused(300)
    true_count = script.count
    for _ in range(3):
        script.status(State.PAUSED, true_count + turns * CPT)
    truth = script.session.course.truth
    assert truth.certainty is Certainty.BETWEEN and holds(truth, true_count)
    assert script.session.phase is P.PAUSED and not script.session.watch.alarm
    assert script.ask(Intent.SETTLE_COUNT, true_count / CPT) == ""
    assert script.session.course.truth.low == true_count


def test_a_jump_while_nobody_heard_is_seen_by_the_boards_own_clock():
    script = wound(300)
    script.tick(450)  # nine statuses are lost: 90 counts
    script.status(State.WINDING, 300 + 100 + 50 * CPT, rate_mcps=200_000)
    truth = script.session.course.truth
    assert truth.certainty is Certainty.BETWEEN and holds(truth, 400)


def test_a_hand_at_rest_is_told_and_is_no_doubt_under_a_sense_of_direction():
    script = paused()
    for rise in (1, 2, 2, 1, 0, -1, -2, -2, 0):
        script.status(State.PAUSED, script.count + rise, rate_mcps=20_000 * rise)
    assert script.session.course.truth == replace(
        script.session.course.truth, low=script.count, best=script.count, high=script.count
    )
    assert not script.session.watch.alarm


@pytest.mark.parametrize("wrong", ["past", "frozen", "jump", "fast at rest"])
def test_a_board_without_a_motor_raises_no_alarm(wrong):
    plan = plan_of(leg("body", 40, AtEnd.COMPLETE, 900.0, pitch_m=0.0))
    bench = Bench(plan, HAND_DRILL, COUNTER).ready()
    script = Script(plan=plan, machine=HAND_DRILL)
    script.status(State.STILL, wind=0, generation=0)
    for _ in range(2):
        script.answer()
    script.status(State.STILL)
    assert script.ask(Intent.START) == "" and bench.session.phase is P.READY
    for _ in range(100):
        more = {"uptime_ms": 2000} if wrong == "frozen" and script.now_ms > 2000 else {}
        rise = 50 * CPT if wrong == "jump" and script.count == 200 else PER_STATUS
        script.status(State.STILL, script.count + rise, rate_mcps=200_000, **more)
    if wrong == "fast at rest":
        script.ask(Intent.PAUSE)
        for _ in range(200):
            script.status(State.STILL, script.count + 40, rate_mcps=800_000)
    assert not script.session.watch.alarm and script.session.phase is not P.ALARM
    assert not any(event.kind == "alarm" for event in script.session.take_events())
    if wrong in ("frozen", "jump"):
        assert not script.session.course.truth.is_sharp


def test_a_host_that_was_away_raises_no_alarm():
    """Stopped for half a minute, then everything that was waiting in the port comes at once."""
    script = wound(205)
    session, now_ns = script.session, (script.now_ms + 30_000) * NS_PER_MS
    shown = session.course.board.status
    for step in range(1, 25):
        moving = step < 12  # the lease had run out long ago
        status = replace(
            shown,
            state=State.SLOWING if moving else State.PAUSED,
            count=205 + min(step, 12) * 3,
            rate_mcps=60_000 if moving else 0,
            flags=int(Flag.DRIVEN) if moving else 0,
            uptime_ms=shown.uptime_ms + 50 * step,
        )
        session.hear(status, now_ns)
        session.tick(now_ns)
    assert not session.watch.alarm and session.phase is P.PAUSED
    assert session.course.truth.is_sharp


def test_states_in_motion_are_those_of_the_script():
    assert set(MOVING) == set(w.IN_MOTION)
