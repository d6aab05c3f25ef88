"""The guide's part of the plan: edges, margins, free length, and strokes that do not repeat."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_makers import coil, coils, machine, machines

from winder.errors import UserMistake
from winder.plan.planner import make_plan
from winder.plan.traverse import turning_short_m
from winder.recipe.model import ObroundCore, RoundCore

STEPS_PER_TURN = 20


def lay_points(leg, cpt: int, free_m: float, turn_m: float, strokes: int = 3) -> list[float]:
    """Where the wire lies while the guide goes to and fro, by small steps of dx/ds = (g - x) / l."""
    stroke_turns = (leg.right_m - leg.left_m) / leg.pitch_m
    dwell_turns = leg.dwell_counts / cpt
    point = leg.left_m
    points = []
    steps = int(strokes * 2 * (stroke_turns + dwell_turns) * STEPS_PER_TURN)
    ease = math.exp(-turn_m / free_m / STEPS_PER_TURN)
    for step in range(steps):
        turn = step / STEPS_PER_TURN % (2 * (stroke_turns + dwell_turns))
        if turn > stroke_turns + dwell_turns:
            back = turn - stroke_turns - dwell_turns
            guide = leg.right_m - min(back, stroke_turns) * leg.pitch_m
        else:
            guide = leg.left_m + min(turn, stroke_turns) * leg.pitch_m
        point = guide + (point - guide) * ease
        points.append(point)
    return points[steps // strokes :]  # settled: where the first stroke began is forgotten


@settings(max_examples=40)
@given(coils(), machines(), st.booleans(), st.floats(0.005, 0.4))
def test_the_guide_never_leads_the_wire_out_of_the_margins(a_coil, a_machine, scatter, free_m):
    """Nothing leaves the flanges: not where the wire is led to, even on the longest turns."""
    a_machine = machine(**{**as_dict(a_machine), "free_length_m": free_m})
    try:
        plan = make_plan(a_coil, a_machine, scatter=scatter, seed=77)
    except UserMistake as trouble:
        assert trouble.remedy
        return
    recipe, half = a_coil.recipe, a_coil.wire.overall_m / 2
    for leg in plan.legs:
        assert 0.0 <= leg.left_m <= leg.right_m
        if leg.pitch_m == 0:
            assert leg.left_m - half >= recipe.margin_m - 1e-9
            assert leg.right_m + half <= recipe.width_m - recipe.margin_m + 1e-9
            assert leg.dwell_counts == leg.scatter_seed == 0
            continue
        assert leg.right_m <= a_machine.traverse_travel_m
        assert leg.scatter_seed == (77 if scatter else 0)
        assert 0.99999 <= leg.pitch_m / (2 * half) <= 1.10001
    leg = plan.legs[-1]
    if leg.pitch_m and (leg.right_m - leg.left_m) / leg.pitch_m < 100:
        points = lay_points(leg, plan.counts_per_turn, free_m, a_coil.outer_turn_m)
        slack = leg.pitch_m / STEPS_PER_TURN
        assert min(points) >= recipe.margin_m + half - slack
        assert max(points) <= recipe.width_m - recipe.margin_m - half + slack


def as_dict(some_machine) -> dict:
    return {name: getattr(some_machine, name) for name in some_machine.__slots__}


@pytest.mark.parametrize("dwell_turns", [0.0, 0.5, 2.0])
@pytest.mark.parametrize("free_m", [0.02, 0.1, 0.4])
def test_turning_short_is_what_small_steps_find(free_m, dwell_turns):
    class Leg:
        left_m, right_m, pitch_m, dwell_counts = 0.0, 0.01, 1e-4, round(dwell_turns * 100)

    points = lay_points(Leg, 100, free_m, 0.05)
    found = Leg.right_m - max(points)
    assert found == pytest.approx(turning_short_m(1e-4, dwell_turns, free_m, 0.05), abs=1e-5)


def test_without_wait_the_wire_turns_ln_2_of_its_lag_short():
    assert turning_short_m(1e-4, 0.0, 0.1, 0.05) == pytest.approx(math.log(2) * 1e-4 * 2)


def test_a_wire_that_follows_at_once_is_inset_by_half_of_itself_and_waits_2e_over_p():
    """e = w / 2 and p = 1.05 w: 2 e / p = 0.952 turn, of 2400 counts a turn 2286."""
    plan = make_plan(coil(5000), machine(counts_per_turn=2400, free_length_m=1e-4))
    body, wire_m = plan.legs[1], 2.8 * 25.4e-6
    assert body.left_m == pytest.approx(wire_m / 2, abs=1e-6)
    assert body.right_m == pytest.approx(0.010 - wire_m / 2, abs=1e-6)
    assert body.dwell_counts == pytest.approx(2286, abs=10)
    assert body.pitch_m == pytest.approx(1.05 * wire_m, rel=0.005)


def test_the_edge_dwell_fills_the_edge_like_the_middle():
    """Without lag, wire by wire by the plan's own figures: copper in the edge's wire width and in the middle."""
    leg = make_plan(coil(5000), machine(counts_per_turn=2400, free_length_m=1e-4)).legs[1]
    wire = 2.8 * 25.4e-6
    edge = middle = 0.0
    for centre in lay_points(leg, 2400, 1e-4, 0.14, strokes=8):
        edge += max(0.0, wire - abs(centre - wire / 2))
        middle += max(0.0, wire - abs(centre - 0.005))
    assert edge / middle == pytest.approx(1.0, abs=0.06)


def test_the_guide_goes_further_for_a_longer_free_length_until_its_travel_ends():
    def turned(free_m: float, margin_m: float):
        some = coil(5000, core=RoundCore(0.010), margin_m=margin_m)
        plan = make_plan(some, machine(free_length_m=free_m, counts_per_turn=100))
        return plan.legs[1].left_m - margin_m - some.wire.overall_m / 2, plan.legs[1].dwell_counts

    near, far, farther = (turned(free_m, 0.001) for free_m in (0.01, 0.05, 0.2))
    assert farther[0] < far[0] < near[0] <= 1e-6
    hemmed = turned(0.2, 0.0)
    assert hemmed[0] >= -2.8 * 25.4e-6 / 2 - 1e-6  # the guide's own end is the flange
    assert hemmed[1] > farther[1]  # so it waits longer


@pytest.mark.parametrize("width_mm", [2.0, 3.1, 4.0, 5.55, 6.0, 8.0, 10.0, 12.5])
@pytest.mark.parametrize("scatter", [False, True])
def test_a_stroke_to_and_fro_is_far_from_every_simple_number_of_turns(width_mm, scatter):
    """Its fraction of a turn keeps off halves, thirds and quarters: layers do not fall on each other."""
    plan = make_plan(coil(500, width_m=width_mm * 1e-3), machine(), scatter=scatter)
    for leg in plan.legs:
        turns = 2 * ((leg.right_m - leg.left_m) / leg.pitch_m + leg.dwell_counts / 20)
        off = [abs(turns % 1 - part / n) for n in (1, 2, 3, 4) for part in range(n + 1)]
        assert min(off) > 0.03


@given(coils(), machines(), st.integers(0, 20))
def test_legs_sum_to_the_target(a_coil, a_machine, first):
    try:
        plan = make_plan(a_coil, a_machine, first_turn=first)
    except UserMistake:
        return
    ends = [0, *(leg.end_counts for leg in plan.legs)]
    turns = [(b - a) / plan.counts_per_turn for a, b in itertools.pairwise(ends)]
    assert sum(turns) == a_coil.turns - first and all(turn >= 1 for turn in turns)


@pytest.mark.parametrize("counts", [1, 2, 3, 4, 9, 10, 20])
def test_few_counts_a_turn_are_told_for_the_lay(counts):
    plan = make_plan(coil(5000), machine(counts_per_turn=counts))
    assert any("between" in r and "guide is told" in r for r in plan.remarks) == (counts < 10)
    by_hand = make_plan(coil(5000), machine(counts_per_turn=counts, traverse_travel_m=None))
    assert not any("guide is told" in r for r in by_hand.remarks)


def test_a_coarse_traverse_is_told():
    told = make_plan(coil(5000), machine(steps_per_mm=5.0)).remarks
    assert any("one step of the traverse is 0.2 mm" in remark for remark in told)
    assert not any(
        "one step" in r for r in make_plan(coil(5000), machine(steps_per_mm=400.0)).remarks
    )


def test_a_guide_far_from_a_small_core_is_told():
    far = machine(free_length_m=0.3)
    assert any("nearer" in r for r in make_plan(coil(5000, core=RoundCore(0.006)), far).remarks)
    long_core = coil(5000, core=ObroundCore(0.066, 0.006))
    assert not any("nearer" in r for r in make_plan(long_core, far).remarks)
