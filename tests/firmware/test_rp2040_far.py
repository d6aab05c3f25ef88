"""What the RP2040 has room for, at its pins: pedal, stop switch, limit switch, ramp. Each with a fault of its own."""

from __future__ import annotations

import itertools

import pytest
from emulator.board import FOUR_EDGES, STEP_UM, bench
from emulator.guided import NO_BELIEFS, GuidedHost, turns_leg
from emulator.rp2040_board import Rp2040Board
from emulator.rp2040_tools import needs_rp2040_tools
from emulator.traffic import BusyHost

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import (
    ClearTrip,
    EndAction,
    Flag,
    Has,
    OpenWind,
    Reason,
    State,
    Trip,
    Verdict,
)
from firmware_protocol.pedal import ArmPedal
from firmware_protocol.vocabulary import Wired

pytestmark = needs_rp2040_tools
COUNTS = 20
EVERYTHING = {"inputs": int(sum(Wired))}
TRAVEL_STEPS, SWITCH_AT, SWITCH_UM = 2000, -300, -750
STEPS_A_MS = 4  # of its settings
US_PER_NOW = 1 / 16


def armed(*, held: bool = False) -> GuidedHost:
    board = Rp2040Board(bench(COUNTS, FOUR_EDGES), **EVERYTHING)
    host = GuidedHost(board)
    host.load(turns_leg(COUNTS, 0, 500, EndAction.COMPLETE, pitch_nm=0))
    host.live(0.1)
    board.press_pedal(held)
    host.live(0.05)
    host.do(ArmPedal(**NO_BELIEFS, generation=1))
    return host


def until(host: BusyHost, holds, within_s: float) -> None:
    end_ns = host.board.now_ns + round(within_s * 1e9)
    while not holds():
        assert host.board.now_ns < end_ns, host.status
        BusyHost.live(host, 0.02)


def assert_at_rest_with_the_truth(host: BusyHost) -> None:
    board = host.board
    until(host, lambda: not board.turning, 4)
    BusyHost.live(host, 0.6)
    assert not board.chip.enabled
    assert host.status.count == board.chip.true_count
    board.assert_sound()


def test_a_press_winds_letting_go_rests_and_the_stop_switch_cuts_at_the_pins():
    host = armed()
    board = host.board
    BusyHost.live(host, 0.1)
    board.press_pedal(True)
    until(host, lambda: board.chip.enabled and board.turning, 0.3)
    BusyHost.live(host, 0.3)
    board.press_pedal(False)
    until(host, lambda: host.status.state is State.PAUSED, 5)
    assert host.status.reason is Reason.PEDAL_RELEASED and host.status.count > 0
    BusyHost.live(host, 0.1)
    board.press_pedal(True)
    until(host, lambda: board.turning, 0.3)
    BusyHost.live(host, 0.2)
    pressed_ns = board.now_ns
    board.press_stop(True)
    BusyHost.live(host, 0.01)
    assert not board.chip.enabled and board.chip.drive_off_ns - pressed_ns <= 3e6
    assert_at_rest_with_the_truth(host)
    assert (host.status.state, host.status.trip) == (State.TRIPPED, Trip.STOP_PRESSED)
    assert host.ask(ClearTrip(**NO_BELIEFS, trip=Trip.STOP_PRESSED)) is Verdict.CAUSE_REMAINS


def test_a_pedal_held_at_arming_moves_nothing():
    host = armed(held=True)
    BusyHost.live(host, 0.5)
    assert host.status.state is State.ARMED
    assert host.board.chip.edges == 0 and host.board.chip.drive_times.drives == 0


# --- the guide ------------------------------------------------------------------------------------------


def guided(fault: str = "") -> BusyHost:
    board = Rp2040Board(bench(COUNTS, FOUR_EDGES), travel_steps=TRAVEL_STEPS, **EVERYTHING)
    board.limit_switch(SWITCH_AT, fault)
    host = BusyHost(board)
    host.open()
    assert host.ask(OpenWind(0, 0, 0, 1)) is Verdict.DONE
    board.chip.take_steps()
    return host


def home(host: BusyHost) -> None:
    fast = {"rate_um_s": 25_000, "accel_um_s2": 200_000}
    assert host.ask(TraverseHome(**NO_BELIEFS, at_um=SWITCH_UM, **fast)) is Verdict.DONE


def test_it_finds_its_switch_and_goes_far_with_a_ramp():
    host = guided()
    chip, welcome = host.board.chip, host.end.welcome
    assert welcome is not None and welcome.groups == bytes((1, 1, 2, 1, 1, 1))
    assert Has(welcome.has) >= Has.PEDAL | Has.STOP_INPUT | Has.LIMIT_SWITCH | Has.GUARD
    home(host)
    until(host, lambda: host.status.state is State.STILL, 2)
    assert host.status.flags & Flag.REFERENCED and host.status.traverse_um == SWITCH_UM
    at_switch = chip.guide_steps
    assert at_switch == pytest.approx(SWITCH_AT, abs=2)
    chip.take_steps()
    move = TraverseMove(**NO_BELIEFS, distance_um=4000, rate_um_s=50_000, accel_um_s2=400_000)
    assert host.ask(move) is Verdict.DONE
    until(host, lambda: host.status.state is State.STILL, 2)
    assert (chip.guide_steps - at_switch) * STEP_UM == 4000
    assert host.status.traverse_um == SWITCH_UM + 4000 and host.status.flags & Flag.REFERENCED
    times = [at * US_PER_NOW for at, _, _ in chip.take_steps()]
    gaps = [later - first for first, later in itertools.pairwise(times)]
    assert min(gaps) < 70, "no faster than it starts: 250 us from step to step"
    for ends in (gaps[:4], gaps[-4:]):
        assert sum(ends) / 4 > 1000 / STEPS_A_MS * 0.6
    host.board.assert_sound()


@pytest.mark.parametrize(("fault", "steps"), [("never", (TRAVEL_STEPS + 300) * 9 // 8), ("again", 300)])  # fmt: skip
def test_a_switch_that_fails_trips_and_the_place_stays_unknown(fault, steps):
    """It never opens; it closes again while the guide stands on it. At rest, told, no step more."""
    host = guided(fault)
    home(host)
    until(host, lambda: host.status.trip is Trip.TRAVERSE_LIMIT, 3)
    stood = host.board.chip.guide_steps
    assert -stood == pytest.approx(steps, abs=20)
    BusyHost.live(host, 0.3)
    assert host.board.chip.guide_steps == stood
    assert host.status.state is State.TRIPPED and not host.status.flags & Flag.REFERENCED
    assert_at_rest_with_the_truth(host)


def test_the_switch_met_while_winding_trips_with_the_true_count():
    board = Rp2040Board(bench(COUNTS, FOUR_EDGES), **EVERYTHING)
    board.limit_switch(-1000)
    host = GuidedHost(board)
    host.load(turns_leg(COUNTS, 0, 500, EndAction.COMPLETE))
    host.start()
    until(host, lambda: board.turning, 0.5)
    BusyHost.live(host, 0.3)
    board.limit_switch(-1000, "cable")
    BusyHost.live(host, 0.01)
    assert not board.chip.enabled
    assert_at_rest_with_the_truth(host)
    assert (host.status.state, host.status.trip) == (State.TRIPPED, Trip.TRAVERSE_LIMIT)
