"""Whatever is asked and whatever befalls, in whatever order: what must never happen.

Hypothesis draws orders of intents and mishaps for real ends over a link that loses writes by seed, with a
body that knows its true count. What no board would send is in ``test_random_orders.py``.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from session_bench import (
    BLIND_BOARD,
    BLIND_MACHINE,
    BOARD,
    CPT,
    MACHINE,
    Bench,
    TurningBackBody,
    folded,
    holds,
    leg,
    plan_of,
)
from test_session_stops import Script

from firmware_protocol.messages import Move, State
from winder.plan.model import AtEnd
from winder.wind.events import KINDS
from winder.wind.model import Certainty, Intent, Phase, TurnsOff

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
    "turns off",
    "cut the power",
    "acknowledge",
]
VALUES = {"take off": 2.0, "note": "x", "turns off": TurnsOff(2.0)}
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
        if bench.ask(Intent(deed), VALUES.get(deed)) == "" and deed == "turns off":
            body.taken_off += 2 * CPT
    elif deed.startswith("wait"):
        bench.run(int(deed.split()[1]))
    elif deed in ("cable out", "cable in"):
        bench.cable = deed == "cable in"
    elif deed == "reset":
        if bench.device is not None:
            bench.reset()
    elif deed == "hand":
        if not (bench.moving or bench.device is None or bench.session.finished):
            bench.by_hand(3)
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
    assert truth.low <= truth.best <= truth.high
    assert session.phase is not Phase.ALARM, session.watch.alarm


def live_through(bench: Bench, plan_of_deeds: list[str]) -> None:
    asked = 0
    bench.body.taken_off = 0
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
        truly = bench.body.true_count - bench.body.true_at_open - bench.body.taken_off
        assert holds(truth, max(0, truly)), f"{truth} and truly {truly}"
    assert bench.ask(Intent.NOTE, "enough") == ""
    assert folded(bench.journal) == bench.session.course.account


@settings(max_examples=50, deadline=None)
@given(deeds)
def test_a_journal_is_enough_to_know_the_wind(order):
    """Every event has a stable kind, and the deeds on record make the account that was live."""
    bench = Bench(PLAN, body=TurningBackBody())
    live_through(bench, order)
    for event in bench.journal:
        assert event.kind in KINDS
        assert event.text
    assert bench.ask(Intent.NOTE, "enough") == ""
    assert folded(bench.journal) == bench.session.course.account
    times = [event.at_ns for event in bench.journal]
    assert times == sorted(times)
    assert [e.kind for e in bench.journal].count("ended") == int(bench.session.finished)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from([0, 1, 1, 5]), min_size=1, max_size=30), st.integers(0, 9))
def test_rocking_never_narrows_by_itself(edges, first):
    """Without a sense of direction a doubt stays until a person settles it."""
    script = Script(machine=BLIND_MACHINE)
    script.prepared().ask(Intent.START)
    script.answer()
    script.status(State.WINDING, first)
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
