"""A contact that bounces and disturbances between the edges of two channels: they count there and back, and are no
fault. Storms of them are one: they are told, or trip.

The edges are put by hand, to the clock's four microseconds; the count is known, so it can be compared.
"""

from __future__ import annotations

import pytest
from host.bench import WIND, Bench, leg, wound
from host.core import Machine, needs_compiler
from test_core_suspicion import BOUNCE_US, LEAST_US, Reed, edges_by_hand

from firmware_protocol.messages import CloseWind, EndAction, OpenWind, State, Trip

pytestmark = needs_compiler

TICKS_A_MS, US_A_TICK = 250, 4
PERIOD_US = 10_300  # of 97 counts/s: the edges wander through the loop's steps of 10 ms
EDGES = 90
DISTURBED = 3  # every so many periods


class ByHand:
    """A wind at speed whose edges come from here on by hand."""

    def __init__(self, *, channels: int = 2) -> None:
        self.machine = Machine(2)
        self.machine.host.direction_sense = channels == 2
        self.bench: Bench = wound(
            self.machine, leg(0, 100_000, EndAction.COMPLETE, rate_mcps=97_000)
        )
        self.bench.run(2500)
        self.machine.model.dark = True
        self.first = self.bench.status.count
        self.within = 0  # ticks since the newest whole millisecond
        self.drives: list[tuple[int, int]] = []  # duty and brake, of every millisecond

    def after(self, us: float, *, backward: bool = False) -> None:
        """An edge so long after the one before."""
        self.pass_us(us)
        self.machine.edge(backward=backward)

    def pass_us(self, us: float) -> None:
        host, until = self.machine.host, self.within + round(us / US_A_TICK)
        while until >= TICKS_A_MS:
            host.clock -= self.within
            self.within = 0
            self.bench.run(1)
            self.drives.append((host.duty_permille, host.brake_permille))
            until -= TICKS_A_MS
        host.clock += until - self.within
        self.within = until

    def assert_winding(self, edges: int) -> None:
        status = self.bench.status
        assert status.state is State.WINDING, status
        assert abs(status.count - self.first - edges) <= 6  # a status is up to 50 ms old


@pytest.mark.parametrize("width_us", [20, 500, 2000])
@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.78])
@pytest.mark.parametrize("backward_first", [True, False], ids=["back and on", "on and back"])
def test_a_disturbance_between_two_edges_is_no_fault(backward_first, share, width_us):
    wind = ByHand()
    for number in range(EDGES):
        rest_us = PERIOD_US
        if number % DISTURBED == 0:
            wind.after(share * PERIOD_US, backward=backward_first)
            wind.after(width_us, backward=not backward_first)
            rest_us -= share * PERIOD_US + width_us
        wind.after(rest_us)
        wind.assert_winding(number + 1)
    if not backward_first:  # an edge too early: the speed is not believed before it has lasted
        assert all(duty > 0 and brake == 0 for duty, brake in wind.drives)


@pytest.mark.parametrize("each_us", [20, 120, 300])
def test_a_contact_that_bounces_at_every_edge_is_no_fault(each_us):
    wind = ByHand()
    for number in range(EDGES):
        for _ in range(5):
            wind.after(each_us, backward=True)
            wind.after(each_us)
        wind.after(PERIOD_US - 10 * each_us)
        wind.assert_winding(number + 1)


def test_two_edges_against_the_drive_in_a_row_are_one():
    """A disturbance of one channel across an edge of the other: by levels three backward, and twenty true ones around."""
    wind = ByHand()
    for _ in range(10):
        wind.after(1000)
    for _ in range(3):
        wind.after(100, backward=True)
    for _ in range(10):
        wind.after(1000)
    wind.bench.run(60)
    assert wind.bench.status.state is State.TRIPPED


# --- storms ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("high_us", [60, BOUNCE_US - 200])
def test_bounces_that_go_on_are_told_for_true_edges_may_be_among_them(high_us):
    reed, period_us, lasted_us = Reed(), 20_000, 0
    for _ in range(5):
        reed.pulse(period_us)
    while lasted_us < 100_000:
        reed.rise(300)
        reed.fall(high_us)
        lasted_us += 300 + high_us
    status = reed.status()
    assert status.count == 5
    assert status.implausible >= lasted_us // period_us, "true edges that may have come meanwhile"


def test_a_sensor_that_gives_many_edges_too_soon_trips_and_a_stray_one_does_not():
    board = ByHand(channels=1)
    board.machine.host.least_ticks = LEAST_US // US_A_TICK
    for _ in range(30):
        for _ in range(9):
            board.after(PERIOD_US)
        board.after(LEAST_US - 300)
        board.pass_us(PERIOD_US - LEAST_US + 300)
    assert board.bench.status.state is State.WINDING and board.bench.status.implausible >= 25
    for _ in range(14):
        board.after(PERIOD_US)
        board.after(LEAST_US - 300)
        board.pass_us(PERIOD_US - LEAST_US + 300)
    board.pass_us(60_000)
    status = board.bench.status
    assert (status.state, status.trip) == (State.TRIPPED, Trip.SENSOR_IMPLAUSIBLE)


@pytest.mark.parametrize("strays", [1, 5])
def test_what_was_doubted_in_one_wind_is_not_held_against_the_next(strays):
    board = ByHand(channels=1)
    board.machine.host.least_ticks = LEAST_US // US_A_TICK
    for _ in range(strays):
        for _ in range(40):
            board.after(PERIOD_US)
        board.after(LEAST_US - 300)
        board.pass_us(PERIOD_US - LEAST_US + 300)
    for _ in range(40):
        board.after(PERIOD_US)
    assert board.bench.status.implausible == strays
    board.bench.cut()
    assert board.bench.to_rest().state is State.PAUSED
    board.machine.model.dark = False
    board.machine.host.least_ticks = 0
    board.bench.do(CloseWind(**board.bench.beliefs()))
    beliefs = board.bench.beliefs()
    del beliefs["wind"]
    board.bench.do(OpenWind(**beliefs, wind=WIND + 1))
    board.bench.load(leg(0, 2000, EndAction.COMPLETE, rate_mcps=97_000))
    board.bench.start()
    board.bench.run(500)
    assert (board.bench.status.state, board.bench.status.implausible) == (State.WINDING, 0)


def test_edges_that_come_to_the_end_by_themselves_and_go_on_trip():
    """At the first edges nothing is known of the speed: here they end the wind, and its count is not its turns."""
    machine = Machine(2)
    machine.model.dark = True
    bench = wound(machine, leg(0, 30, EndAction.COMPLETE))
    edges_by_hand(bench, machine, 5000.0, 300)
    assert (bench.status.state, bench.status.trip) == (State.TRIPPED, Trip.NOT_STOPPED)
