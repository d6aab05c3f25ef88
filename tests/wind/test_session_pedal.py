"""A wind by foot pedal: it goes only as a person asked now, and whatever ends it, a person asks anew."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from session_bench import BOARD, LONG_PLAN, MACHINE, PLAN, Bench, folded, holds

from firmware_protocol.messages import Has, State, Trip
from firmware_protocol.pedal import ArmPedal
from winder.wind.model import Intent, Phase

PEDAL_MACHINE = replace(MACHINE, pedal=True)
PEDAL_BOARD = replace(BOARD, groups=(1, 1, 1, 1, 1, 0), has=BOARD.has | Has.PEDAL | Has.STOP_INPUT)


def bench(plan=LONG_PLAN, **more) -> Bench:
    return Bench(plan, PEDAL_MACHINE, PEDAL_BOARD, **more).ready()


def on(plan=LONG_PLAN, **more) -> Bench:
    at = bench(plan, **more)
    assert at.ask(Intent.PEDAL) == ""
    assert at.session.phase is Phase.PEDAL
    return at.run(300)


def press(at: Bench, span_ms: int = 300) -> Bench:
    at.body.seen.pedal_pressed = True
    return at.run(span_ms)


def let_go(at: Bench, span_ms: int = 1500) -> Bench:
    at.body.seen.pedal_pressed = False
    return at.run(span_ms)


def stays_still(at: Bench, phase: Phase) -> None:
    before = at.body.seen.count
    for _ in range(5):
        press(at)
        let_go(at, 300)
    assert at.body.seen.count == before and not at.moving
    assert at.session.phase is phase


def test_a_foot_winds_pauses_and_goes_on_and_the_account_is_that_of_any_wind():
    at = on()
    press(at, 2000)
    assert at.session.phase is Phase.WINDING
    let_go(at)
    assert at.session.phase is Phase.PEDAL and at.body.seen.count > 0
    assert at.truth.is_sharp and at.truth.best == at.body.seen.count
    press(at, 1000)
    let_go(at)
    assert at.truth.is_sharp and at.truth.best == at.body.seen.count
    assert folded(at.journal).truth(at.session.course.wind).best == at.body.seen.count
    assert "at rest (the pedal was let go)" in at.journal[-1].text


def test_it_is_shown_that_the_pedal_goes_and_how_to_end_it():
    at = on()
    view = at.view()
    assert (view.headline, view.advice) == (
        "foot pedal",
        "press the pedal to wind, let go to pause; stop turns the pedal off",
    )
    press(at)
    assert at.view().advice.startswith("winding while you press the pedal, ")


def test_a_foot_that_is_on_it_already_is_told_to_let_go_first():
    at = bench()
    press(at)
    assert at.ask(Intent.PEDAL) == ""
    at.run(1000)
    assert at.session.phase is Phase.PEDAL and at.body.seen.count == 0
    assert at.view().advice.startswith("take your foot off the pedal first")
    let_go(at, 100)
    press(at)
    assert at.session.phase is Phase.WINDING


def test_it_stays_on_however_long_the_foot_rests():
    at = on()
    at.run(20_000)
    assert at.session.phase is Phase.PEDAL
    press(at, 1000)
    let_go(at, 20_000)
    assert at.session.phase is Phase.PEDAL
    press(at)
    assert at.session.phase is Phase.WINDING


def test_without_a_persons_word_no_foot_moves_anything():
    at = bench()
    stays_still(at, Phase.READY)
    assert not any(isinstance(sent, ArmPedal) for sent in at.sent)


@pytest.mark.parametrize(
    ("machine", "board", "said"),
    [
        (MACHINE, PEDAL_BOARD, "pedal = true"),
        (PEDAL_MACHINE, BOARD, "this board has no foot pedal"),
    ],
)
def test_it_is_offered_only_where_machine_and_board_have_one(machine, board, said):
    at = Bench(LONG_PLAN, machine, board).ready()
    assert Intent.PEDAL not in at.session.may()
    assert said in at.ask(Intent.PEDAL)


@pytest.mark.parametrize("ask", [Intent.PAUSE, Intent.CUT])
@pytest.mark.parametrize("when", ["at rest", "winding", "slowing"])
def test_a_stop_ends_it_and_a_person_asks_anew(ask, when):
    at = on()
    press(at, 1000)
    if when != "winding":
        let_go(at, 1500 if when == "at rest" else 60)
    assert at.ask(ask) == ""
    press(at, 3000)
    assert at.session.phase is Phase.PAUSED
    stays_still(at, Phase.PAUSED)
    assert at.ask(Intent.PEDAL) == ""
    let_go(at, 300)
    press(at)
    assert at.session.phase is Phase.WINDING


def test_a_stop_at_rest_that_the_line_swallows_is_repeated_until_the_pedal_is_off():
    at = on()
    at.lost = 0.9
    assert at.ask(Intent.PAUSE) == ""
    at.run(300)
    at.lost = 0.0
    at.run(500)
    assert not at.device.board.pedal.armed and not at.host.stopping
    stays_still(at, Phase.READY)


def test_the_host_end_does_not_take_rest_for_a_stop_that_worked_while_the_pedal_is_armed():
    at = on()
    taken = at.device.board.pedal
    disarm, taken.disarm = taken.disarm, lambda: None
    at.ask(Intent.PAUSE)
    at.run(1000)
    assert at.host.stopping
    taken.disarm = disarm
    at.run(500)
    assert not at.host.stopping


def test_the_host_dies_with_the_pedal_down():
    at = on()
    press(at, 1000)
    at.alive = False
    press(at, 2500)
    assert at.state() is State.PAUSED
    at.alive = True
    at.run(500)
    stays_still(at, Phase.PAUSED)


def test_the_host_dies_at_rest_and_the_foot_goes_on_meanwhile_within_the_bounds_of_the_record():
    # What a crash leaves is the journal: it must reckon with a foot that pressed behind its last word.
    for silent_ms in range(0, 1200, 100):
        at = on()
        press(at, 1000)
        let_go(at, 10_000)
        told = folded(at.journal)
        at.alive = False
        let_go(at, max(5, silent_ms))
        press(at, 4000)
        assert holds(told.truth(0, None), at.body.seen.count), silent_ms


def test_the_link_goes_with_the_pedal_down_and_comes_back():
    at = on()
    press(at, 1000)
    at.cable = False
    at.run(3000)
    at.cable = True
    at.run(1000)
    assert at.session.phase is Phase.PAUSED
    stays_still(at, Phase.PAUSED)


def test_a_trip_ends_it_and_the_stop_switch_is_one():
    at = on()
    press(at, 1000)
    at.body.seen.stop_pressed = True
    at.run(1000)
    assert at.session.phase is Phase.TRIPPED
    assert at.device.board.trip is Trip.STOP_PRESSED
    view = at.view()
    assert view.trouble.trip == "the stop switch at the machine was pressed"
    assert at.truth.is_sharp and at.truth.best == at.body.seen.count
    at.ask(Intent.CLEAR_TRIP)
    at.run(300)
    assert at.session.phase is Phase.TRIPPED
    at.body.seen.stop_pressed = False
    at.run(300)
    at.ask(Intent.CLEAR_TRIP)
    at.run(300)
    stays_still(at, Phase.PAUSED)


def test_the_stop_switch_at_rest_turns_the_pedal_off():
    at = on()
    at.body.seen.stop_pressed = True
    at.run(300)
    assert at.session.phase is Phase.READY
    at.ask(Intent.PEDAL)
    at.run(300)
    assert at.session.phase is Phase.READY
    assert "the stop switch at the machine is pressed" in at.view().advice


def test_a_planned_pause_and_the_end_are_the_boards():
    at = on(PLAN)
    press(at, 10_000)
    assert at.session.phase is Phase.PAUSED and at.body.seen.count == 40 * 20
    stays_still(at, Phase.PAUSED)
    assert at.ask(Intent.PEDAL) == ""
    let_go(at, 300)
    press(at, 8000)
    assert at.session.phase is Phase.COMPLETE and at.body.seen.count == 60 * 20


def test_a_board_that_is_reset_with_the_pedal_down_loses_the_wind_and_moves_nothing():
    at = on()
    press(at, 1000)
    at.reset()
    at.run(3000)
    assert at.session.phase is Phase.LOST and not at.moving


@pytest.mark.parametrize("seed", range(12))
def test_any_foot_any_stop_any_line_never_moves_unasked_and_never_raises_an_alarm(seed):
    chance = random.Random(seed)
    at = on(seed=seed)
    for _ in range(40):
        at.lost = chance.choice((0.0, 0.0, 0.2))
        at.body.seen.pedal_pressed = chance.random() < 0.5
        at.run(chance.choice((20, 60, 200, 800)))
        if chance.random() < 0.2:
            at.ask(chance.choice((Intent.PAUSE, Intent.PEDAL, Intent.CONTINUE, Intent.CUT)))
        assert at.session.phase is not Phase.ALARM, at.session.watch.alarm
        if at.session.phase in (Phase.READY, Phase.PAUSED) and not at.host.stopping:
            assert at.state() is not State.WINDING
    at.lost = 0.0
    at.ask(Intent.PAUSE)
    press(at, 4000)
    assert not at.moving and at.truth.is_sharp and at.truth.best == at.body.seen.count
