"""The guide's limit switch and its far moves: the C core over its own body, at the host port's pins.

The guide truly stands where its steps have brought it, and the switch opens there at and below a place of its own.
"""

from __future__ import annotations

import ctypes
import itertools

import pytest
from host.bench import Bench, leg
from host.core import Machine, needs_compiler

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import (
    ClearTrip,
    EndAction,
    Flag,
    Has,
    Reason,
    State,
    TraverseMark,
    TraverseStep,
    Trip,
    Verdict,
)
from firmware_protocol.settings import Settings, write_of
from firmware_protocol.vocabulary import Driver, Wired

pytestmark = needs_compiler
STEP_UM, STEPS_A_MS, TRAVEL_STEPS = 2.5, 4, 40_000
SWITCH_AT = -5000  # steps from where the guide stands at power-up; the left flange is there
FAST = {
    "rate_um_s": 50_000,
    "accel_um_s2": 100_000,
}  # 20 steps a millisecond, and 40 a second more in each
SETTINGS = Settings(
    number=1, driver=Driver.ENABLE_AND_DIRECTION, inputs=Wired.GUARD | Wired.LIMIT_SWITCH, dead_ms=1,
    rate_max_mcps=2_000_000, full_rate_mcps=2_500_000, full_accel_mcps2=10_000_000, friction_permille=80,
    brake_permille=500, cut_ms=2000, rest_ms=6000, step_pm=2_500_000, travel_steps=TRAVEL_STEPS, steps_a_ms=STEPS_A_MS,
)  # fmt: skip


class Steps(ctypes.Structure):
    _fields_ = (("place", ctypes.c_int32), ("todo", ctypes.c_uint8), ("way", ctypes.c_int8), ("high", ctypes.c_bool))  # fmt: skip


class Guided(Machine):
    """``truth``: where the guide is, in steps from where it was at power-up; ``fault`` bends what the switch says."""

    def __init__(self) -> None:
        super().__init__(3)
        self.steps = Steps.in_dll(self.library, "steps")
        self.truth, self.most_a_ms, self.speeds = 0, 0, []
        self.switch_at = SWITCH_AT
        self.fault = lambda met: met

    def pass_ms(self, span_ms: int = 1) -> None:
        for _ in range(span_ms):
            before = self.steps.place
            self.host.limit_met = self.fault(self.truth <= self.switch_at)
            super().pass_ms(1)
            moved = self.steps.place - before
            if abs(moved) <= 100:  # else it was told where it is
                self.truth += moved
                self.speeds.append(moved)


def bench(settings: Settings = SETTINGS) -> tuple[Bench, Guided]:
    machine = Guided()
    at = Bench(machine)
    at.host.open(0)
    at.run(60)
    at.do(write_of(settings, 0, at.status.boot, at.status.revision))
    again = Bench(machine)
    again.open()
    again.run(60)
    return again, machine


def home(at: Bench, at_um: int = -12_500, **how: int) -> TraverseHome:
    return TraverseHome(**at.beliefs(), at_um=at_um, **(FAST | how))


def move(at: Bench, distance_um: int, **how: int) -> TraverseMove:
    return TraverseMove(**at.beliefs(), distance_um=distance_um, **(FAST | how))


def referenced(at: Bench) -> bool:
    at.run(60)
    return bool(at.status.flags & Flag.REFERENCED)


def homed() -> tuple[Bench, Guided]:
    at, machine = bench()
    at.do(home(at))
    at.to_rest()
    assert (at.status.state, at.status.reason) == (State.STILL, Reason.MOVE_DONE)
    return at, machine


def test_it_says_that_it_has_a_switch_only_where_one_is_wired():
    at, _ = bench()
    welcome = at.host.welcome
    assert welcome is not None and welcome.groups[2] == 2 and welcome.has & Has.LIMIT_SWITCH
    without, _ = bench(
        Settings(**{**{n: getattr(SETTINGS, n) for n in SETTINGS.__slots__}, "inputs": 1})
    )
    assert without.host.welcome is not None and without.host.welcome.groups[2] == 1
    for command in (home(without), move(without, 1000)):
        assert without.ask(command).verdict is Verdict.UNSUPPORTED


def test_homing_ends_just_off_the_switch_and_there_it_is():
    at, machine = homed()
    assert abs(machine.truth - machine.switch_at) <= STEPS_A_MS
    assert at.status.traverse_um == -12_500 and referenced(at)
    assert at.status.flags & Flag.TRAVERSE_RIGHTWARD


def test_the_same_place_again_from_wherever_it_begins():
    at, machine = homed()
    first = machine.truth
    for um in (40_000, 300, 0):
        if um:
            at.do(move(at, um))
            at.to_rest()
        at.do(home(at))
        at.to_rest()
        assert abs(machine.truth - first) <= 1


def test_a_far_move_ramps_up_and_down_and_loses_no_step():
    at, machine = homed()
    begin = machine.truth
    machine.speeds.clear()
    at.do(move(at, 60_000))
    assert not at.status.flags & Flag.REFERENCED
    at.to_rest()
    assert (machine.truth - begin) * STEP_UM == 60_000 and at.status.traverse_um == 47_500
    assert referenced(at)
    moving = [speed for speed in machine.speeds if speed]
    assert max(moving) == pytest.approx(20, abs=2)
    assert moving[1] <= STEPS_A_MS + 2 and moving[-2] <= STEPS_A_MS + 2
    assert all(abs(after - before) <= 2 for before, after in itertools.pairwise(moving[1:-1]))


def test_no_faster_than_the_pulses_allow():
    at, machine = homed()
    machine.speeds.clear()
    at.do(move(at, 60_000, rate_um_s=2**32 - 1, accel_um_s2=2**32 - 1))
    at.to_rest()
    assert max(machine.speeds) <= 66 and at.status.traverse_um == 47_500


def test_a_stop_lets_it_ramp_down_and_its_place_is_known():
    at, machine = homed()
    begin = machine.truth
    at.do(move(at, 90_000))
    at.run(700)
    machine.speeds.clear()
    at.stop()
    assert abs(machine.speeds[5] - machine.speeds[0]) <= 2, "it stands at once"
    at.to_rest()
    assert at.status.reason is Reason.STOP and referenced(at)
    assert at.status.traverse_um == -12_500 + (machine.truth - begin) * STEP_UM


def test_a_cut_stops_it_at_once_and_its_place_is_not_known_any_more():
    at, machine = homed()
    at.do(move(at, 90_000))
    at.run(700)
    at.cut()
    at.run(3)
    stood = machine.truth
    at.to_rest()
    assert machine.truth == stood and not referenced(at)
    assert at.ask(move(at, 1000)).verdict is Verdict.NOT_REFERENCED


def test_a_trip_on_the_way_takes_the_place_away_for_good():
    at, machine = homed()
    at.do(move(at, 90_000))
    at.run(700)
    machine.host.guard_open = True
    at.run(3)
    stood = machine.truth
    machine.host.guard_open = False
    at.run(3000)
    assert machine.truth == stood and at.status.trip is Trip.GUARD_OPENED
    at.do(ClearTrip(**at.beliefs(), trip=Trip.GUARD_OPENED))
    at.run(60)
    at.do(TraverseStep(**at.beliefs(), distance_um=500))
    at.to_rest()
    assert at.status.reason is Reason.MOVE_DONE and not referenced(at)


def test_a_stop_ends_the_search_and_nothing_is_known():
    at, machine = bench()
    at.do(home(at))
    at.run(20)
    at.stop()
    at.to_rest()
    assert machine.truth > machine.switch_at and not referenced(at)


def test_a_stop_while_it_comes_off_the_switch_ends_there():
    at, machine = bench()
    at.do(home(at))
    while machine.truth > machine.switch_at:
        at.run(1)
    at.run(30)
    at.stop()
    at.to_rest()
    assert at.status.reason is Reason.STOP and not referenced(at)


def tripped(at: Bench) -> None:
    at.to_rest()
    at.run(2000)
    assert (at.status.state, at.status.trip) == (State.TRIPPED, Trip.TRAVERSE_LIMIT)
    assert not referenced(at)
    at.do(ClearTrip(**at.beliefs(), trip=Trip.TRAVERSE_LIMIT))
    at.run(60)
    assert at.status.state is State.STILL


def test_a_switch_that_never_opens_ends_in_a_trip_not_in_grinding():
    at, machine = bench()
    machine.fault = lambda met: False
    at.do(home(at))
    tripped(at)
    assert -machine.truth == pytest.approx((TRAVEL_STEPS + 5000) * 9 / 8, abs=30)


@pytest.mark.parametrize("after_ms", [1, 5])
def test_a_contact_that_closes_again_is_not_trusted(after_ms):
    at, machine = bench()
    seen = 0

    def flickers(met: bool) -> bool:
        nonlocal seen
        seen += met
        return met and seen <= after_ms

    machine.fault = flickers
    at.do(home(at))
    tripped(at)


def test_a_contact_that_opens_again_as_it_is_left_is_not_trusted():
    at, machine = bench()
    left = 0

    def sticks(met: bool) -> bool:
        nonlocal left
        left += machine.truth <= SWITCH_AT or left > 0
        return met if left < 60 else left % 40 > 20

    machine.fault = sticks
    at.do(home(at))
    tripped(at)


def test_a_broken_cable_reads_as_met_and_is_never_left():
    at, machine = bench()
    machine.fault = lambda met: True
    at.do(home(at))
    tripped(at)
    assert 0 < machine.truth <= 8000


def test_the_switch_met_on_the_way_left_trips_and_the_way_right_leads_off_it():
    at, machine = bench()
    at.do(TraverseMark(**at.beliefs(), side=0, at_um=0))
    machine.switch_at = -20  # nearer than the mark says
    at.do(TraverseStep(**at.beliefs(), distance_um=5000))
    at.to_rest()
    machine.switch_at = 1000
    at.do(TraverseStep(**at.beliefs(), distance_um=-4000))
    tripped(at)
    assert machine.truth == pytest.approx(1000, abs=2 * STEPS_A_MS)
    at.do(TraverseStep(**at.beliefs(), distance_um=500))
    at.to_rest()
    assert at.status.reason is Reason.MOVE_DONE
    machine.switch_at = machine.truth
    at.do(TraverseMark(**at.beliefs(), side=0, at_um=0))
    at.do(move(at, -1000))
    tripped(at)


def test_a_far_move_beyond_the_travel_ends_there_and_trips():
    at, machine = homed()
    at.do(move(at, 200_000))
    tripped(at)
    assert at.status.traverse_um == TRAVEL_STEPS * STEP_UM
    assert machine.truth - machine.switch_at == pytest.approx(TRAVEL_STEPS + 5000, abs=STEPS_A_MS)


def test_met_while_a_plan_leads_the_guide_trips_whichever_way_it_goes():
    at, machine = homed()
    at.do(move(at, 12_500))
    at.to_rest()
    at.load(leg(0, 5000, EndAction.COMPLETE, pitch_nm=100_000, right_um=20_000))
    at.start()
    at.run(1500)
    assert at.status.state is State.WINDING
    machine.fault = lambda met: True
    at.run(3)
    assert machine.host.duty_permille == 0
    at.to_rest()
    at.run(100)
    assert (at.status.state, at.status.trip) == (State.TRIPPED, Trip.TRAVERSE_LIMIT)
    assert at.status.count == machine.turned and not referenced(at)


@pytest.mark.parametrize(
    ("change", "field"),
    [({"at_um": 1_000_001}, 4), ({"at_um": -1_000_001}, 4), ({"rate_um_s": 0}, 5), ({"accel_um_s2": 0}, 6)],
)  # fmt: skip
def test_what_cannot_be_is_refused(change, field):
    at, machine = bench()
    answer = at.ask(home(at, **change))
    assert (answer.verdict, answer.detail) == (Verdict.BAD_VALUE, field)
    assert at.ask(move(at, 0)).detail == 4
    assert at.ask(move(at, 1000)).verdict is Verdict.NOT_REFERENCED
    machine.host.guard_open = True
    at.run(60)
    assert at.ask(home(at)).verdict is Verdict.GUARD_OPEN


def test_a_reset_on_the_way_is_told_and_the_place_unknown():
    at, machine = homed()
    at.do(move(at, 90_000))
    at.run(500)
    again = Bench(machine)
    again.host.open(0)
    again.run(100)
    assert (again.status.state, again.status.trip) == (State.TRIPPED, Trip.RESET_IN_MOTION)
    stood = machine.truth
    again.run(300)
    assert machine.truth == stood and not again.status.flags & Flag.REFERENCED
