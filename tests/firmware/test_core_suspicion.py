"""What the core holds against its sensor and its drive: each fault trips in time, and what is no fault trips nothing.

Bounds are those of docs/protocol/specification.md, section 14. That a reed bounces for up to some milliseconds at
every closing and opening is common practice, no source.
"""

from __future__ import annotations

import pytest
from host.bench import Bench, leg, wound
from host.core import Core, Machine, needs_compiler

from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import (
    ClearTrip,
    EndAction,
    Hello,
    OpenWind,
    State,
    Status,
    Trip,
    Verdict,
)
from firmware_protocol.wire import unpack

pytestmark = needs_compiler

COMPLETE = EndAction.COMPLETE
TICKS_A_MS = 250


def until_tripped(bench: Bench, most_ms: int) -> int:
    for passed_ms in range(most_ms):
        if bench.status.state is State.TRIPPED:
            return passed_ms
        bench.run(1)
    raise AssertionError(f"no trip within {most_ms} ms: {bench.status}")


# --- silence ---------------------------------------------------------------------------------------


def test_a_sensor_that_was_dead_before_the_start_trips_before_the_spindle_runs_away():
    machine = Machine(2)
    machine.model.dark = True
    bench = wound(machine, leg(0, 8000, COMPLETE))
    until_tripped(bench, 2000)
    assert bench.status.trip in (Trip.STALLED, Trip.SENSOR_IMPLAUSIBLE)
    assert machine.model.speed_cps < 500 and machine.turned < 10 * 16


class DriveWatched(Machine):
    """Remembers the hardest drive of any millisecond."""

    hardest = 0

    def pass_ms(self, span_ms: int = 1) -> None:
        for _ in range(span_ms):
            super().pass_ms()
            self.hardest = max(self.hardest, self.host.duty_permille)


def test_a_spindle_that_is_held_trips_and_is_not_pushed_harder_than_the_highest_speed_needs():
    """Friction 80 per mille and 500 of 2500 counts/s, however hard the plan would speed up."""
    machine = DriveWatched(2)
    machine.identity.rate_max_mcps = 500_000
    machine.model.held = True
    bench = wound(machine, leg(0, 8000, COMPLETE, accel_mcps2=4_000_000))
    bench.run(2500)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.STALLED)
    assert 250 < machine.hardest <= 280


@pytest.mark.parametrize("rate", [20_000, 100_000, 500_000])
def test_a_sensor_that_dies_at_speed_trips_within_some_counts(rate):
    machine = Machine(2)
    bench = wound(machine, leg(0, 100_000, COMPLETE, rate_mcps=rate))
    bench.run(2500)
    machine.model.dark = True
    before, speed = machine.turned, machine.model.speed_cps
    until_tripped(bench, 4000)
    assert machine.model.speed_cps < 1.1 * max(speed, 500)
    assert machine.turned - before < 16 * 8


def test_twice_the_friction_is_a_cold_start_and_no_fault():
    machine = Machine(2)
    machine.model.friction_cps2 *= 1.9
    bench = wound(machine, leg(0, 400, COMPLETE, rate_mcps=20_000, accel_mcps2=20_000))
    assert bench.to_rest().state is State.COMPLETE


# --- two channels ----------------------------------------------------------------------------------


def with_direction(seed: int = 2) -> Machine:
    machine = Machine(seed)
    machine.host.direction_sense = True
    return machine


@pytest.mark.parametrize("rate", [16_000, 100_000, 500_000])
def test_edges_that_go_to_and_fro_trip_at_every_speed(rate):
    """A lost channel: every other edge looks backward."""
    machine = with_direction()
    bench = wound(machine, leg(0, 100_000, COMPLETE, rate_mcps=rate))
    bench.run(1500)
    machine.model.dark = True  # edges by hand from here on
    edges = 0
    while bench.status.state is State.WINDING:
        machine.edge(backward=edges % 2 == 1)
        edges += 1
        bench.run(max(1, 1_000_000 // rate))
        assert edges < 60
    assert bench.status.trip in (Trip.SENSOR_IMPLAUSIBLE, Trip.OVERSPEED)


def test_exchanged_channels_trip_at_the_first_edges():
    machine = with_direction()
    machine.model.dark = True
    bench = wound(machine, leg(0, 8000, COMPLETE))
    for _ in range(4):
        machine.edge(backward=True)
        bench.run(20)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.SENSOR_IMPLAUSIBLE)


def test_a_disturbance_that_counts_one_up_and_one_down_is_no_fault():
    machine = with_direction()
    bench = wound(machine, leg(0, 2000, COMPLETE, rate_mcps=300_000))
    while bench.status.state is not State.COMPLETE:
        bench.run(97)
        if bench.status.state is State.WINDING:
            machine.edge(backward=True)
            machine.edge()
        assert bench.status.state is not State.TRIPPED, bench.status
    assert bench.status.count == machine.turned


# --- one channel -----------------------------------------------------------------------------------

BOUNCE_US, LEAST_US = 1600, 4800  # as the boards derive them: a sixth and half of a period


class Reed:
    """A counter with one channel and its two times, fed with pulses by the microsecond (in steps of 4)."""

    def __init__(self) -> None:
        self.core = Core("libcounter.so")
        self.core.host.bounce_ticks = BOUNCE_US // 4
        self.core.host.least_ticks = LEAST_US // 4
        self.core.boot()
        self.reader = FrameReader()
        self.say(Hello(1, 7))
        assert self.say(OpenWind(7, 1, self.status().revision, 9), 1).verdict is Verdict.DONE

    def say(self, message, sequence: int = 0):
        self.core.receive(b"\0" + encode_message(message, sequence))
        return self.take()[0]

    def take(self) -> list:
        return [unpack(f.kind, f.payload) for f in self.reader.feed(self.core.data_to_send())]

    def status(self) -> Status:
        self.core.pass_ms(60)
        return [m for m in self.take() if isinstance(m, Status)][-1]

    def rise(self, after_us: int) -> None:
        self.pass_us(after_us)
        self.core.edge()

    def fall(self, after_us: int) -> None:
        self.pass_us(after_us)
        self.core.library.host_pulse_end()

    def pass_us(self, us: int) -> None:
        ticks, base = us // 4, TICKS_A_MS
        while ticks >= base:
            self.core.pass_ms()
            ticks -= base
        self.core.host.clock += ticks

    def pulse(self, period_us: int, bounces: int = 0, each_us: int = 80) -> None:
        """Closed for half of the period, bouncing as it closes and as it opens."""
        self.rise(period_us // 2 - 2 * bounces * each_us)
        for _ in range(bounces):
            self.fall(each_us)
            self.rise(each_us)
        self.fall(period_us // 2 - 2 * bounces * each_us)
        for _ in range(bounces):
            self.rise(each_us)
            self.fall(each_us)


@pytest.mark.parametrize("period_us", [10_000, 40_000, 300_000])
def test_a_reed_that_bounces_at_every_pulse_counts_each_pulse_once_without_a_word(period_us):
    reed = Reed()
    for _ in range(100):
        reed.pulse(period_us, bounces=4)
    status = reed.status()
    assert (status.count, status.implausible) == (100, 0)


def test_an_edge_sooner_than_the_shortest_period_is_told_and_not_counted():
    reed = Reed()
    for _ in range(20):
        reed.pulse(20_000)
    reed.rise(10_000)
    reed.fall(BOUNCE_US + 200)
    reed.rise(BOUNCE_US + 200)  # after its bounce time, before the shortest period
    reed.fall(BOUNCE_US + 200)
    for _ in range(5):
        reed.pulse(20_000)
    status = reed.status()
    assert (status.count, status.implausible) == (26, 1)


def test_a_counted_pulse_that_was_too_short_is_told():
    reed = Reed()
    reed.pulse(20_000)
    reed.rise(10_000)
    reed.fall(200)  # a disturbance, well apart from the pulses
    reed.pulse(20_000)
    reed.pass_us(400_000)
    assert (reed.status().count, reed.status().implausible) == (3, 1)
    reed.rise(10_000)
    reed.fall(200)  # the last of all: nothing comes behind it
    reed.pass_us(400_000)
    assert (reed.status().count, reed.status().implausible) == (4, 2)


def test_a_true_edge_behind_a_disturbance_in_the_gap_is_counted_or_told():
    """At the highest rate, a gap of half a period: wherever in it a pulse lies, and however long."""
    period_us = 2 * LEAST_US
    for begins_us in range(200, period_us // 2 - 400, 200):
        for lasts_us in range(200, period_us // 2 - begins_us, 200):
            reed = Reed()
            for _ in range(10):
                reed.pulse(period_us)
            reed.rise(begins_us)
            reed.fall(lasts_us)
            reed.rise(period_us // 2 - begins_us - lasts_us)
            reed.fall(period_us // 2)
            for _ in range(5):
                reed.pulse(period_us)
            status = reed.status()
            assert abs(16 - status.count) <= status.implausible, (begins_us, lasts_us, status)


# --- after the cut, and at rest ----------------------------------------------------------------------


def edges_by_hand(bench: Bench, machine: Machine, rate: float, span_ms: int) -> None:
    place = 0.0
    for _ in range(span_ms):
        place += rate / 1000
        while place >= 1.0:
            place -= 1.0
            machine.edge()
        bench.run(1)


def test_a_spindle_that_does_not_slow_down_after_the_cut_opens_the_contactor():
    machine = Machine(2)
    bench = wound(machine, leg(0, 100_000, COMPLETE, rate_mcps=400_000))
    bench.run(2000)
    machine.model.dark = True
    bench.host.cut(bench.now_ms * 1_000_000)
    edges_by_hand(bench, machine, 400.0, 1700)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.NOT_STOPPED)
    assert not machine.host.contactor and machine.host.brake_permille == 0


def test_a_spindle_that_turns_faster_after_the_cut_is_seen_sooner():
    machine = Machine(2)
    bench = wound(machine, leg(0, 100_000, COMPLETE, rate_mcps=100_000))
    bench.run(2000)
    machine.model.dark = True
    bench.host.cut(bench.now_ms * 1_000_000)
    place = 0.0
    for passed_ms in range(900):
        place += (100.0 + 0.2 * passed_ms) / 1000
        while place >= 1.0:
            place -= 1.0
            machine.edge()
        bench.run(1)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.NOT_STOPPED)
    assert not machine.host.contactor


def test_a_heavy_chuck_that_coasts_and_slows_is_no_fault():
    machine = Machine(2, brake=False)
    machine.model.friction_cps2 = 450.0 / 3  # three seconds from 450 counts/s
    machine.identity.rest_ms = 8000
    bench = wound(machine, leg(0, 100_000, COMPLETE, rate_mcps=400_000))
    bench.run(2000)
    bench.cut()
    status = bench.to_rest(9000)
    assert (status.state, status.trip) == (State.PAUSED, Trip.NONE)
    assert status.count == machine.turned


def test_what_does_not_rest_by_the_second_time_trips():
    machine = Machine(2)
    bench = wound(machine, leg(0, 100_000, COMPLETE))
    bench.run(1500)
    machine.model.dark = True
    bench.cut()
    edges_by_hand(bench, machine, 15.0, 6500)  # too slow to be judged by its speed
    assert bench.status.trip is Trip.NOT_STOPPED


def test_a_motor_that_starts_by_itself_at_rest_trips_and_a_hand_does_not():
    machine = Machine(2)
    bench = wound(machine, leg(0, 400, COMPLETE))
    bench.to_rest()
    bench.run(500)
    edges_by_hand(bench, machine, 200.0, 1000)  # a tenth of its highest speed
    assert bench.status.state is State.COMPLETE
    edges_by_hand(bench, machine, 900.0, 600)
    status = bench.status
    assert (status.state, status.trip) == (State.TRIPPED, Trip.TURNED_UNDRIVEN)
    assert status.unattributed > 600  # counts are told
    assert not machine.host.contactor
    bench.run(4000)
    bench.do(ClearTrip(**bench.beliefs(), trip=Trip.TURNED_UNDRIVEN))
    assert machine.host.contactor


# --- stops -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("accel_mcps2", [1, 1000, 50_000, 2**32 - 1])
@pytest.mark.parametrize("brake", [True, False])
def test_a_stop_is_over_by_the_told_times_whatever_the_plan_says(accel_mcps2, brake):
    machine = Machine(3, brake=brake)
    legs = (
        leg(0, 1500, EndAction.CONTINUE, rate_mcps=900_000, accel_mcps2=800_000),
        leg(1, 200_000, EndAction.CONTINUE, rate_mcps=900_000, accel_mcps2=accel_mcps2),
        leg(2, 201_000, COMPLETE, rate_mcps=900_000, accel_mcps2=800_000),
    )
    bench = wound(machine, *legs)
    bench.run(2500)
    assert bench.status.leg == 1
    bench.stop()
    bench.run(machine.identity.cut_ms - 90)
    assert machine.host.duty_permille == 0
    status = bench.to_rest(machine.identity.rest_ms)
    assert status.state is State.PAUSED and status.count == machine.turned


def test_drive_and_brake_are_never_on_together_and_the_dead_time_lies_between():
    machine = Machine(3)
    legs = [
        leg(n, 300 * (n + 1), EndAction.PAUSE if n < 3 else COMPLETE, rate_mcps=700_000)
        for n in range(4)
    ]
    bench = wound(machine, *legs)
    for _ in range(4):
        bench.to_rest()
        if bench.status.state is State.PAUSED:
            bench.start()
    assert bench.status.state is State.COMPLETE
    assert not machine.host.overlapped
    assert TICKS_A_MS <= machine.host.gap_ticks < 1 << 20


# --- in motion is remembered ---------------------------------------------------------------------------


def test_power_lost_in_motion_comes_back_tripped_until_a_person_clears_it():
    machine = Machine(1)
    bench = wound(machine, leg(0, 2000, COMPLETE))
    bench.run(1000)
    for _ in range(2):  # the host that looks may reset it again
        machine.boot()
        bench.run(100)
        assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.RESET_IN_MOTION)
        bench.run(3000)
    again = Bench(machine)
    again.host.open(0)
    again.run(2000)
    assert again.status.trip is Trip.RESET_IN_MOTION
    again.do(ClearTrip(**again.beliefs(), trip=Trip.RESET_IN_MOTION))
    again.run(100)
    machine.boot()
    again.run(100)
    assert again.status.state is State.STILL


def test_a_reset_at_rest_is_no_trip():
    machine = Machine(1)
    bench = wound(machine, leg(0, 400, COMPLETE))
    bench.to_rest()
    bench.run(200)
    machine.boot()
    bench.run(100)
    assert bench.status.state is State.STILL
