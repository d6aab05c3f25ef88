"""The simulated guide against the specification's way of the guide, worked out a second time in fractions.

At every status of whole winds: at speed, through reversals and waits, over legs, after a pause, a stop and a
move back, with few and many counts a turn. The simulated guide goes with the count without delay, so what
is left is the rounding of the status to a micrometre.
"""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from itertools import pairwise

import pytest
from bench_rig import MS, TOKEN, Bench, leg
from ideal_guide import ideal_place

from firmware_protocol.connection import HostEnd
from firmware_protocol.messages import (
    ClearTrip,
    EndAction,
    Flag,
    Move,
    PlanLeg,
    Side,
    Start,
    State,
    TraverseMark,
    Trip,
    Verdict,
)
from winder.simulator.build import Build
from winder.simulator.draw import Told
from winder.simulator.guide import Guide
from winder.simulator.machine import SimulatedMachine

ROUNDED_UM = 0.5001
PITCH_UM = 63.0


def told(counts: int) -> Told:
    return Told(counts, True, 1500.0, 600.0, 700.0, 5000.0, 0.1)


def legs_of(machine_told: Told, turns: int = 60) -> tuple[PlanLeg, ...]:
    """Three legs: narrow with waits, another pitch between other turning points, and on after a pause."""
    counts = machine_told.counts_per_turn
    first = leg(
        machine_told,
        0,
        turns,
        1400.0,
        EndAction.CONTINUE,
        pitch_um=PITCH_UM,
        left_um=200,
        right_um=1400,
        dwell_counts=max(1, round(0.7 * counts)),
    )
    second = leg(
        machine_told,
        1,
        2 * turns,
        900.0,
        EndAction.PAUSE,
        pitch_um=41.7,
        left_um=30,
        right_um=900,
    )
    third = leg(machine_told, 2, 3 * turns, 1400.0, pitch_um=97.3, left_um=0, right_um=5000)
    return first, second, third


def ready(counts: int) -> tuple[Bench, tuple[PlanLeg, ...]]:
    machine_told = told(counts)
    build = dataclasses.replace(Build(), counts_per_turn=counts)
    bench = Bench(SimulatedMachine(build, 1, ()), slice_ns=10 * MS)
    legs = legs_of(machine_told)
    bench.load(legs)
    bench.mark_left()
    return bench, legs


def assert_on_the_way(bench: Bench, legs: tuple[PlanLeg, ...]) -> int:
    """Every status since the mark; returns in how many the guide had turned round."""
    ways = []
    for status in bench.statuses:
        if status.flags & Flag.REFERENCED:
            place, rightward = ideal_place(legs, max(status.count, 0))
            assert abs(status.traverse_um - place) <= ROUNDED_UM, status
            assert bool(status.flags & Flag.TRAVERSE_RIGHTWARD) == rightward, status
            ways.append(rightward)
    return sum(a != b for a, b in pairwise(ways))


@pytest.mark.parametrize("counts", [1, 4, 20, 100])
def test_the_guide_is_where_the_count_leads_it(counts):
    bench, legs = ready(counts)
    bench.start()
    assert bench.run_to_rest().state == State.PAUSED
    bench.start()
    assert bench.run_to_rest().state == State.COMPLETE
    assert assert_on_the_way(bench, legs) >= 6, "it hardly turned: the test proves little"


def test_a_stop_and_a_move_back_and_on_keep_it_on_its_way():
    bench, legs = ready(20)
    bench.start()
    bench.run(2.0)
    bench.host.stop(bench.machine.now_ns)
    assert bench.run_to_rest().state == State.PAUSED
    rest = bench.status.count
    assert rest < legs[0].end_count
    back = Move(**bench.fresh(), counts=-rest + 7, rate_mcps=200_000, accel_mcps2=100_000)
    assert bench.ask(back) == Verdict.DONE
    bench.run(0.1)
    assert bench.run_to_rest().count < rest / 2
    bench.start()
    assert bench.run_to_rest().state == State.PAUSED
    assert_on_the_way(bench, legs)


def test_a_reset_forgets_the_place_and_refuses_what_would_need_it():
    bench, legs = ready(20)
    bench.start()
    bench.run(2.0)
    bench.machine.reset()
    bench.run(0.5)
    assert not bench.status.flags & Flag.REFERENCED
    place_um = bench.machine.body.guide.place_um
    bench.host = HostEnd(TOKEN)  # the session was lost with the board's memory
    bench.host.open(bench.machine.now_ns)
    bench.run(0.2)
    clear = ClearTrip(**bench.fresh(), trip=Trip.RESET_IN_MOTION)
    assert bench.ask(clear) == Verdict.CAUSE_REMAINS  # it still coasts
    bench.run(3.0)
    assert bench.ask(clear) == Verdict.DONE
    bench.load(legs)
    assert bench.ask(Start(**bench.fresh(), generation=1)) == Verdict.NOT_REFERENCED
    mark = TraverseMark(**bench.fresh(), side=Side.RIGHT, at_um=900)
    assert bench.ask(mark) == Verdict.NOT_REFERENCED
    assert bench.machine.body.guide.place_um == place_um


def test_the_wire_is_led_between_the_counts_too():
    """The simulated wire is laid by the guide's place at half turns, which few counts a turn fall between."""
    legs = legs_of(told(1))
    guide = Guide(0.1)
    guide.follow(legs, 0)
    for tenth in range(10 * legs[-1].end_count):
        count = Fraction(tenth, 10)
        place, rightward = ideal_place(legs, count)
        led = guide.place(float(count))
        assert abs(led[0] - place) < 1e-6 and led[1] == rightward, count
