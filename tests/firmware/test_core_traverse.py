"""The C core's guide on the host build, against the specification's way of it worked out a second time.

The same bounds as on the chip (``test_chip_traverse.py``), on the model of a spindle whose slots are uneven and
whose motor differs from what the core knows of it, by seed. Looked at every millisecond.
"""

from __future__ import annotations

import ctypes

import pytest
from host.bench import Bench, leg
from host.core import Machine, needs_compiler
from ideal_guide import ideal_place

from firmware_protocol.messages import (
    EndAction,
    Flag,
    Move,
    PlanLeg,
    Side,
    Start,
    State,
    TraverseMark,
    TraverseStep,
    Verdict,
)

pytestmark = needs_compiler
CONTINUE, PAUSE, COMPLETE = EndAction.CONTINUE, EndAction.PAUSE, EndAction.COMPLETE
STEP_UM = 2.5
LAY_PITCH = 1.05  # overall diameters of the wire a turn
UNEVEN_COUNTS = 0.06  # by which the model's slots are off


class CSteps(ctypes.Structure):
    _fields_ = (
        ("place", ctypes.c_int32),
        ("todo", ctypes.c_uint8),
        ("way", ctypes.c_int8),
        ("high", ctypes.c_bool),
    )


class GuidedMachine(Machine):
    """``seen``: where spindle (counts) and guide (steps) are, every millisecond."""

    def __init__(self, seed: int, counts_per_turn: int) -> None:
        super().__init__(seed)
        if counts_per_turn < 16:
            self.settings.full_rate_mcps = counts_per_turn * 100_000
            self.settings.full_accel_mcps2 = 4 * self.settings.full_rate_mcps
            self.library.model_build(ctypes.c_uint32(seed), ctypes.c_bool(True))
        self.steps = CSteps.in_dll(self.library, "steps")
        self.seen: list[tuple[float, int]] = []

    def pass_ms(self, span_ms: int = 1) -> None:
        for _ in range(span_ms):
            super().pass_ms()
            self.seen.append((self.model.place, self.steps.place))


def guided_legs(counts: int) -> tuple[PlanLeg, ...]:
    """The second leg begins with the guide beyond its right turning point, on its way to the right."""

    def one(index: int, turns: int, end: EndAction, speed: int, **more: int) -> PlanLeg:
        rate = {"rate_mcps": speed * counts * 1000, "accel_mcps2": 15_000 * counts}
        creep = {"creep_mcps": max(1000 * counts, 4000), "pitch_counts": counts}
        return leg(index, turns * counts, end, **rate, **creep, **more)

    return (
        one(0, 60, CONTINUE, 20, pitch_nm=63_000, left_um=200, right_um=1400, dwell_counts=counts),
        one(1, 90, PAUSE, 12, pitch_nm=41_700, left_um=30, right_um=900, dwell_counts=counts),
        one(2, 130, COMPLETE, 20, pitch_nm=97_300, left_um=0, right_um=1500),
    )


def ready(seed: int, counts: int) -> tuple[Bench, tuple[PlanLeg, ...]]:
    bench = Bench(GuidedMachine(seed, counts))
    bench.open()
    legs = guided_legs(counts)
    bench.do(TraverseMark(**bench.beliefs(), side=Side.LEFT, at_um=0))
    bench.load(*legs)
    return bench, legs


def beyond_bound(bench: Bench, legs: tuple[PlanLeg, ...], counts_more: float) -> list[object]:
    """What was off by more than a step, or a tenth of the wire, and what so many counts advance."""
    found = []
    for count, place in bench.machine.seen:
        near = [
            next((one for one in legs if count + by < one.end_count), legs[-1])
            for by in (-1.0, -UNEVEN_COUNTS, 0.0, UNEVEN_COUNTS)
        ]
        most = max(
            max(STEP_UM, one.pitch_nm / LAY_PITCH / 10_000)
            + counts_more * one.pitch_nm / 1000 / one.pitch_counts
            for one in near
        )
        off_um = place * STEP_UM - float(ideal_place(legs, max(count, 0.0))[0])
        if abs(off_um) > most:
            found.append((count, off_um, most))
    assert len(bench.machine.seen) > 1000
    bench.machine.seen.clear()
    return found


def places_of(bench: Bench) -> list[tuple[float, float]]:
    """Counts and micrometres, every millisecond."""
    return [(count, place * STEP_UM) for count, place in bench.machine.seen]


@pytest.mark.parametrize(
    ("counts", "seed"), [(1, 1), (4, 0), (4, 1), (16, 0), (16, 1), (16, 2), (100, 1)]
)
def test_the_guide_is_where_the_count_leads_it(counts, seed):
    bench, legs = ready(seed, counts)
    for state in (State.PAUSED, State.COMPLETE):
        bench.start()
        assert bench.to_rest().state is state
        ideal_um, rightward = ideal_place(legs, bench.status.count)
        assert abs(bench.status.traverse_um - ideal_um) <= 0.6 * STEP_UM
        assert bool(bench.status.flags & Flag.TRAVERSE_RIGHTWARD) == rightward
    assert beyond_bound(bench, legs, 0.1 if counts >= 16 else 1.1) == []


@pytest.mark.parametrize("seed", range(3))
def test_a_stop_and_a_move_back_over_a_border_and_on_keep_it_on_its_way(seed):
    bench, legs = ready(seed, 16)
    bench.start()
    bench.run(4000)
    bench.stop()
    rest = bench.to_rest().count
    assert legs[0].end_count < rest < legs[1].end_count
    beliefs = bench.beliefs()
    bench.do(Move(**beliefs, counts=-rest + 100, rate_mcps=100_000, accel_mcps2=200_000))
    assert abs(bench.to_rest().count - 100) <= 1
    ideal_um, rightward = ideal_place(legs, bench.status.count)
    assert abs(bench.status.traverse_um - ideal_um) <= 0.6 * STEP_UM
    assert bool(bench.status.flags & Flag.TRAVERSE_RIGHTWARD) == rightward
    bench.start()
    assert bench.to_rest().state is State.PAUSED
    assert beyond_bound(bench, legs, 0.1) == []


def test_unwinding_is_interpolated_between_the_counts_too():
    bench, legs = ready(1, 4)
    bench.start()
    rest = bench.to_rest().count
    bench.do(Move(**bench.beliefs(), counts=-110, rate_mcps=20_000, accel_mcps2=100_000))
    bench.run(2000)
    bench.machine.seen.clear()
    bench.run(1500)
    assert legs[0].end_count < bench.status.count < rest - 40
    assert beyond_bound(bench, legs, 0.3) == []


def test_a_step_of_the_guide_between_two_starts_begins_the_way_anew():
    bench, legs = ready(1, 16)
    bench.start()
    bench.run(1500)
    bench.stop()
    rest = bench.to_rest()
    bench.do(TraverseStep(**bench.beliefs(), distance_um=-150))
    moved = bench.to_rest()
    assert abs(moved.traverse_um - rest.traverse_um + 150) <= 1
    assert not moved.flags & Flag.TRAVERSE_RIGHTWARD
    bench.start()
    assert bench.to_rest().state is State.PAUSED
    there = {"begun_at": rest.count, "place_um": moved.traverse_um, "rightward": False}
    ideal_um, rightward = ideal_place(legs, bench.status.count, **there)
    assert abs(bench.status.traverse_um - ideal_um) <= 2 * STEP_UM
    assert bool(bench.status.flags & Flag.TRAVERSE_RIGHTWARD) == rightward


def test_a_guide_without_its_mark_lets_no_guided_plan_start():
    bench = Bench(GuidedMachine(1, 16))
    bench.open()
    bench.load(*guided_legs(16))
    bench.run(60)
    start = Start(**bench.beliefs(), generation=1)
    assert bench.ask(start).verdict is Verdict.NOT_REFERENCED
    bench.do(TraverseMark(**bench.beliefs(), side=Side.LEFT, at_um=0))
    bench.start()
    assert bench.status.state is State.WINDING


def test_a_leg_that_begins_less_than_half_a_count_from_its_turning_point_turns_there():
    """Two um are 0.27 counts: so short a way that it has no share that a number could tell."""
    bench = Bench(GuidedMachine(1, 16))
    bench.open()
    bench.do(TraverseMark(**bench.beliefs(), side=Side.LEFT, at_um=0))
    slow = {"rate_mcps": 30_000, "accel_mcps2": 60_000, "pitch_nm": 120_000}
    legs = (leg(0, 40, CONTINUE, **slow, right_um=900), leg(1, 120, COMPLETE, **slow, right_um=302))
    bench.load(*legs)
    bench.start()
    bench.machine.seen.clear()
    status = bench.to_rest()
    near = [um for count, um in places_of(bench) if 40.02 < count < 40.5]
    assert len(near) > 10 and set(near) <= {297.5, 300.0, 302.5} and 302.5 in near
    assert beyond_bound(bench, legs, 0.3) == []
    ideal_um, rightward = ideal_place(legs, status.count)
    assert abs(status.traverse_um - ideal_um) <= 0.6 * STEP_UM
    assert bool(status.flags & Flag.TRAVERSE_RIGHTWARD) == rightward


def test_a_stroke_that_no_wind_lasts_long_enough_for_leaves_the_guide_where_it_is():
    """A nanometre in 4000 counts over 900 um: 3.6 thousand million counts, more than a count's number has."""
    bench = Bench(GuidedMachine(1, 16))
    bench.open()
    bench.do(TraverseMark(**bench.beliefs(), side=Side.LEFT, at_um=0))
    bench.load(leg(0, 400, COMPLETE, pitch_nm=1, pitch_counts=4000, right_um=900))
    bench.start()
    bench.machine.seen.clear()
    status = bench.to_rest()
    assert status.state is State.COMPLETE and status.traverse_um == 0
    assert {place for _, place in bench.machine.seen} == {0}
    assert status.flags & Flag.TRAVERSE_RIGHTWARD
