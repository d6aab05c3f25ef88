"""Stops, refusals and motion that nobody asked for: nothing moves that was not asked for, now."""

from __future__ import annotations

import pytest
from session_bench import NS_PER_MS, WIND, Bench, holds, session_of

from firmware_protocol.heard import Answered, Trouble, Troubled
from firmware_protocol.messages import (
    Answer,
    CloseWind,
    Flag,
    Has,
    Pace,
    Start,
    State,
    Status,
    Stop,
    Verdict,
    Welcome,
)
from winder.wind.model import Asked, Intent, Phase, Value

WELCOME = Welcome(
    base_version=1,
    token=77,
    boot=5,
    uptime_ms=10,
    board="scripted",
    groups=bytes((1, 1, 1, 1, 0, 0)),
    has=int(Has.DIRECTION_SENSE),
    legs_max=8,
    rate_max_mcps=2_000_000,
    edge_rate_max_cps=20_000,
    settings_hash=1,
    kept_wind=0,
    kept_count=0,
    kept_flags=0,
    cut_ms=2000,
    rest_ms=5000,
)


MOVING = (State.WINDING, State.SLOWING, State.SETTING_UP)


class Script:
    """A session and a board that says what the test says. Statuses come every 50 ms."""

    def __init__(self, **more) -> None:
        self.session = session_of(**more)
        self.now_ms = 0
        self.revision = 1
        self.count = 0
        self.requests: list = []
        self.session.hear(WELCOME, 0)

    def status(self, state: State, count: int = 0, wind: int = WIND, **more) -> None:
        self.now_ms += 50
        rate = (count - self.count) * 20_000 if state in MOVING else 0  # counts in 50 ms
        self.count = count
        driven = Flag.DRIVEN if state in (State.WINDING, State.SLOWING) else 0
        shown = {
            "reason": 0, "trip": 0, "flags": int(driven), "unattributed": 0, "rate_mcps": rate,
            "traverse_um": 0, "leg": 0, "generation": 1, "boot": 5, "uptime_ms": self.now_ms,
            "revision": self.revision, "implausible": 0,
        }  # fmt: skip
        status = Status(state=state, count=count, wind=wind, **{**shown, **more})
        self.session.hear(status, self.now_ms * NS_PER_MS)
        self.tick()

    def tick(self, span_ms: int = 0) -> None:
        self.now_ms += span_ms
        self.session.tick(self.now_ms * NS_PER_MS)
        self.requests += self.session.take_requests()

    def answer(self, verdict: Verdict = Verdict.DONE) -> object:
        """To the newest command that is not a stop."""
        command = [r for r in self.requests if r != Stop()][-1]
        answer = Answer(to=0, verdict=verdict, revision=self.revision, detail=0)
        self.session.hear(Answered(command, answer), self.now_ms * NS_PER_MS)
        self.tick()
        return command

    def trouble(self, trouble: Trouble, text: str = "", command: object = None) -> None:
        self.session.hear(Troubled(trouble, text, command), self.now_ms * NS_PER_MS)
        self.tick()

    def ask(self, intent: Intent, value: Value = None) -> str:
        said = self.session.ask(Asked(intent, value), self.now_ms * NS_PER_MS)
        self.requests += self.session.take_requests()
        return said

    def count_of(self, kind: type) -> int:
        return sum(type(r) is kind for r in self.requests)

    def prepared(self) -> Script:
        self.status(State.STILL, wind=0, generation=0)
        for _ in range(7):
            self.answer()
        self.status(State.ARMED)
        assert self.session.phase is Phase.READY
        return self

    def started(self) -> Script:
        self.prepared().ask(Intent.START)
        self.answer()
        self.status(State.WINDING, 5)
        assert self.session.phase is Phase.WINDING
        return self


def test_a_pause_is_repeated_until_the_board_rests():
    script = Script().started()
    assert script.ask(Intent.PAUSE) == ""
    for count in (10, 15, 20, 22, 24, 25):
        script.status(State.SLOWING, count)
    assert 3 <= script.count_of(Stop) <= 5, "one now and one each 100 ms"
    script.status(State.PAUSED, 25)
    repeated = script.count_of(Stop)
    for _ in range(10):
        script.status(State.PAUSED, 25)
    assert script.count_of(Stop) == repeated
    assert script.session.phase is Phase.PAUSED


def test_a_pause_in_a_pause_is_sent_and_harmless():
    bench = Bench().winding().run_until(Phase.PAUSED)
    assert bench.ask(Intent.PAUSE) == ""
    bench.run(400)
    assert bench.session.phase is Phase.PAUSED
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.WINDING)


def test_a_start_that_was_not_answered_is_followed_by_stops_until_it_is_settled():
    script = Script().prepared()
    script.ask(Intent.START)
    script.ask(Intent.PAUSE)
    before = script.count_of(Stop)
    for _ in range(20):
        script.status(State.ARMED)
    assert script.count_of(Stop) >= before + 9, "the start may still arrive"
    script.status(State.WINDING, 3)
    script.status(State.WINDING, 6)
    assert script.session.phase is Phase.SLOWING, "it is being stopped already"
    start = next(r for r in script.requests if type(r) is Start)
    script.trouble(Trouble.WITHDRAWN, "it had reached the board before the stop", start)
    script.status(State.PAUSED, 8)
    assert script.session.phase is Phase.PAUSED
    settled = script.count_of(Stop)
    script.status(State.PAUSED, 8)
    script.status(State.PAUSED, 8)
    assert script.count_of(Stop) == settled


def test_a_start_and_at_once_a_pause_end_at_rest_on_real_ends():
    bench = Bench().ready()
    bench.ask(Intent.START)
    bench.ask(Intent.PAUSE)
    bench.run(1500)
    assert not bench.moving
    assert bench.session.phase in (Phase.READY, Phase.PAUSED)


@pytest.mark.parametrize("state", MOVING)
@pytest.mark.parametrize("rest", [State.ARMED, State.PAUSED])
def test_motion_that_nobody_asked_for_is_an_alarm_stopped_and_told(state, rest):
    script = Script().prepared()
    script.status(rest)
    script.status(state, 4)
    assert script.session.phase is Phase.ALARM
    assert script.count_of(Stop) == 1
    assert not script.session.may_live(script.now_ms * NS_PER_MS), "the lease shall run out"
    told = script.session.take_events()
    assert any(e.kind == "alarm" and "nobody asked" in e.text for e in told)
    assert "switch the motor's power off" in script.session.view(0).trouble.advice


def test_motion_after_a_planned_pause_is_unasked_too():
    script = Script().started()
    script.status(State.PAUSED, 12)
    script.status(State.WINDING, 14)
    assert script.session.phase is Phase.ALARM
    assert script.requests[-1] == Stop()


def test_a_start_that_was_withdrawn_is_not_asked_for_any_more():
    script = Script().prepared()
    script.ask(Intent.START)
    script.trouble(Trouble.WITHDRAWN, "the stop is not yet confirmed", script.requests[-1])
    script.status(State.WINDING, 3)
    assert script.session.phase is Phase.ALARM
    assert script.requests[-1] == Stop()
    script.status(State.PAUSED, 4)
    assert script.count_of(Start) == 1


def test_a_refused_start_is_never_repeated_by_itself():
    script = Script().prepared()
    script.ask(Intent.START)
    script.answer(Verdict.GUARD_OPEN)
    for _ in range(40):
        script.status(State.ARMED)
    assert script.count_of(Start) == 1
    assert script.session.phase is Phase.READY
    assert "guard" in script.session.view(0).advice
    assert script.ask(Intent.START) == ""
    script.answer(Verdict.STALE)
    for _ in range(40):
        script.status(State.ARMED)
    assert script.count_of(Start) == 2, "not even when it was stale"
    assert script.session.phase is Phase.READY


def test_a_refused_continue_leads_back_to_the_pause():
    script = Script().started()
    script.status(State.PAUSED, 12)
    script.ask(Intent.CONTINUE)
    script.answer(Verdict.WIRE_LOST)
    assert script.session.phase is Phase.PAUSED
    assert "wire" in script.session.view(0).advice


def test_a_stale_command_that_moves_nothing_is_sent_once_more_with_the_new_revision():
    script = Script().started()
    script.ask(Intent.SLOWER)
    script.revision = 9
    script.answer(Verdict.STALE)
    assert script.count_of(Pace) == 1
    script.status(State.WINDING, 20)
    assert script.count_of(Pace) == 2
    assert script.requests[-1].revision == 9
    script.answer(Verdict.STALE)
    script.status(State.WINDING, 25)
    assert script.count_of(Pace) == 2
    refused = [e for e in script.session.take_events() if e.kind == "refused"]
    assert len(refused) == 1 and "pace" in refused[0].text


def test_an_old_revision_of_a_late_answer_is_not_taken_over():
    script = Script().started()
    script.ask(Intent.SLOWER)
    script.revision = 12
    script.status(State.WINDING, 20)
    script.revision = 11
    script.answer()
    script.ask(Intent.SLOWER)
    assert script.requests[-1].revision == 12


def test_leaving_stops_first_and_waits_for_rest():
    bench = Bench().winding().run(300)
    assert bench.ask(Intent.LEAVE) == ""
    assert not bench.session.finished
    bench.run(1000)
    assert bench.session.finished and not bench.moving
    assert dict(bench.journal[-1].facts)["how"] == "left"
    assert bench.truth.best == bench.body.true_count
    assert holds(bench.truth, bench.body.true_count)


def test_leaving_an_unheard_board_ends_within_a_bound():
    bench = Bench().winding().run(300)
    bench.unplug()
    bench.ask(Intent.LEAVE)
    bench.run(9500)  # lease, the board's own bound to rest, and a margin
    assert bench.session.finished
    assert dict(bench.journal[-1].facts)["how"] == "left"


def test_leaving_at_rest_waits_for_one_status_only():
    bench = Bench().winding().run_until(Phase.PAUSED)
    bench.ask(Intent.LEAVE)
    bench.run(60)
    assert bench.session.finished
    assert "over" in bench.ask(Intent.PAUSE)


def test_the_end_asked_for_but_overtaken_by_a_stop_can_be_asked_again():
    script = Script().started()
    script.status(State.PAUSED, 12)
    script.ask(Intent.END_HERE)
    closing = script.requests[-1]
    assert isinstance(closing, CloseWind)
    script.ask(Intent.PAUSE)
    script.trouble(Trouble.WITHDRAWN, "a stop overtook it", closing)
    script.status(State.PAUSED, 12)
    assert script.session.phase is Phase.PAUSED
    assert script.ask(Intent.END_HERE) == ""
    script.answer()
    assert script.session.phase is Phase.PAUSED, "the board's last count is yet to come"
    script.status(State.STILL, 13, wind=0, generation=0)
    assert script.session.phase is Phase.ENDED
    assert script.session.course.truth.low == 13
    assert script.session.course.truth.is_sharp


def test_a_stop_during_the_preparation_only_delays_it():
    bench = Bench().run_until(Phase.PREPARING).run(60)
    assert bench.ask(Intent.PAUSE) == ""
    bench.ready()
    assert bench.body.starts == 0


def test_no_second_command_while_one_is_unanswered():
    script = Script().started()
    script.status(State.PAUSED, 12)
    assert script.ask(Intent.CONTINUE) == ""
    script.status(State.PAUSED, 12)
    assert script.ask(Intent.CONTINUE) != ""
    assert script.ask(Intent.END_HERE) != ""
    assert script.count_of(Start) == 1  # the slow pace of the first turns comes before it
    script.answer()
    assert script.count_of(Start) == 2
