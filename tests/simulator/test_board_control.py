"""The board's loop alone: fed with edges by hand, it judges by them and by nothing else."""

from __future__ import annotations

import pytest
from bench_rig import leg

from firmware_protocol.body import Drive, Order
from firmware_protocol.messages import CREEP_RATE_LEAST_MCPS, Trip
from winder.simulator.build import Build
from winder.simulator.control import TICK_S, Control, Mode
from winder.simulator.draw import Told

TOLD = Told(20, True, 1500.0, 600.0, 700.0, 5000.0, 0.1)


class EdgeMaker:
    """Edges at a rate that the test sets, whatever the duty."""

    def __init__(self, turns: int = 1000) -> None:
        self.control = Control(Build())
        self.control.obey(Drive(Order.WIND, (leg(TOLD, 0, turns, 1000.0),)))
        self.tick = 0
        self.place = 0.0

    def run(self, seconds: float, rate: float, rise: float = 0.0) -> None:
        """Rate in counts/s, growing by ``rise`` a second."""
        for _ in range(round(seconds / TICK_S)):
            start_s = self.tick * TICK_S
            before, self.place = self.place, self.place + rate * TICK_S
            edges = int(self.place) - int(before)
            edge_s = start_s + (int(self.place) - before) / rate if edges else 0.0
            self.tick += 1
            self.control.step(edges, edge_s, self.tick * TICK_S)
            rate += rise * TICK_S


def test_the_rate_is_that_of_the_edges():
    edges = EdgeMaker()
    edges.run(1.0, 200.0)
    assert edges.control.rate_mcps() == pytest.approx(200_000, abs=1)


def test_too_many_edges_are_an_overspeed():
    edges = EdgeMaker()
    for _ in range(400):
        edges.run(TICK_S, 10.0 + 2.5 * edges.tick)
        if edges.control.trip:
            break
    assert edges.control.trip == Trip.OVERSPEED
    assert edges.control.rate < 1.1 * 500
    assert (edges.control.duty, edges.control.brake) == (0.0, 1.0)


def test_edges_that_treble_at_once_are_implausible():
    edges = EdgeMaker()
    edges.run(1.0, 150.0)
    assert edges.control.trip == Trip.NONE
    edges.run(0.02, 450.0)
    assert edges.control.trip == Trip.SENSOR_IMPLAUSIBLE


def test_edges_that_stop_at_speed_are_implausible_at_once():
    edges = EdgeMaker()
    edges.run(1.0, 300.0)
    edges.run(0.15, 1e-9)
    assert edges.control.trip == Trip.SENSOR_IMPLAUSIBLE


def test_no_edge_at_all_trips_before_the_spindle_can_run_away():
    edges = EdgeMaker()
    hardest = 0.0
    while not edges.control.trip:
        edges.run(TICK_S, 1e-9)
        hardest = max(hardest, edges.control.duty)
        assert edges.tick * TICK_S < 2.0
    assert edges.control.trip == Trip.STALLED
    assert edges.control.duty == 0.0
    assert hardest <= Build().board_knows.friction_duty + 1500 / Build().board_knows.rpm_per_duty


def test_it_never_asks_for_less_than_the_slowest_speed_it_can_see():
    edges = EdgeMaker(turns=40)
    slowest = []
    while edges.control.mode is Mode.TRACK and edges.control.to_cut > 1:
        edges.run(TICK_S, max(edges.control.reference, 1.0))
        slowest.append(edges.control.reference)
    creeping = slowest[len(slowest) // 2 :]
    assert min(creeping) * 1000 >= CREEP_RATE_LEAST_MCPS
    assert min(creeping) == pytest.approx(edges.control.creep)


def test_rest_is_heard_as_silence_and_no_sooner():
    edges = EdgeMaker()
    edges.run(1.0, 100.0)
    edges.control.obey(Drive(Order.CUT))
    edges.run(0.5, 20.0)
    assert not edges.control.at_rest
    edges.run(2.0, 1e-9)
    assert edges.control.at_rest


def test_a_gentle_change_of_speed_trips_nothing():
    edges = EdgeMaker()
    edges.run(2.0, 20.0, rise=100.0)
    edges.run(1.0, 220.0, rise=-100.0)
    assert edges.control.trip == Trip.NONE
