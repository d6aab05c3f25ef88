"""Whatever is asked and whatever befalls, in whatever order: what must never happen.

Hypothesis draws orders of intents and mishaps for real ends over a link that loses writes by seed, with a
body that knows its true count; and random messages for a session alone, which no board would send.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from session_bench import (
    BLIND_BOARD,
    BLIND_MACHINE,
    BOARD,
    CPT,
    MACHINE,
    WIND,
    Bench,
    TurningBackBody,
    holds,
    leg,
    plan_of,
)
from test_session_stops import WELCOME, Script

from firmware_protocol.heard import Answered, Trouble, Troubled
from firmware_protocol.messages import Answer, Move, Start, State, Status, Stop, Verdict
from winder.plan.model import AtEnd
from winder.wind.events import KINDS, truth_from_facts
from winder.wind.model import Asked, Certainty, Intent, Phase

PLAN = plan_of(
    leg("bedding", 8, AtEnd.CONTINUE, 600.0),
    leg("body", 30, AtEnd.PAUSE, 1200.0),
    leg("landing", 45, AtEnd.COMPLETE, 900.0),
)
PEOPLE = [
    "start",
    "pause",
    "continue",
    "end here",
    "slower",
    "faster",
    "note",
    "leave",
    "clear trip",
    "take off",
    "wire broke",
    "wire joined",
    "wire whole",
]
MISHAPS = [
    "cable out",
    "cable in",
    "reset",
    "hand",
    "guard open",
    "guard shut",
    "screen dies",
    "screen lives",
]
WAITS = ["wait 40", "wait 200", "wait 700", "wait 1600"]
deeds = st.lists(
    st.one_of(
        st.just("start"), st.sampled_from(PEOPLE), st.sampled_from(MISHAPS), st.sampled_from(WAITS)
    ),
    min_size=3,
    max_size=14,
).map(lambda order: ["start", "wait 200", *order])


def do(bench: Bench, deed: str) -> None:
    body = bench.body
    if deed in PEOPLE:
        bench.ask(Intent(deed), 2.0 if deed == "take off" else None, "x")
    elif deed.startswith("wait"):
        bench.run(int(deed.split()[1]))
    elif deed in ("cable out", "cable in"):
        bench.cable = deed == "cable in"
    elif deed == "reset":
        if bench.device is not None:
            bench.reset()
    elif deed == "hand":
        if not (bench.moving or bench.device is None or bench.session.finished):
            body.turn_by_hand(3)
    elif deed in ("guard open", "guard shut"):
        body.seen.guard_open = deed == "guard open"
        body.seen.trip = 2 if body.seen.guard_open and bench.moving else 0
    else:
        bench.alive = deed == "screen lives"


def check(bench: Bench, asked: int) -> None:
    session = bench.session
    assert bench.body.starts <= asked, "more starts than a person asked for"
    moves = sum(isinstance(request, Move) for request in bench.sent)
    asked_back = sum(dict(e.facts).get("intent") == "take off" for e in bench.journal)
    assert moves <= asked_back, "it turned back more often than a person asked for"
    assert bench.told_before_start
    truth = session.course.truth
    if session.phase is Phase.LOST or session.finished:
        return
    if truth.certainty is not Certainty.BETWEEN and bench.boot == session.course.board.boot:
        seen = bench.body.seen.count
        assert truth.low <= seen or session.wire.unwinding, "never ahead of a board that winds on"


def live_through(bench: Bench, plan_of_deeds: list[str]) -> None:
    asked = 0
    bench.run(400)
    for deed in plan_of_deeds:
        phase = bench.session.phase
        do(bench, deed)
        took = deed == "start" and phase is Phase.READY
        took |= deed == "continue" and phase is Phase.PAUSED
        asked += took and bench.session.phase is Phase.STARTING
        check(bench, asked)
        bench.run(60)
        check(bench, asked)


@settings(max_examples=200, deadline=None)
@given(deeds, st.sampled_from([0.0, 0.05, 0.3]), st.integers(0, 5), st.booleans())
def test_no_order_of_intents_and_mishaps_moves_unasked_or_lies_about_the_count(
    order, lost, seed, sense
):
    machine, board = (MACHINE, BOARD) if sense else (BLIND_MACHINE, BLIND_BOARD)
    bench = Bench(PLAN, machine, board, body=TurningBackBody(sense), seed=seed)
    bench.lost = lost
    live_through(bench, order)
    bench.lost, bench.cable, bench.alive = 0.0, True, True
    bench.ask(Intent.PAUSE)
    bench.run(3500)
    assert not bench.moving, "a stop ends at rest"
    truth = bench.truth
    if bench.session.course.board.opened:
        truly = bench.body.true_count - bench.body.true_at_open
        assert holds(truth, truly), f"{truth} and truly {truly}"


@settings(max_examples=50, deadline=None)
@given(deeds)
def test_a_journal_is_enough_to_know_the_wind(order):
    """Every event has a stable kind; the last truth on record holds what was true then."""
    bench = Bench(PLAN, body=TurningBackBody())
    live_through(bench, order)
    for event in bench.journal:
        assert event.kind in KINDS
        assert truth_from_facts(dict(event.facts)) is not None
        assert event.text
    times = [event.at_ns for event in bench.journal]
    assert times == sorted(times)
    assert [e.kind for e in bench.journal].count("ended") == int(bench.session.finished)


# --- a session alone, and messages that no board would send -----------------------------------------------

states = st.sampled_from(list(State))
statuses = st.builds(
    Status,
    state=states,
    reason=st.integers(0, 9),
    trip=st.sampled_from([0, 0, 0, 1, 2, 5, 77]),
    flags=st.integers(0, 127),
    count=st.integers(-50, 1500),
    unattributed=st.sampled_from([0, 0, 1, 65535]),
    rate_mcps=st.integers(-1000, 500_000),
    traverse_um=st.integers(-100, 9000),
    leg=st.sampled_from([0, 1, 2, 200, 255]),
    generation=st.sampled_from([0, 1, 2]),
    wind=st.sampled_from([0, WIND, WIND, WIND, 7]),
    boot=st.sampled_from([5, 5, 5, 5, 6]),
    uptime_ms=st.integers(0, 100_000),
    revision=st.integers(0, 65535),
    implausible=st.just(0),
)
troubles = st.sampled_from(list(Trouble))
verdicts = st.sampled_from([*Verdict, 99])
intents = st.builds(
    Asked, intent=st.sampled_from(list(Intent)), st.text(max_size=9), value=st.floats(0, 99)
)
inputs = st.lists(
    st.one_of(statuses, statuses, troubles, verdicts, intents, intents, st.integers(0, 1500)),
    max_size=40,
)


@settings(max_examples=300, deadline=None)
@given(inputs)
def test_no_messages_make_a_session_fail_or_start_by_itself(stream):
    script = Script()
    session = script.session
    asked = starts = asked_back = 0
    for one in stream:
        now_ns = script.now_ms * 1_000_000
        if isinstance(one, Status):
            session.hear(one, now_ns)
        elif isinstance(one, Trouble):
            command = script.requests[-1] if script.requests else None
            session.hear(Troubled(one, "text", command), now_ns)
        elif isinstance(one, Asked):
            before = session.phase
            took = session.ask(one, now_ns) == ""
            asked += took and one.intent in (Intent.START, Intent.CONTINUE)
            asked_back += took and one.intent is Intent.TAKE_OFF
            assert took or session.phase is before
        elif isinstance(one, Verdict) or one == 99:
            commands = [r for r in script.requests if r != Stop()]
            if commands:
                session.hear(Answered(commands[-1], Answer(0, one, 3, 0)), now_ns)
        else:
            script.tick(one)
        script.tick()
        starts = script.count_of(Start)
        assert starts <= asked and script.count_of(Move) <= asked_back
        view = session.view(now_ns)
        assert view.count.truth.low <= view.count.truth.high
        if session.phase is Phase.WINDING:
            assert asked


@settings(max_examples=150, deadline=None)
@given(st.lists(st.integers(-30, 60), min_size=5, max_size=60))
def test_the_count_never_falls_while_winding(steps):
    script = Script().started()
    shown, sent = [], 5
    for step in steps:
        sent = max(0, sent + step)
        script.status(State.WINDING, sent)
        shown.append(script.session.course.truth.high)
        assert script.session.phase is Phase.WINDING
    if not any(e.kind == "doubt" for e in script.session.take_events()):
        assert shown == sorted(shown)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from([0, 1, 1, 5]), min_size=1, max_size=30), st.integers(0, 40))
def test_rocking_never_narrows_by_itself(edges, first):
    """Without a sense of direction a doubt stays until a person settles it."""
    script = Script()
    script.session.machine = replace(script.session.machine, direction_sense=False)
    script.session.hear(WELCOME, 0)
    script.prepared()
    script.status(State.PAUSED, first)
    rocked = 0
    for edge in edges:
        rocked += edge
        script.status(State.PAUSED, first, unattributed=rocked)
        truth = script.session.course.truth
        assert truth.high - truth.low >= min(2 * rocked, rocked + first)
        assert (truth.certainty is Certainty.EXACT) == (rocked == 0)


@pytest.mark.parametrize("seed", range(6))
def test_a_whole_wind_over_a_lossy_link_is_exact_and_on_the_count(seed):
    bench = Bench(PLAN, seed=seed)
    bench.lost = 0.15
    until = 120_000
    while not bench.session.finished and bench.now_ms < until:
        bench.run(100)
        for intent in (Intent.START, Intent.CONTINUE):
            if intent in bench.view().may:
                bench.ask(intent)
    truth = bench.truth
    assert bench.session.phase is Phase.COMPLETE
    assert (truth.certainty, truth.low) == (Certainty.EXACT, 45 * CPT)
    assert bench.body.true_count == 45 * CPT
