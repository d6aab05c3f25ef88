"""The foot pedal and the stop switch, by whoever would have them move something nobody asked for.

The body is the scripted one: what foot and hand do is set in its facts, and every millisecond is looked at.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from pair import FULL_BOARD, PEDAL_BOARD, TWO_LEGS, leg
from raw_board import TOKEN, RawBoard, legs_of

from firmware_protocol.connection import MOVING
from firmware_protocol.device_plan import checksum_of
from firmware_protocol.messages import (
    LEASE_MS,
    ClearTrip,
    CloseWind,
    EndAction,
    Flag,
    Move,
    PlanCommit,
    Reason,
    State,
    TraverseStep,
    Trip,
    Verdict,
)
from firmware_protocol.pedal import ArmPedal
from firmware_protocol.vocabulary import PEDAL_SETTLE_MS, PedalFlag

SETTLED_MS = PEDAL_SETTLE_MS + 2
LONG = (leg(0, 100_000, EndAction.COMPLETE),)


def bench(legs=LONG) -> RawBoard:
    """A plan in force, a live lease, a foot that has been off the pedal for long."""
    bench = RawBoard(PEDAL_BOARD)
    bench.run(SETTLED_MS)
    bench.arm(legs)
    return bench


def armed(legs=LONG) -> RawBoard:
    at = bench(legs)
    assert at.arm_pedal() is Verdict.DONE
    at.run(2)
    return at


def press(at: RawBoard, span_ms: int = SETTLED_MS, alive: bool = True) -> None:
    at.body.seen.pedal_pressed = True
    at.run(span_ms, alive=alive)


def let_go(at: RawBoard, span_ms: int = SETTLED_MS) -> None:
    at.body.seen.pedal_pressed = False
    at.run(span_ms, alive=True)


def winding(legs=LONG) -> RawBoard:
    at = armed(legs)
    press(at)
    assert at.board.state is State.WINDING
    return at


def nothing_moves(at: RawBoard, span_ms: int = 3000) -> None:
    """Whatever the foot does for so long."""
    before = at.body.seen.count
    for _ in range(span_ms // 200):
        press(at, 100)
        let_go(at, 100)
    assert not at.board.in_motion and at.body.seen.count == before


def test_a_press_goes_and_letting_go_rests_and_pauses_and_the_next_press_goes_on():
    at = winding()
    at.run(500, alive=True)
    wound = at.body.seen.count
    assert wound > 0
    let_go(at)
    assert (at.board.state, at.board.reason) == (State.SLOWING, Reason.PEDAL_RELEASED)
    at.run(500, alive=True)
    assert (at.board.state, at.board.reason) == (State.PAUSED, Reason.PEDAL_RELEASED)
    assert at.board.pedal.armed
    press(at)
    assert at.board.state is State.WINDING
    at.run(500, alive=True)
    assert at.body.seen.count > wound


def test_arming_alone_moves_nothing_and_leaves_the_revision():
    at = bench()
    before = at.board.revision
    assert at.arm_pedal() is Verdict.DONE
    at.run(5000, alive=True)
    assert at.board.revision == before and at.board.state is State.ARMED
    assert at.pedals[-1].flags == PedalFlag.ARMED | PedalFlag.RELEASE_SEEN


def test_a_board_without_the_group_knows_no_arming_and_looks_at_no_pedal():
    at = RawBoard(FULL_BOARD)
    at.arm()
    assert at.arm_pedal() is Verdict.UNSUPPORTED
    nothing_moves(at)
    assert at.pedals == []


# --- attacks: what must be seen released first ---------------------------------------------------


def test_a_pedal_that_is_held_down_as_it_is_armed_goes_only_after_it_was_let_go():
    at = bench()
    press(at)
    assert at.arm_pedal() is Verdict.DONE
    at.run(5000, alive=True)
    assert at.board.state is State.ARMED
    let_go(at)
    press(at)
    assert at.board.state is State.WINDING


@pytest.mark.parametrize("since_ms", range(PEDAL_SETTLE_MS + 3))
def test_a_pedal_that_goes_down_just_before_it_is_armed_does_not_go(since_ms):
    at = bench()
    press(at, since_ms)
    at.body.seen.pedal_pressed = True
    assert at.arm_pedal() is Verdict.DONE
    at.run(2000, alive=True)
    assert at.board.state is State.ARMED


def test_a_pedal_that_is_held_down_as_the_board_boots_goes_only_after_it_was_let_go():
    at = RawBoard(PEDAL_BOARD)
    at.body.seen.pedal_pressed = True
    at.arm(LONG)
    assert at.arm_pedal() is Verdict.DONE
    at.run(3000, alive=True)
    assert at.board.state is State.ARMED
    assert at.pedals[-1].flags == PedalFlag.ARMED | PedalFlag.PRESSED


def test_before_the_contact_was_looked_at_for_long_enough_it_counts_as_pressed():
    at = RawBoard(PEDAL_BOARD)
    at.arm(LONG)
    assert at.arm_pedal() is Verdict.DONE
    at.run(PEDAL_SETTLE_MS // 2, alive=True)
    press(at, 1000)
    assert at.board.state is State.ARMED


def test_a_pedal_held_down_through_a_trip_and_its_clearing_does_not_go():
    at = winding()
    at.body.seen.guard_open = True
    at.run(500, alive=True)
    assert at.board.state is State.TRIPPED
    at.body.seen.guard_open = False
    assert at.verdict(at.make(ClearTrip, trip=Trip.GUARD_OPENED)) is Verdict.DONE
    nothing_moves(at)
    assert not at.board.pedal.armed
    press(at)
    assert at.arm_pedal() is Verdict.DONE
    at.run(2000, alive=True)
    assert at.board.state is State.PAUSED


def test_a_foot_that_comes_back_while_it_slows_must_let_go_at_rest():
    at = winding()
    let_go(at)
    press(at, 1000)
    assert at.board.state is State.PAUSED
    let_go(at)
    press(at)
    assert at.board.state is State.WINDING


@pytest.mark.parametrize("hindrance", ["guard_open", "wire_present"])
def test_what_hinders_a_start_must_be_gone_before_the_pedal_is_let_go(hindrance):
    at = armed()
    bad = hindrance == "guard_open"
    setattr(at.body.seen, hindrance, bad)
    at.run(5, alive=True)
    press(at, 300)
    setattr(at.body.seen, hindrance, not bad)
    at.run(1000, alive=True)
    assert at.board.state is State.ARMED
    let_go(at)
    press(at)
    assert at.board.state is State.WINDING


# --- attacks: what ends it ----------------------------------------------------------------------


def test_the_host_dies_with_the_pedal_down_and_all_comes_to_rest_and_stays_there():
    at = winding()
    press(at, LEASE_MS + 300, alive=False)
    assert (at.board.state, at.board.reason) == (State.PAUSED, Reason.LEASE_LOST)
    at.live()
    nothing_moves(at)
    assert not at.board.pedal.armed


def test_the_lease_ends_at_rest_and_takes_the_arming_with_it():
    at = armed()
    at.run(LEASE_MS + 5)
    at.live()
    nothing_moves(at)


def test_it_is_let_go_in_the_silence_before_the_lease_ends():
    at = winding()
    at.body.seen.pedal_pressed = False
    at.run(LEASE_MS + 300)
    assert (at.board.state, at.board.reason) == (State.PAUSED, Reason.PEDAL_RELEASED)
    at.live()
    nothing_moves(at)


def test_a_press_in_a_silence_that_is_shorter_than_the_lease_ends_with_it():
    at = armed()
    at.run(LEASE_MS // 2)
    press(at, LEASE_MS, alive=False)
    assert at.board.reason is Reason.LEASE_LOST and not at.board.pedal.armed


ENDS = {
    "stop": lambda at: at.stop(),
    "cut": lambda at: at.cut(),
    "another session": lambda at: (at.run(LEASE_MS + 5), at.hello(TOKEN + 1), at.hello(TOKEN)),
    "another plan": lambda at: (
        at.begin(1, 2),
        at.ask(replace(LONG[0], token=TOKEN, generation=2)),
        at.ask(at.make(PlanCommit, generation=2, checksum=checksum_of(legs_of(LONG, 2)))),
    ),
    "the wind closed": lambda at: at.ask(at.make(CloseWind)),
    "a move": lambda at: (
        at.ask(at.make(Move, counts=10, rate_mcps=2000, accel_mcps2=1000)),
        at.run(500, alive=True),
    ),
    "a step of the guide": lambda at: (
        at.ask(at.make(TraverseStep, distance_um=100)),
        at.run(500, alive=True),
    ),
}


@pytest.mark.parametrize("end", ENDS)
def test_the_arming_ends_with_whatever_else_is_asked_for(end):
    at = armed()
    assert at.board.pedal.armed
    ENDS[end](at)
    assert not at.board.pedal.armed
    at.live()
    nothing_moves(at)


@pytest.mark.parametrize("ask", ["stop", "cut"])
def test_a_stop_while_it_winds_or_slows_ends_it_with_the_pedal_down(ask):
    for slowing in (False, True):
        at = winding()
        if slowing:
            let_go(at)
            assert at.board.state is State.SLOWING
        ENDS[ask](at)
        press(at, 1000)
        assert at.board.state is State.PAUSED and not at.board.pedal.armed
        nothing_moves(at)


def test_a_pause_of_the_plan_ends_it_so_that_a_person_is_asked():
    at = winding(TWO_LEGS)
    at.run(1000, alive=True)
    assert (at.board.state, at.board.reason) == (State.PAUSED, Reason.LEG_PAUSE)
    nothing_moves(at)


def test_the_end_of_the_plan_is_not_passed():
    at = winding((leg(0, 400, EndAction.COMPLETE),))
    at.run(2000, alive=True)
    assert at.board.state is State.COMPLETE and at.body.seen.count == 400
    nothing_moves(at)
    assert at.arm_pedal() is Verdict.WRONG_STATE


def test_a_start_by_the_host_is_not_the_pedals():
    at = armed()
    assert at.start() is Verdict.DONE
    press(at, 100)
    let_go(at, 500)
    assert at.board.state is State.WINDING and not at.board.pedal.armed


def test_a_contact_that_bounces_neither_goes_nor_stops():
    at = armed()
    for _ in range(50):
        press(at, PEDAL_SETTLE_MS - 1)
        let_go(at, 1)
    assert at.board.state is State.ARMED
    press(at)
    for _ in range(50):
        let_go(at, PEDAL_SETTLE_MS - 1)
        press(at, 1)
    assert at.board.state is State.WINDING


def test_arming_is_judged_as_a_start_is():
    at = bench()
    assert at.arm_pedal(generation=2) is Verdict.BAD_VALUE
    for name, bad, verdict in (
        ("guard_open", True, Verdict.GUARD_OPEN),
        ("stop_pressed", True, Verdict.STOP_PRESSED),
        ("wire_present", False, Verdict.WIRE_LOST),
    ):
        setattr(at.body.seen, name, bad)
        assert at.arm_pedal() is verdict
        setattr(at.body.seen, name, not bad)
    at.run(LEASE_MS + 1)
    assert at.arm_pedal() is Verdict.NO_LEASE
    at.live()
    assert at.arm_pedal() is Verdict.DONE
    at.run(2)
    press(at)
    assert at.arm_pedal() is Verdict.WRONG_STATE


def test_a_late_arming_counts_as_a_command_that_moves():
    # The host uses up its number after a stop, so that it never takes effect (section 16).
    assert ArmPedal in MOVING


# --- the stop switch ----------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["pedal", "start", "move"])
def test_the_stop_switch_trips_whatever_moves_and_is_not_cleared_while_it_is_pressed(how):
    at = winding() if how == "pedal" else bench()
    if how == "start":
        assert at.start() is Verdict.DONE
    elif how == "move":
        ask = at.make(Move, counts=10_000, rate_mcps=2000, accel_mcps2=1000)
        assert at.verdict(ask) is Verdict.DONE
    at.run(100, alive=True)
    at.body.seen.stop_pressed = True
    at.run(1, alive=True)
    assert (at.board.state, at.board.trip) == (State.TRIPPED, Trip.STOP_PRESSED)
    assert at.body.deeds[-1] != "wind" and "cut" in at.body.deeds
    at.run(1000, alive=True)
    assert at.verdict(at.make(ClearTrip, trip=Trip.STOP_PRESSED)) is Verdict.CAUSE_REMAINS
    at.body.seen.stop_pressed = False
    at.run(2)
    nothing_moves(at)
    assert at.verdict(at.make(ClearTrip, trip=Trip.STOP_PRESSED)) is Verdict.DONE
    nothing_moves(at)


def test_the_stop_switch_at_rest_trips_nothing_refuses_all_that_moves_and_disarms():
    at = armed()
    at.body.seen.stop_pressed = True
    at.run(100, alive=True)
    assert at.board.state is State.ARMED and at.statuses[-1].flags & Flag.STOP_PRESSED
    assert at.start() is Verdict.STOP_PRESSED
    ask = at.make(Move, counts=10, rate_mcps=2000, accel_mcps2=1000)
    assert at.verdict(ask) is Verdict.STOP_PRESSED
    assert at.verdict(at.make(TraverseStep, distance_um=5)) is Verdict.STOP_PRESSED
    at.body.seen.stop_pressed = False
    at.run(5, alive=True)
    nothing_moves(at)


def test_an_open_guard_is_told_before_the_stop_switch():
    at = bench()
    at.body.seen.stop_pressed = at.body.seen.guard_open = True
    at.run(5, alive=True)
    assert at.start() is Verdict.GUARD_OPEN
