"""Speeds, creep and coasting by hand, and the time a plan takes against a stepped spindle."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given, settings
from plan_makers import coil, machine, machines

from winder.errors import UserMistake
from winder.machine.tensioner import ARM, FELT
from winder.plan.model import AtEnd, Plan
from winder.plan.motion import figure_motion
from winder.plan.planner import make_plan
from winder.recipe.model import RoundCore, Surroundings

RECIPE = coil(5000).recipe


def test_a_braked_machine_creeps_at_the_usual_speed():
    """0.6 x 5000 rpm/s = 50 turns/s2: sqrt(2 x 50 x 0.03) = 1.73 turns/s, more than 60 rpm."""
    motion = figure_motion(RECIPE, machine(), None)
    assert motion.creep_rpm == 60.0 and motion.coast_counts == 0 and motion.remarks == ()


def test_without_a_brake_the_creep_is_what_friction_can_stop():
    """0.6 x 700 rpm/s = 7 turns/s2: sqrt(2 x 7 x 0.03) = 0.648 turns/s."""
    motion = figure_motion(RECIPE, machine(braking_rpm_s=None), None)
    assert motion.creep_rpm == pytest.approx(60 * math.sqrt(0.42))
    assert motion.acceleration_rpm_s == 420.0
    assert motion.coast_counts == 0


def test_one_count_a_turn_without_brake_cuts_the_drive_early():
    """Floor 4 turns/s; coasting 16 / (2 x 7) = 1.14 turns; twice that, rounded up: 3 counts."""
    motion = figure_motion(RECIPE, machine(counts_per_turn=1, braking_rpm_s=None), None)
    assert motion.creep_rpm == 240.0
    assert motion.coast_counts == 3
    (remark,) = motion.remarks
    assert "3 counts before a stop" in remark and "nudged" in remark


def test_one_count_a_turn_with_a_brake_says_what_it_may_overrun():
    """16 / (2 x 50) = 0.16 turn: accepted, and said."""
    motion = figure_motion(RECIPE, machine(counts_per_turn=1), None)
    assert motion.coast_counts == 0
    assert any("up to 0.16 turn" in remark for remark in motion.remarks)


def test_no_stop_is_approached_slower_than_the_spindle_turns_evenly():
    """96 rpm measured: 1.6 turns/s, from which friction at 7 turns/s2 takes 1.6^2 / 14 = 0.183 turn."""
    motion = figure_motion(RECIPE, machine(braking_rpm_s=None, steady_rpm=96.0), None)
    assert motion.creep_rpm == motion.floor_rpm == 96.0 and motion.coast_counts == 0
    assert any("0.18 turn: its steady_speed allows no creep" in said for said in motion.remarks)
    slower = figure_motion(RECIPE, machine(steady_rpm=2.0), None)  # below what the board can see
    assert slower.floor_rpm == 12.0 and slower.creep_rpm == 60.0
    wished = dataclasses.replace(RECIPE, speed_rpm=50.0)  # the speed wished for is kept
    assert figure_motion(wished, machine(steady_rpm=96.0), None).creep_rpm == 50.0


@pytest.mark.parametrize(
    ("recipe_rpm", "edge_rate", "speed_rpm", "words"),
    [
        (None, None, 1500.0, None),
        (900.0, None, 900.0, None),
        (2000.0, None, 1500.0, "the recipe asks for 2000 rpm"),
        (None, 200.0, 600.0, "no faster than 600 rpm"),
        (500.0, 200.0, 500.0, None),
    ],
)
def test_the_speed_ceiling_and_its_reason(recipe_rpm, edge_rate, speed_rpm, words):
    motion = figure_motion(coil(5000, speed_rpm=recipe_rpm).recipe, machine(), edge_rate)
    assert motion.speed_rpm == speed_rpm
    assert [remark for remark in motion.remarks if words and words in remark] == list(
        motion.remarks
    )
    assert bool(motion.remarks) == (words is not None)


def test_a_speed_the_board_cannot_see_is_refused_with_the_slowest_it_can():
    slow = coil(5000, speed_rpm=100.0).recipe
    with pytest.raises(UserMistake) as caught:
        figure_motion(slow, machine(counts_per_turn=1), None)
    assert "240 rpm" in caught.value.remedy


def stepped_s(plan: Plan, step_s: float = 0.002) -> float:
    """A spindle that follows the legs in small steps: speeds up, slows, creeps, stops."""
    turns = speed = time_s = 0.0
    for index, leg in enumerate(plan.legs):
        end = leg.end_counts / plan.counts_per_turn
        acceleration, creep = leg.acceleration_rpm_s / 60, leg.creep_rpm / 60
        stops = leg.at_end is not AtEnd.CONTINUE
        while turns < end:
            wish = leg.speed_rpm / 60
            if stops:  # slow enough to creep the last half turn
                room = max(end - turns - 0.5, 0.0)
                wish = min(wish, math.sqrt(creep**2 + 2 * acceleration * room))
            speed += max(-acceleration * step_s, min(acceleration * step_s, wish - speed))
            turns += speed * step_s
            time_s += step_s
        speed = 0.0 if stops else speed
        assert index < len(plan.legs)
    return time_s


@settings(max_examples=15)
@given(machines())
def test_the_duration_agrees_with_a_stepped_spindle(a_machine):
    try:
        plan = make_plan(coil(1500, pause_at_turns=(400, 1000)), a_machine)
    except UserMistake:
        return
    assert plan.duration_s == pytest.approx(stepped_s(plan), rel=0.03, abs=1.5)


def test_a_speed_that_nobody_names_is_what_the_wire_likes():
    """66 x 6 mm: 0.74 N a gram at 1500 rpm, with its square (see tests/coil/test_feed_and_tension.py)."""
    long_coil = coil(5000, height_m=0.02)
    light, heavy = (
        make_plan(long_coil, machine(tensioner_kg=kg, speed_rpm_max=3000.0)) for kg in (1e-4, 2e-3)
    )
    body_light, body_heavy = (max(leg.speed_rpm for leg in p.legs) for p in (light, heavy))
    assert body_light < 3000
    assert body_light / body_heavy == pytest.approx(20**0.5, rel=0.01)
    assert any("for the wire's sake" in remark for remark in heavy.remarks)
    # From six tenths of the chart's greatest to four fifths of it, by the reference figure.
    margin_n = 0.2 * 54.1e6 * long_coil.wire.bare_m**2
    assert 0.74 * 2 * (body_heavy / 1500) ** 2 == pytest.approx(margin_n, rel=0.02)


@pytest.mark.parametrize("kind", [FELT, ARM, None])
def test_a_speed_that_the_recipe_names_is_wound_whatever_brakes_the_wire(kind):
    """8000 turns on the long bobbin at 900 rpm: nine minutes, and one short remark where that is fast."""
    long_coil = coil(8000, height_m=0.02, speed_rpm=900.0)
    plan = make_plan(long_coil, machine(tensioner=kind, tensioner_kg=None))
    assert max(leg.speed_rpm for leg in plan.legs) == 900.0
    assert 8000 / 900 * 60 < plan.duration_s < 10 * 60
    bold = [remark for remark in plan.remarks if "is fast for" in remark]
    assert len(bold) == (kind is not FELT)


def test_only_the_machine_limits_a_speed_hard():
    long_coil = coil(8000, height_m=0.02, speed_rpm=5000.0)
    plan = make_plan(long_coil, machine(tensioner=FELT, tensioner_kg=None))
    assert max(leg.speed_rpm for leg in plan.legs) == 1500.0


def test_the_recipes_tensioner_goes_before_the_machines():
    told = coil(5000, surroundings=Surroundings(tensioner_kg=0.0))
    plan = make_plan(told, machine(tensioner_kg=2e-3))
    assert max(leg.speed_rpm for leg in plan.legs) == 1500.0


def test_a_round_core_lets_the_machine_decide():
    plan = make_plan(coil(5000, core=RoundCore(0.02)), machine(tensioner_kg=5e-3))
    assert max(leg.speed_rpm for leg in plan.legs) == 1500.0
