"""After any stop the C core rests within the times it told, over random legal plans.

The two times are those of the welcome (docs/protocol/specification.md, section 14): the drive is cut by the first,
the spindle rests by the second, however softly the plan's leg slows down.
"""

from __future__ import annotations

from host.bench import MOVING, leg, wound
from host.core import Machine, needs_compiler
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from firmware_protocol.messages import CREEP_RATE_LEAST_MCPS, LEASE_MS, EndAction, Trip

pytestmark = needs_compiler
LOOK_MS = 100  # until a stop has crossed the line and a status tells of the rest

PLANS = st.fixed_dictionaries(
    {
        "rate_mcps": st.integers(2 * CREEP_RATE_LEAST_MCPS, 1_500_000),
        "accel_mcps2": st.one_of(st.integers(1, 5000), st.integers(5000, 4_000_000)),
        "creep_mcps": st.integers(CREEP_RATE_LEAST_MCPS, 2 * CREEP_RATE_LEAST_MCPS),
        "coast_counts": st.integers(0, 40),
    }
)


@settings(max_examples=4, deadline=None, derandomize=True, phases=(Phase.generate,))
@given(PLANS, st.sampled_from(("stop", "cut", "silence")), st.integers(0, 3000), st.booleans())
def test_any_stop_over_any_legal_plan_is_over_by_the_told_times(plan, way, after_ms, brake):
    machine = Machine(3, brake=brake)
    fast = {"rate_mcps": 900_000, "accel_mcps2": 800_000}
    legs = (
        leg(0, 400, EndAction.CONTINUE, **fast),
        leg(1, 500_000, EndAction.COMPLETE, **plan),
    )
    bench = wound(machine, *legs)
    bench.run(after_ms)
    if way == "silence":
        bench.operator_alive = False
        bench.run(LEASE_MS)
    elif way == "stop":
        bench.host.stop(bench.now_ms * 1_000_000)
    else:
        bench.cut()
    cut_ms = 0 if way == "cut" else machine.identity.cut_ms
    bench.run(cut_ms + LOOK_MS)
    assert machine.host.duty_permille == 0
    bench.run(machine.identity.rest_ms - cut_ms)
    assert bench.status.state not in MOVING
    assert bench.status.trip is Trip.NONE
    assert machine.model.speed_cps == 0.0
    assert bench.status.count == machine.turned
