"""A whole wind, from the welcome to the closed wind, on a real host end and a real device end."""

from __future__ import annotations

import itertools

from session_bench import BOARD, CPT, MACHINE, PLAN, WIND, Bench, leg, plan_of

from firmware_protocol.device_plan import checksum_of
from firmware_protocol.messages import (
    CloseWind,
    OpenWind,
    Pace,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    Start,
    State,
    Stop,
    TraverseMark,
)
from winder.plan.model import AtEnd
from winder.wind.loading import checksum, leg_message, legs_of_wind
from winder.wind.model import Certainty, Intent, Phase


def names(bench: Bench) -> list[str]:
    return [type(request).__name__ for request in bench.sent]


def test_a_board_is_prepared_without_moving_anything():
    bench = Bench().ready()
    assert names(bench) == [
        *("OpenWind", "TraverseMark", "PlanBegin"),
        *("PlanLeg", "PlanLeg", "PlanLeg", "PlanCommit"),
    ]
    assert bench.state() is State.ARMED
    assert bench.body.starts == 0
    assert bench.body.marks == [(0, 0)]


def test_nothing_starts_by_itself():
    bench = Bench().ready().run(5000)
    assert bench.session.phase is Phase.READY
    assert bench.body.starts == 0


def test_a_wind_pauses_and_completes_on_the_very_count():
    bench = Bench().winding().run_until(Phase.PAUSED)
    assert bench.body.true_count == 40 * CPT
    bench.run(3000)
    assert bench.session.phase is Phase.PAUSED, "a pause lasts until a person continues"
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.COMPLETE).run(500)
    truth = bench.truth
    assert (truth.certainty, truth.low, truth.high) == (Certainty.EXACT, 60 * CPT, 60 * CPT)
    assert bench.body.true_count == 60 * CPT
    assert bench.session.finished
    assert bench.state() is State.STILL, "the wind is closed, so that nothing can start it"


def test_the_journal_tells_the_whole_wind_in_order():
    bench = Bench().winding().run_until(Phase.PAUSED)
    bench.ask(Intent.CONTINUE)
    bench.run_until(Phase.COMPLETE).run(500)
    assert bench.kinds("count") == [
        *("link", "opened", "plan", "intent", "started", "leg", "slowing", "leg", "at rest"),
        *("intent", "started", "slowing", "at rest", "complete", "ended"),
    ]
    assert dict(bench.journal[-1].facts)["how"] == "complete"
    assert bench.told_before_start


def test_the_count_is_on_record_at_least_twice_a_second_while_moving():
    bench = Bench().winding().run_until(Phase.PAUSED)
    told = [e.at_ns for e in bench.journal if e.kind in ("started", "count", "at rest")]
    gaps_ms = [(b - a) / 1e6 for a, b in itertools.pairwise(told)]
    assert len(gaps_ms) > 4
    assert max(gaps_ms) <= 500
    counts = [e.counts for e in bench.journal if e.kind == "count"]
    assert counts == sorted(counts)


def test_the_start_carries_what_the_board_last_said():
    bench = Bench().ready()
    status = bench.session.course.board.status
    bench.ask(Intent.START)
    start = bench.sent[-1]
    assert isinstance(start, Start)
    assert (start.token, start.boot, start.wind) == (0, status.boot, WIND)
    assert (start.revision, start.generation) == (status.revision, status.generation)


def test_a_wind_that_another_run_left_open_is_closed_first():
    first = Bench()
    first.ready()
    second = Bench(body=first.body, wind=4711)
    second.device, second.now_ms = first.device, first.now_ms
    second.host = type(second.host)(4242)
    second.host.open(second.now_ns)
    second.run(1500)
    assert second.session.phase is Phase.READY
    assert names(second)[:2] == ["CloseWind", "OpenWind"]
    closed, opened = second.sent[:2]
    assert isinstance(closed, CloseWind) and closed.wind == WIND
    assert isinstance(opened, OpenWind) and opened.wind == 4711


def test_a_board_that_still_moves_from_before_is_stopped_before_its_wind_is_closed():
    first = Bench().winding()
    first.run(100)
    second = Bench(body=first.body, wind=4711)
    second.device, second.now_ms = first.device, first.now_ms
    second.host = type(second.host)(4242)
    first.run(1500)  # the lease of the first host lives while its screen does
    first.alive = False
    second.now_ms = first.now_ms
    second.host.open(second.now_ns)
    second.run_until(Phase.READY, limit_ms=9000)
    assert names(second)[-7:] == names(Bench().ready())
    assert not second.moving


def test_ending_here_closes_the_wind_short_of_its_target():
    bench = Bench().winding().run_until(Phase.PAUSED)
    assert bench.ask(Intent.END_HERE) == ""
    bench.run(500)
    assert bench.session.phase is Phase.ENDED
    assert bench.session.finished
    assert isinstance(bench.sent[-1], CloseWind)
    assert dict(bench.journal[-1].facts)["how"] == "here"
    assert bench.truth.low == 40 * CPT


def test_the_pace_goes_down_and_up_in_tenths_and_the_board_follows():
    bench = Bench().winding().run(200)
    for _ in range(3):
        assert bench.ask(Intent.SLOWER) == ""
    bench.run(500)
    paces = [request.permille for request in bench.sent if isinstance(request, Pace)]
    assert paces[0] == 900 and paces[-1] == 700, "what is asked while one is on its way is gathered"
    assert bench.view().motion.pace_permille == 700
    assert bench.device.board.pace_permille == 700
    for _ in range(3):
        assert bench.ask(Intent.FASTER) == ""
    assert "full speed" in bench.ask(Intent.FASTER)
    bench.run(500)
    assert bench.device.board.pace_permille == 1000


def test_the_checksum_is_the_boards_own():
    loaded = legs_of_wind(PLAN, 0, 0)
    legs = [leg_message(one, index, PLAN, 1) for index, one in enumerate(loaded)]
    assert checksum(legs) == checksum_of(legs)


def test_units_of_a_leg_on_the_wire():
    """By hand: 1200 rpm at 20 counts a turn are 400 counts/s; 6000 rpm/s are 2000 counts/s2."""
    (loaded,) = legs_of_wind(plan_of(leg("body", 40, AtEnd.COMPLETE, 1200.0)), 0, 0)
    sent = leg_message(loaded, 0, PLAN, 3)
    assert sent == PlanLeg(
        token=0,
        generation=3,
        index=0,
        end_action=2,
        spindle=1,
        end_count=800,
        rate_mcps=400_000,
        accel_mcps2=2_000_000,
        creep_mcps=20_000,
        coast_counts=0,
        pitch_nm=50_000,
        pitch_counts=20,
        left_um=500,
        right_um=8000,
        dwell_counts=2,
        scatter_seed=0,
    )


def test_a_hand_guided_plan_marks_no_traverse():
    plan = plan_of(leg("body", 40, AtEnd.COMPLETE, 600.0, pitch_m=0.0))
    bench = Bench(plan).ready()
    assert not [r for r in bench.sent if isinstance(r, TraverseMark)]


def test_one_command_waits_for_its_answer_before_the_next_is_built():
    bench = Bench().ready()
    begin = next(r for r in bench.sent if isinstance(r, PlanBegin))
    commit = next(r for r in bench.sent if isinstance(r, PlanCommit))
    opened = next(r for r in bench.sent if isinstance(r, OpenWind))
    assert opened.revision != begin.revision, "opening the wind changed the board's revision"
    assert commit.revision == begin.revision
    assert Stop() not in bench.sent


def test_a_machine_profile_decides_what_the_sessions_needs_of_the_board():
    assert MACHINE.motor and BOARD.legs_max >= len(PLAN.legs)
    bench = Bench(
        plan_of(
            *(leg("body", 10 + i, AtEnd.CONTINUE, 600.0) for i in range(8)),
            leg("landing", 40, AtEnd.COMPLETE, 600.0),
        )
    )
    bench.run_until(Phase.LOST)
    assert "9 legs" in bench.view().advice
    assert bench.session.finished
