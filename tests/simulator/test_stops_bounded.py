"""After any stop the simulated machine rests within the times its board told, over random legal plans."""

from __future__ import annotations

import dataclasses

from bench_rig import TOLD, Bench, leg
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_protocol.messages import CREEP_RATE_LEAST_MCPS, LEASE_MS, EndAction, State, Trip
from winder.simulator.build import Build
from winder.simulator.machine import SimulatedMachine

MOVING = (State.WINDING, State.SLOWING)
LOOK_S = 0.2  # until a stop has crossed the line and a status tells of the rest

PLANS = st.fixed_dictionaries(
    {
        "rate_mcps": st.integers(2 * CREEP_RATE_LEAST_MCPS, 500_000),
        "accel_mcps2": st.one_of(st.integers(1, 5000), st.integers(5000, 4_000_000)),
        "creep_mcps": st.integers(CREEP_RATE_LEAST_MCPS, 2 * CREEP_RATE_LEAST_MCPS),
        "coast_counts": st.integers(0, 40),
    }
)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(PLANS, st.sampled_from(("stop", "cut", "silence")), st.floats(0, 3), st.booleans())
def test_any_stop_over_any_legal_plan_is_over_by_the_told_times(plan, way, after_s, brake):
    build = Build() if brake else dataclasses.replace(Build(), brake_nm=None)
    bench = Bench(SimulatedMachine(build, 1, ()))
    brings_speed = leg(TOLD, 0, 20, 1000.0, EndAction.CONTINUE)
    soft = dataclasses.replace(leg(TOLD, 1, 20_000, 1000.0), **plan)
    bench.load((brings_speed, soft))
    bench.start()
    bench.run(after_s)
    now_ns, welcome = bench.machine.now_ns, bench.machine._identity
    if way == "silence":
        bench.alive = False
        bench.run(LEASE_MS / 1000)
    elif way == "stop":
        bench.host.stop(now_ns)
    else:
        bench.host.cut(now_ns)
    cut_s = 0.0 if way == "cut" else welcome.cut_ms / 1000
    bench.run(cut_s + LOOK_S)
    assert bench.machine.body.control.duty == 0.0
    bench.run(welcome.rest_ms / 1000 - cut_s)
    assert bench.status.state not in MOVING
    assert bench.status.trip == Trip.NONE
    assert bench.machine.body.spindle.speed == 0.0
