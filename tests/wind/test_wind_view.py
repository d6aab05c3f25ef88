"""What a glance is told: headline, advice, times, ohms, layer, guide; and that it is cheap to tell."""

from __future__ import annotations

import pytest
from session_bench import CPT, LONG_PLAN, NS_PER_MS, PLAN, Bench, leg, plan_of, session_of
from test_session_stops import Script

from firmware_protocol.messages import Flag, State
from winder.plan.model import AtEnd
from winder.wind.loading import legs_of_wind
from winder.wind.log import LINES_MAX
from winder.wind.model import Intent, Phase
from winder.wind.schedule import Schedule
from winder.wind.wording import HEADLINES, trip_words


def view_of(script: Script):
    return script.session.view(script.now_ms * NS_PER_MS)


def test_every_phase_has_a_headline_and_an_advice():
    assert set(HEADLINES) == set(Phase)
    for phase in Phase:
        session = session_of()
        session.course.phase = phase
        view = session.view(0)
        assert view.headline and view.advice
        assert len(view.advice) < 160


def test_before_the_first_word_of_a_board_the_view_is_whole():
    view = session_of().view(5)
    assert view.phase is Phase.CONNECTING
    assert view.trouble.link_age_s is None and view.motion.seconds_to_go is None
    assert view.count.turns == 0 and view.count.remaining_turns == 60 == view.coil.target_turns
    assert (
        view.lay.guide_share is None
        and view.motion.next_stop_turns is None
        and view.motion.next_stop_is == ""
    )


def test_the_next_stop_is_said_with_turns_and_time():
    script = Script().started()
    script.now_ms += 900
    script.status(State.WINDING, 400, leg=1, rate_mcps=400_000, traverse_um=4250)
    view = view_of(script)
    assert view.headline == "winding"
    assert view.advice.startswith("pauses in 20 turns, about ")
    assert (view.motion.next_stop_turns, view.motion.next_stop_is) == (20.0, "pause")
    assert (view.count.turns, view.count.remaining_turns) == (20.0, 40.0)
    assert view.motion.speed_rpm == pytest.approx(1200)
    assert view.motion.planned_rpm == 1200
    assert view.lay.layer == 2 and view.coil.layers == 4, (
        "3.4 layers: a third of the turns is 1.13 layers"
    )
    assert view.lay.guide_share == pytest.approx(0.5), "4.25 mm between 0.5 and 8 mm"
    assert view.ohm.now == (20.0, 18.0, 22.0)
    assert view.ohm.end == (60.0, 54.0, 66.0)
    script.status(State.WINDING, 410, leg=2)
    assert view_of(script).motion.next_stop_is == "end"
    assert view_of(script).advice.startswith("complete in ")


def test_times_of_a_schedule_by_hand():
    """Leg 2, 1200 rpm: 400 counts at 400/s are 1 s; slowing (20-1)^2 / (2*100*20) = 0.09025 s; half a turn of
    creeping at 1 turn/s instead of 20: 0.475 s. Leg 3: 400 counts at 200/s, 2 s; (10-1)^2 / 2000 and 0.45 s."""
    schedule = Schedule(legs_of_wind(PLAN, 0, 0), CPT)
    ahead = schedule.ahead(1, 400, 1000)
    assert ahead.to_stop_s == pytest.approx(1 + 0.09025 + 0.475)
    assert ahead.to_end_s == pytest.approx(1.56525 + 2 + 0.0405 + 0.45)
    assert (ahead.stop_count, ahead.stop_is) == (800, "pause")
    assert schedule.ahead(1, 400, 500).to_stop_s == pytest.approx(2 * 1.56525)
    assert schedule.ahead(255, 400, 1000) == ahead, "a board that names no leg: by the count"
    bedding = schedule.ahead(0, 100, 1000)
    assert bedding.to_stop_s == pytest.approx(0.5 + 600 / 400 + 0.56525)
    assert Schedule((), CPT).ahead(0, 0, 1000) is None


def test_the_times_agree_with_a_wind_on_a_body():
    bench = Bench(plan_of(leg("body", 100, AtEnd.COMPLETE, 1200.0))).winding()
    told_s = bench.view().motion.seconds_to_go
    began_ms = bench.now_ms
    bench.run_until(Phase.COMPLETE)
    assert (bench.now_ms - began_ms) / 1000 == pytest.approx(told_s, abs=0.8)


def test_the_guide_of_a_hand_guided_plan_is_not_told():
    bench = Bench(plan_of(leg("body", 40, AtEnd.COMPLETE, 600.0, pitch_m=0.0))).winding()
    assert bench.view().lay.guide_share is None


def test_a_direction_of_the_guide_comes_from_the_board():
    script = Script().started()
    script.status(State.WINDING, 20, flags=int(Flag.DRIVEN | Flag.TRAVERSE_RIGHTWARD))
    assert view_of(script).lay.guide_rightward
    script.status(State.WINDING, 25, flags=int(Flag.DRIVEN))
    assert not view_of(script).lay.guide_rightward


def test_an_open_guard_is_said_before_the_start():
    script = Script().prepared()
    assert "hands clear" in view_of(script).advice
    script.status(State.ARMED, flags=int(Flag.GUARD_OPEN))
    assert "guard is open" in view_of(script).advice


def test_the_cautions_come_first():
    script = Script(cautions_accepted=False).prepared()
    assert "cautions" in view_of(script).advice
    script.ask(Intent.ACCEPT_CAUTIONS)
    assert "start" in view_of(script).advice


def test_lines_are_the_newest_events_without_the_counts():
    bench = Bench(LONG_PLAN).winding().run(3000)
    for number in range(LINES_MAX + 5):
        bench.ask(Intent.NOTE, f"remark {number}")
    lines = bench.view().lines
    assert len(lines) == LINES_MAX
    assert lines[-1] == f"note: remark {LINES_MAX + 4}"
    assert [e for e in bench.journal if e.kind == "count"]
    assert not [line for line in lines if line.endswith(" turns")]


def test_a_complete_wind_says_what_to_write_down():
    bench = Bench().winding().run_until(Phase.PAUSED)
    bench.ask(Intent.CONTINUE)
    bench.run_until(Phase.COMPLETE)
    assert bench.view().advice == "write down: 60 turns, exact"


def test_a_trip_that_is_not_known_here_still_has_words():
    what, advice = trip_words(99)
    assert "99" in what and advice


def test_an_unchanged_status_costs_no_event_and_no_other_truth():
    script = Script().started()
    script.status(State.WINDING, 50)
    script.session.take_events()
    truth, lines = script.session.course.truth, script.session.course.log.lines()
    script.status(State.WINDING, 50)
    assert script.session.take_events() == []
    assert script.session.course.truth == truth
    assert script.session.course.log.lines() is lines


def test_statuses_carry_words_only_when_something_is_new():
    """The cost of hearing is bounded by what it makes: per second of cruise no more than three events."""
    script = Script().started()
    script.session.take_events()
    for step in range(200):
        script.status(State.WINDING, 1 + step)
    assert len(script.session.take_events()) <= 3 * 10
    assert script.requests.count(script.requests[-1]) == 1
