"""The gentle nudge behind a coast, and a motor that must push at full power: how long the board goes on, and how hard.

A spindle of few counts a turn is cut early and coasts; a duty that rises slowly then looks for the last edges.
"""

from __future__ import annotations

import math

from host.bench import Bench, leg, wound
from host.core import Machine, needs_compiler

from firmware_protocol.messages import EndAction, State, Trip

pytestmark = needs_compiler
COMPLETE = EndAction.COMPLETE
COUNTS_A_TURN = 4
MOST_PERMILLE = 600  # of duty, while it is nudged
END = 40 * COUNTS_A_TURN


def slow_machine(friction_permille: int) -> tuple[Machine, int]:
    """Without a brake, 1200 rpm at most; returns it and its full speed."""
    machine = Machine(1, brake=False)
    machine.settings.full_rate_mcps = full = COUNTS_A_TURN * 20_000
    machine.settings.full_accel_mcps2 = 4 * full
    machine.settings.friction_permille = friction_permille
    machine.library.model_build(1, False)
    return machine, full


def nudging(friction_permille: int = 80, coast_counts: int = 2) -> Bench:
    """As the nudge begins: it coasted to rest short of its end, and the drive goes on again."""
    machine, full = slow_machine(friction_permille)
    rate = full // 4
    one = leg(
        0, END, COMPLETE, rate_mcps=rate, accel_mcps2=rate // 2,
        creep_mcps=min(rate, 4000), coast_counts=coast_counts,
    )  # fmt: skip
    bench = wound(machine, one)
    while machine.turned < END - coast_counts:
        bench.run(1)
        assert bench.now_ms < 120_000, bench.status
    for wanted in (False, True):
        while (machine.host.duty_permille != 0) is not wanted:
            bench.run(1)
            assert bench.status.state is State.WINDING
    return bench


def hardest_until_tripped(bench: Bench, most_ms: int) -> int:
    hardest = 0
    end_ms = bench.now_ms + most_ms
    while bench.status.state is not State.TRIPPED:
        assert bench.now_ms < end_ms, bench.status
        bench.run(1)
        hardest = max(hardest, bench.machine.host.duty_permille)
    assert bench.machine.host.duty_permille == 0
    return hardest


def test_a_spindle_that_is_held_while_it_is_nudged_trips_once_it_must_have_turned():
    bench = nudging()
    bench.machine.model.held = True
    hardest = hardest_until_tripped(bench, 15_000)
    assert bench.status.trip is Trip.STALLED
    assert 160 < hardest < MOST_PERMILLE, "more than a cold start asks for, and not all it may"


def test_a_stiff_spindle_that_is_held_while_it_is_nudged_trips_a_second_after_all_it_may():
    """Twice its friction is more than a nudge may push, so no silence speaks against it."""
    bench = nudging(friction_permille=350)
    bench.machine.model.held = True
    assert hardest_until_tripped(bench, 40_000) == MOST_PERMILLE
    assert bench.status.trip is Trip.STALLED


def test_a_stiff_spindle_that_is_held_trips_a_second_after_full_power():
    machine = Machine(1)
    machine.settings.friction_permille = 600
    machine.library.model_build(1, True)
    machine.model.held = True
    bench = wound(machine, leg(0, 2000, COMPLETE))
    full_ms = 0
    while bench.status.state is not State.TRIPPED:
        assert bench.now_ms < 10_000, bench.status
        bench.run(1)
        full_ms += machine.host.duty_permille == 1000
    assert bench.status.trip is Trip.STALLED
    assert 1000 <= full_ms <= 1100
    assert machine.host.duty_permille == 0 and machine.turned == 0


def test_a_nudge_that_turns_out_too_strong_is_taken_back():
    bench = nudging(coast_counts=12)
    machine = bench.machine
    machine.model.friction_cps2 *= 0.1
    speeds = []
    while bench.status.state is State.WINDING:
        bench.run(1)
        speeds.append(machine.model.speed_cps)
    gentle = math.sqrt(0.6 * 10.0)  # counts/s: of the plan's 10 counts/s2
    assert max(speeds) > 1.5 * gentle, "it was too strong"
    assert speeds[-100] < 1.3 * gentle, "by the last count it is gentle again"
    status = bench.to_rest()
    assert status.state is State.COMPLETE and status.count == machine.turned
    assert END <= status.count <= END + COUNTS_A_TURN // 2
