"""The broken wire, turns that come off, readings and a new target: what is on record, and what may move."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import (
    BLIND_BOARD,
    BLIND_MACHINE,
    COUNTER,
    CPT,
    HAND_DRILL,
    LONG_PLAN,
    PLAN,
    WIND,
    Bench,
    SmallBody,
    TurningBackBody,
    folded,
    holds,
    leg,
    plan_of,
)

from firmware_protocol.messages import Move, Start, State
from winder.plan.model import AtEnd, Plan
from winder.recipe.observations import OhmReading
from winder.wind.model import Certainty, Finding, Intent, Phase, Reading, TurnsOff

A, P = Intent, Phase
BODY_PLAN = plan_of(leg("body", 40, AtEnd.COMPLETE, 1200.0))
LONG = replace(BODY_PLAN, measure_at_end=True)


class HandBody(SmallBody):
    """A hand that turns the spindle by so many counts, one a millisecond."""

    to_turn = 0

    def advance(self, span_ms: int, counted: bool = True) -> None:
        for _ in range(span_ms if self.to_turn else 0):
            step = max(-1, min(1, self.to_turn))
            self.turn_by_hand(step)
            self.to_turn -= step
        rate = (self.to_turn > 0) - (self.to_turn < 0)
        self.seen.rate_mcps = 1_000_000 * (rate if self.direction_sense else abs(rate))


class Ohms:
    """An estimate that thinks every turn is one ohm, until it is told otherwise."""

    def __init__(self, target_ohm: float = 60.0, plan: Plan = PLAN) -> None:
        self.target_ohm, self.plan, self.per_turn = target_ohm, plan, 1.0
        self.measured: tuple[float, float] | None = None

    def resistance(self, turns: float) -> tuple[float, float, float]:
        ohm = turns * self.per_turn
        return ohm, 0.9 * ohm, 1.1 * ohm

    def objection(self, reading: Reading, turns: float) -> str:
        told = reading.observation.ohm
        return "" if told > 0 else f"'{reading.text}' is not something to measure"

    def read(self, said: Reading, turns: float, *, finished: bool) -> Finding:
        text, ohm = said.text, said.observation.ohm
        if ohm > 10 * turns:
            return Finding(text, False, "this cannot be: the coil is open", None)
        self.per_turn, self.measured = ohm / turns, (ohm, turns)
        words, wanted = f"{self.per_turn:g} ohm a turn", round(self.target_ohm / self.per_turn)
        return Finding(text, True, words, wanted, (ohm, None))

    def set_tension(self, tension_n: float | None) -> None:
        pass

    def wanted_turns(self) -> int | None:
        return None

    def turns_left(self) -> int | None:
        return None if self.measured is None else round(self.target_ohm / self.per_turn)

    def replan(self, target_turns: int) -> Plan:
        last = leg("landing", target_turns, AtEnd.COMPLETE, 600.0)
        return replace(self.plan, legs=(*self.plan.legs[:-1], last), target_turns=target_turns)


def paused(plan: Plan = PLAN, **more) -> Bench:
    more.setdefault("body", TurningBackBody())
    return Bench(plan, **more).winding().run_until(P.PAUSED).run(300)


def ohms(ohm: float) -> Reading:
    return Reading(f"ohm, {ohm:g} ohm", OhmReading(0.0, ohm))


def told(bench: Bench, kind: str) -> list[str]:
    return [event.text for event in bench.journal if event.kind == kind]


def turns(bench: Bench) -> float:
    return bench.truth.low / CPT


# --- the wire broke -------------------------------------------------------------------------------


def test_a_break_in_motion_stops_and_the_turns_of_the_last_moments_are_in_doubt():
    bench = Bench(LONG_PLAN).winding().run_to_count(600)
    true_at_break = bench.body.true_count - 300  # the wire broke 15 turns before anybody saw it
    assert bench.ask(A.WIRE_BROKE) == ""
    bench.run_until(P.PAUSED).run(300)
    truth = bench.truth
    assert truth.certainty is Certainty.BETWEEN and holds(truth, true_at_break)
    assert truth.high == bench.body.true_count
    assert "wire broke at about turn 30" in told(bench, "wire")
    assert bench.view().count.wire_broke_at == pytest.approx(30, abs=1)


def test_nothing_winds_on_before_the_wire_is_joined_or_found_whole():
    bench = paused()
    bench.ask(A.WIRE_BROKE)
    assert "join the wire" in bench.ask(A.CONTINUE) and A.CONTINUE not in bench.session.may()
    starts = sum(isinstance(request, Start) for request in bench.sent)
    assert starts == 1
    assert bench.ask(A.WIRE_JOINED) == ""
    assert bench.ask(A.CONTINUE) == ""
    bench.run_until(P.COMPLETE)


def test_a_splice_is_on_record_at_the_turn_where_the_coil_stands_then():
    bench = paused()
    bench.ask(A.WIRE_BROKE)
    assert bench.ask(A.TURNS_OFF, TurnsOff(6.5)) == ""
    bench.run_until(P.PREPARING, P.PAUSED).run_until(P.PAUSED).run(200)
    assert bench.ask(A.WIRE_JOINED) == ""
    assert told(bench, "wire") == ["wire broke at about turn 40", "splice at turn 33.5"]
    until = next(i for i, e in enumerate(bench.journal) if "splice" in e.text)
    assert folded(bench.journal[: until + 1]).truth(WIND).low == 33.5 * CPT
    bench.ask(A.CONTINUE)
    bench.run_until(P.WINDING).run_until(P.PAUSED).run(200)
    assert turns(bench) == 40, "the planned pause is a turn of the coil"
    bench.ask(A.CONTINUE)
    bench.run_until(P.COMPLETE)
    assert turns(bench) == 60 and bench.truth.certainty is Certainty.VOUCHED
    assert bench.body.true_count == (60 + 6.5) * CPT, "what came off was wound again"


def test_a_wire_that_is_whole_leaves_no_splice():
    bench = paused()
    bench.ask(A.WIRE_BROKE)
    assert "on record" in bench.ask(A.WIRE_BROKE)
    assert bench.ask(A.WIRE_WHOLE) == ""
    assert told(bench, "wire")[-1] == "the wire is whole; 40 turns, exact"
    assert "no broken wire" in bench.ask(A.WIRE_JOINED)
    assert bench.ask(A.CONTINUE) == ""


# --- turns that come off --------------------------------------------------------------------------


@pytest.mark.parametrize("value", [None, 0.0, -1.0, 40.1, float("nan")])
def test_no_more_comes_off_than_there_is(value):
    bench = paused()
    assert "at most the 40" in bench.ask(A.TAKE_OFF, value)
    off = None if value is None else TurnsOff(value)
    assert ("at most the 40" if off else "how many turns") in bench.ask(A.TURNS_OFF, off)
    assert turns(bench) == 40


def test_edges_at_rest_without_a_sense_of_direction_are_explained_by_the_turns_that_came_off():
    bench = paused(machine=BLIND_MACHINE, identity=BLIND_BOARD, body=TurningBackBody(False))
    bench.by_hand(-3 * CPT)
    assert bench.truth.certainty is Certainty.BETWEEN
    assert bench.ask(A.TURNS_OFF, TurnsOff(3.0)) == ""
    assert bench.truth.certainty is Certainty.VOUCHED and turns(bench) == 37


def test_a_doubt_stays_a_doubt_when_turns_come_off():
    bench = Bench(LONG_PLAN).winding().run_to_count(1500)
    bench.ask(A.WIRE_BROKE)
    bench.run_until(P.PAUSED).run(300)
    before = bench.truth
    bench.ask(A.TURNS_OFF, TurnsOff(5.0))
    after = bench.truth
    assert (after.low, after.high) == (before.low - 5 * CPT, before.high - 5 * CPT)


def test_the_motor_turns_back_by_one_finite_move_and_the_wind_goes_on():
    bench = paused()
    assert bench.ask(A.TAKE_OFF, 10.0) == ""
    bench.run(1000)
    view = bench.view()
    assert (
        view.motion.unwinds and view.headline == "turning back" and bench.session.phase is P.PAUSED
    )
    assert "turning back" in bench.ask(A.CONTINUE)
    bench.run(10_000)
    assert not bench.view().motion.unwinds and turns(bench) == 30
    assert bench.truth.certainty is Certainty.EXACT
    moves = [request for request in bench.sent if isinstance(request, Move)]
    assert [move.counts for move in moves] == [-10 * CPT]
    bench.ask(A.CONTINUE)
    bench.run_until(P.WINDING).run_until(P.PAUSED).run(200)
    assert turns(bench) == 40, "the planned pause comes again"
    bench.ask(A.CONTINUE)
    bench.run_until(P.COMPLETE)
    assert turns(bench) == 60


def test_a_stop_ends_turning_back():
    bench = paused()
    bench.ask(A.TAKE_OFF, 20.0)
    bench.run(3000)
    assert bench.moving
    assert bench.ask(A.PAUSE) == ""
    bench.run(1000)
    assert not bench.moving and 30 < turns(bench) < 40
    assert bench.session.phase is P.PAUSED and bench.truth.low == bench.body.true_count


def test_a_board_that_falls_silent_while_it_turns_back_leaves_the_count_in_doubt_downwards():
    bench = paused()
    bench.ask(A.TAKE_OFF, 30.0)
    bench.run(2000)
    at = bench.body.true_count
    bench.unplug()
    bench.run(300)
    truth = bench.truth
    assert bench.session.phase is P.UNHEARD
    assert truth.low < at and truth.high <= at + CPT and holds(truth, bench.body.true_count)


# --- wound long, measured, taken off --------------------------------------------------------------


def long_bench() -> Bench:
    estimate = Ohms(30.0, LONG)
    bench = Bench(LONG, body=TurningBackBody(), estimate=estimate).winding()
    return bench.run_until(P.TAKING_OFF).run(300)


def test_a_coil_wound_long_waits_to_be_measured():
    bench = long_bench()
    assert bench.state() is State.COMPLETE and not bench.session.finished
    view = bench.view()
    assert view.count.off_turns is None and "measure" in view.advice


def test_turns_are_counted_off_to_what_the_reading_says():
    bench = long_bench()
    assert bench.ask(A.MEASURED, ohms(48.0)) == ""  # 1.2 ohm a turn: 25 turns are wanted
    assert bench.view().count.off_turns == 15
    bench.by_hand(-5 * CPT)
    assert bench.view().count.off_turns == 10
    assert bench.ask(A.TAKE_OFF, 10.0) == ""
    bench.run_until(P.COMPLETE).run(300)
    assert bench.session.finished and turns(bench) == 25
    assert bench.session.readings.measured == (48.0, None)
    view = bench.view()
    assert (view.coil.target_turns, view.count.remaining_turns, view.ohm.finding) == (25, 0.0, "")


def test_a_coil_may_be_kept_as_it_is():
    bench = long_bench()
    assert bench.ask(A.END_HERE) == ""
    bench.run(300)
    assert bench.session.phase is P.ENDED and bench.session.finished and turns(bench) == 40


def counter(direction_sense: bool) -> Bench:
    machine = replace(HAND_DRILL, direction_sense=direction_sense)
    identity = replace(COUNTER, has=1 if direction_sense else 0)
    bench = Bench(BODY_PLAN, machine, identity, body=HandBody(direction_sense)).ready()
    bench.ask(A.START)
    bench.body.to_turn = 43 * CPT
    return bench.run(1500).run_until(P.TAKING_OFF)


def test_a_counter_tells_the_turns_past_the_target_and_counts_them_back():
    bench = counter(direction_sense=True)
    view = bench.view()
    assert bench.session.phase is P.TAKING_OFF and view.count.off_turns == 3
    assert "no motor" in bench.ask(A.TAKE_OFF, 3.0)
    bench.body.to_turn = -3 * CPT
    bench.run(55)
    assert 0 < bench.view().count.off_turns < 3
    bench.run_until(P.COMPLETE).run(200)
    assert turns(bench) == 40


def test_a_counter_without_a_sense_of_direction_asks():
    bench = counter(direction_sense=False)
    assert bench.view().count.off_turns == 3
    assert "say so" in bench.view().advice
    assert bench.ask(A.TURNS_OFF, TurnsOff(3.0)) == ""
    bench.run_until(P.COMPLETE).run(200)
    assert turns(bench) == 40 and bench.truth.certainty is Certainty.VOUCHED


def test_a_part_of_a_turn_past_the_target_is_no_turn():
    machine, identity = replace(HAND_DRILL, direction_sense=True), replace(COUNTER, has=1)
    bench = Bench(BODY_PLAN, machine, identity, body=HandBody()).ready()
    bench.ask(A.START)
    bench.body.to_turn = 40 * CPT + CPT - 1
    bench.run_until(P.COMPLETE)
    assert bench.truth.low == 41 * CPT - 1


# --- readings -------------------------------------------------------------------------------------


def test_a_reading_at_a_pause_offers_a_target_and_nothing_changes_before_it_is_adopted():
    bench = paused(estimate=Ohms())
    assert bench.ask(A.MEASURED, ohms(50)) == ""  # 1.25 ohm a turn: 48 turns
    view = bench.view()
    assert (view.coil.target_turns, view.ohm.offered_turns) == (60, 48)
    assert view.ohm.end == pytest.approx((75, 67.5, 82.5))
    assert "1.25 ohm a turn" in view.ohm.finding
    assert bench.ask(A.ADOPT_TURNS) == ""
    bench.run_until(P.PREPARING).run_until(P.PAUSED).run(200)
    view = bench.view()
    assert (view.coil.target_turns, view.ohm.offered_turns) == (48, None)
    assert view.ohm.end == pytest.approx((60, 54, 66))
    bench.ask(A.CONTINUE)
    bench.run_until(P.COMPLETE)
    assert turns(bench) == 48
    assert dict(next(e for e in bench.journal if "target is" in e.text).facts)["target_turns"] == 48


def test_a_reading_that_cannot_be_is_told_and_changes_nothing():
    bench = paused(estimate=Ohms())
    assert bench.ask(A.MEASURED, ohms(9999)) == ""
    view = bench.view()
    assert "cannot be" in view.ohm.finding and view.ohm.offered_turns is None
    assert view.ohm.end == pytest.approx((60, 54, 66))
    event = next(e for e in bench.journal if e.kind == "measured")
    assert dict(event.facts)["learnt"] is False
    assert "no other target" in bench.ask(A.ADOPT_TURNS)


def test_what_is_no_reading_is_refused():
    bench = paused(estimate=Ohms())
    assert "not something to measure" in bench.ask(A.MEASURED, ohms(-5))
    assert "say what" in bench.ask(A.MEASURED, 5.0)
    assert told(bench, "measured") == []
