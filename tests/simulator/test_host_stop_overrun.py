"""The baseline: a host that says stop when it sees the count."""

from __future__ import annotations

import dataclasses
import math
import statistics

import pytest

from winder.simulator.build import Build
from winder.simulator.draw import draw_machine
from winder.simulator.host_stop import host_stop_overrun

BENCH = dataclasses.replace(Build(), viscous_nm_s=0.0)


def braking_turns(build: Build, speed_rpm: float) -> float:
    omega = speed_rpm * 2 * math.pi / 60
    alpha = (build.coulomb_nm + (build.brake_nm or 0.0)) / build.inertia_kg_m2
    return omega**2 / (4 * math.pi * alpha)


@pytest.mark.parametrize("latency_s", [0.0, 0.02, 0.1])
def test_it_overruns_by_the_wait_at_speed_and_the_braking(latency_s):
    for seed in range(30):
        over = host_stop_overrun(BENCH, 1000.0, latency_s, seed)
        wait_s = (over - braking_turns(BENCH, 1000.0)) / (1000 / 60)
        assert latency_s - 1e-9 <= wait_s <= latency_s + 0.05 + 1e-9


def test_the_wait_for_a_status_is_spread_over_its_period():
    waits = [host_stop_overrun(BENCH, 1000.0, 0.0, seed) for seed in range(200)]
    spread_s = (max(waits) - min(waits)) / (1000 / 60)
    assert 0.045 < spread_s <= 0.05
    middle_s = (statistics.mean(waits) - braking_turns(BENCH, 1000.0)) / (1000 / 60)
    assert middle_s == pytest.approx(0.025, abs=0.004)


def test_more_latency_costs_more_turns_on_every_machine():
    for seed in range(40):
        build, told = draw_machine(seed)
        rpm = told.speed_rpm_max
        near = host_stop_overrun(build, rpm, 0.02, seed)
        far = host_stop_overrun(build, rpm, 0.12, seed)
        assert far - near == pytest.approx(0.1 * rpm / 60, rel=1e-6)


def test_the_same_seed_costs_the_same():
    assert host_stop_overrun(BENCH, 900.0, 0.05, 4) == host_stop_overrun(BENCH, 900.0, 0.05, 4)
