"""Flanges that taper, as the guide follows them: bands of layers, nothing beyond a flange, gaps that are told.

Where the flanges stand at a turn is worked out here by laying the build up in small steps.
"""

from __future__ import annotations

import itertools
import math
import re

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plan_makers import coil, machine

from winder.errors import UserMistake
from winder.plan.listing import describe
from winder.plan.model import AtEnd
from winder.plan.planner import make_plan
from winder.recipe.model import RoundCore

WIDENING = {"core": RoundCore(0.008), "width_m": 0.004, "rim_width_m": 0.007, "height_m": 0.003}
NARROWING = {**WIDENING, "width_m": 0.007, "rim_width_m": 0.004}
BOTH = pytest.mark.parametrize("bobbin", [WIDENING, NARROWING], ids=["widening", "narrowing"])
NEAR = {"free_length_m": 1e-4}  # the wire lies below the guide


def build_steps(a_coil, area_m2: float, turns: int) -> list[float]:
    """Height above the core after every turn, each put on the width where it lies."""
    recipe = a_coil.recipe
    height_m = recipe.tape_under_m
    heights = [height_m]
    for _ in range(turns):
        share = min(height_m / recipe.height_m, 1.0)
        width_m = recipe.width_m + share * (recipe.rim_width_m - recipe.width_m)
        height_m += area_m2 / (width_m - 2 * recipe.margin_m)
        heights.append(height_m)
    return heights


def faces(a_coil, height_m: float) -> tuple[float, float]:
    """Left and right flange from the left one where the bobbin is widest."""
    recipe = a_coil.recipe
    share = min(height_m / recipe.height_m, 1.0)
    width_m = recipe.width_m + share * (recipe.rim_width_m - recipe.width_m)
    left_m = (max(recipe.width_m, recipe.rim_width_m) - width_m) / 2
    return left_m, left_m + width_m


def moving_legs(plan):
    """Legs that wind layers, with their first and last turn; the leading in is left out."""
    ends = [0, *(leg.end_counts // plan.counts_per_turn for leg in plan.legs)]
    legs = list(zip(plan.legs, itertools.pairwise(ends), strict=True))
    return [each for each in legs if each[0].pitch_m < 2 * 75e-6]


@BOTH
@pytest.mark.parametrize("packing", ["low", "nominal", "high"])
def test_no_turn_is_led_beyond_a_flange_however_tightly_it_packs(bobbin, packing):
    a_coil = coil(2600, **bobbin, margin_m=0.0002)
    plan = make_plan(a_coil, machine(**NEAR))
    half_m = a_coil.wire.overall_m / 2
    heights = build_steps(a_coil, getattr(a_coil.area_per_turn_m2, packing), 2600)
    for leg, (begin, end) in moving_legs(plan):
        for turn in range(begin, end + 1):
            left_m, right_m = faces(a_coil, heights[turn])
            assert leg.left_m - half_m >= left_m + 0.0002 - 2e-6
            assert leg.right_m + half_m <= right_m - 0.0002 + 2e-6


@BOTH
def test_the_gap_that_is_told_is_the_widest_that_the_legs_leave(bobbin):
    a_coil = coil(2600, **bobbin)
    plan = make_plan(a_coil, machine(**NEAR))
    half_m = a_coil.wire.overall_m / 2
    heights = build_steps(a_coil, a_coil.area_per_turn_m2.nominal, 2600)
    widest_m = max(
        max(leg.left_m - half_m - faces(a_coil, heights[turn])[0] for turn in (begin, end))
        for leg, (begin, end) in moving_legs(plan)
    )
    (told,) = [remark for remark in plan.remarks if "left to what slides" in remark]
    said_mm = float(re.search(r"up to ([0-9.]+) mm", told).group(1))
    assert said_mm == pytest.approx(widest_m * 1e3, rel=0.06)


@BOTH
def test_more_legs_leave_less_free_and_pauses_take_them(bobbin):
    def told_mm(legs_max: int, **changes) -> float:
        plan = make_plan(coil(2600, **bobbin, **changes), machine(**NEAR), legs_max=legs_max)
        assert len(plan.legs) <= legs_max
        (told,) = [remark for remark in plan.remarks if "left to what slides" in remark]
        return float(re.search(r"up to ([0-9.]+) (mm|um)", told).group(1))

    gaps = [told_mm(legs) for legs in (4, 6, 8, 16)]
    assert gaps == sorted(gaps, reverse=True) and gaps[0] > 1.5 * gaps[-1]
    assert told_mm(8, pause_at_turns=(600, 1200, 1800, 2100)) > told_mm(8)


@BOTH
def test_bands_leave_alike_and_are_at_least_a_layer(bobbin):
    """With legs enough every band is a layer; with a few they share the gap, whoever ends a piece excepted."""
    a_coil = coil(2000, **bobbin)
    heights = build_steps(a_coil, a_coil.area_per_turn_m2.nominal, 2000)
    plenty = make_plan(a_coil, machine(**NEAR), legs_max=200)
    thick = [
        heights[end] - heights[begin]
        for leg, (begin, end) in moving_legs(plenty)
        if leg.name == "body"
    ]
    assert len(thick) > 10
    assert min(thick[:-1]) > 0.95 * a_coil.build_m / a_coil.layers
    plan = make_plan(a_coil, machine(**NEAR), legs_max=10)
    half_m = a_coil.wire.overall_m / 2
    free = [
        max(leg.left_m - half_m - faces(a_coil, heights[turn])[0] for turn in turns)
        for leg, turns in moving_legs(plan)
        if leg.name == "body"
    ]
    assert len(plan.legs) == 10
    assert max(free) < 1.05 * min(free[:-1])


@BOTH
def test_from_the_rims_the_guide_is_led_in_before_it_lays(bobbin):
    """Zero is the left flange where the bobbin is widest: at the rims of those that widen."""
    a_coil = coil(2600, **bobbin)
    plan = make_plan(a_coil, machine(**NEAR))
    first, second = plan.legs[:2]
    if bobbin is NARROWING:
        assert first.left_m < 0.0002
        return
    assert first.name == "bedding" and first.end_counts == 2 * plan.counts_per_turn
    assert first.pitch_m * 2 == pytest.approx(first.left_m, rel=1e-4)
    assert (
        first.left_m == second.left_m == pytest.approx(0.0015 + a_coil.wire.overall_m / 2, abs=1e-5)
    )
    assert any("lead it in" in remark and "1.5 mm further out" in remark for remark in plan.remarks)


def test_straight_flanges_have_no_bands_and_no_words_of_them():
    plain, same = (
        make_plan(coil(5000, height_m=0.008, **more), machine())
        for more in ({}, {"rim_width_m": 0.01})
    )
    assert plain == same
    assert not any("taper" in remark or "slides" in remark for remark in plain.remarks)
    assert not any("  in leg" in line for line in describe(plain))


def test_the_listing_tells_the_turning_points_of_every_leg():
    plan = make_plan(coil(2600, **WIDENING), machine(**NEAR))
    lines = [line for line in describe(plan) if line.startswith("  in leg")]
    assert len(lines) == len(plan.legs)
    last = plan.legs[-1]
    assert f"between {last.left_m * 1e3:.3f} and {last.right_m * 1e3:.3f} mm" in lines[-1]


def test_rims_beyond_the_guides_travel_are_refused():
    with pytest.raises(UserMistake, match="the guide travels"):
        make_plan(coil(2600, **WIDENING), machine(traverse_travel_m=0.0056))
    make_plan(coil(1000, **WIDENING), machine(traverse_travel_m=0.0066))


@settings(max_examples=60)
@given(
    st.integers(1, 6000),
    st.floats(0.002, 0.02),
    st.floats(-1, 1),
    st.integers(1, 12),
    st.integers(0, 20),
    st.lists(st.integers(1, 6000), max_size=3, unique=True).map(sorted),
)
def test_legs_are_whole_and_rise_to_the_target_with_every_pause(
    turns, width_m, lean, legs_max, first, pauses
):
    height_m = 0.004
    rim_m = max(width_m + 2 * lean * height_m, 0.0012)
    a_coil = coil(
        turns, width_m=width_m, rim_width_m=rim_m, height_m=height_m, pause_at_turns=tuple(pauses)
    )
    try:
        plan = make_plan(a_coil, machine(), legs_max=legs_max, first_turn=first)
    except UserMistake as trouble:
        assert trouble.remedy
        assume(False)
    ends = [0, *(leg.end_counts for leg in plan.legs)]
    assert len(plan.legs) <= legs_max
    assert all(end > begin and end % 20 == 0 for begin, end in itertools.pairwise(ends))
    assert ends[-1] == (turns - first) * 20 == plan.target_counts
    stops = [first + leg.end_counts // 20 for leg in plan.legs if leg.at_end is AtEnd.PAUSE]
    assert stops == [pause for pause in pauses if first < pause < turns]
    widest_m = max(width_m, rim_m)
    for leg in plan.legs:
        assert 0.0 <= leg.left_m <= leg.right_m <= widest_m + 1e-9
        assert math.isfinite(leg.pitch_m) and leg.pitch_m <= widest_m
