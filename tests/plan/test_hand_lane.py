"""Where a hand shall lead the wire: by hand-reckoned figures, and by what must hold at every turn."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.winding import figure_coil
from winder.plan.lane import HandLane, hand_lane
from winder.recipe.reader import read_recipe
from winder.recipe.samples import example_recipes

# 10 mm between the flanges, wire of 0.1 mm, pitch 0.105 mm, no margin: inset 0.05 mm, so from 0.005 to 0.995.
# The way of 9.9 mm takes 94.2857 turns, the wait 0.1 / 0.105 = 0.95238, together 10 / 0.105 = 95.2381.
LANE = HandLane(0.005, 0.995, 95.2381, 0.95238)
LANES = st.builds(
    HandLane,
    left_share=st.floats(0.0, 0.2),
    right_share=st.floats(0.8, 1.0),
    turns_per_layer=st.floats(2.0, 400.0),
    wait_turns=st.floats(0.5, 1.0),
    from_right=st.booleans(),
)
TURNS = st.floats(0, 20_000)


@pytest.mark.parametrize(
    ("turns", "share", "rightward", "to_edge", "layer"),
    [
        (0.0, 0.005, True, 95.2381, 1),
        (0.47, 0.005, True, 94.7681, 1),  # half of the wait
        (47.61905, 0.5, True, 47.61905, 1),  # the middle of the layer
        (24.047616, 0.2525, True, 71.190484, 1),  # 0.47619 + a quarter of 94.28571
        (95.0, 0.995, True, 0.2381, 1),
        (96.0, 0.992, False, 94.4762, 2),  # 0.7619 in, less 0.4762: back 0.2857 turns of 0.0105
        (142.85715, 0.5, False, 47.61905, 2),
        (238.09525, 0.5, True, 47.61905, 3),
    ],
)
def test_the_place_is_the_one_reckoned_by_hand(turns, share, rightward, to_edge, layer):
    found = LANE.at(turns)
    assert found[0] == pytest.approx(share, abs=1e-6)
    assert found[1] is rightward
    assert found[2] == pytest.approx(to_edge, abs=1e-4)
    assert found[3] == layer


def test_one_turn_advances_by_one_pitch():
    (before, *_), (after, *_) = LANE.at(40.0), LANE.at(41.0)
    assert after - before == pytest.approx(0.105 / 10, rel=1e-5)


def test_turns_that_come_off_lead_back_the_way_they_came():
    share, rightward, to_edge, layer = LANE.at(100.0, back=True)
    assert (share, layer) == (LANE.at(100.0)[0], 2)
    assert rightward is True and to_edge == pytest.approx(100.0 - 95.2381)
    assert LANE.at(40.0, back=True)[1:3] == (False, pytest.approx(40.0))


@given(LANES, TURNS, st.booleans())
def test_the_hand_stays_between_the_turning_points_and_has_a_layer_at_most_to_go(lane, turns, back):
    share, _, to_edge, layer = lane.at(turns, back=back)
    assert lane.left_share - 1e-12 <= share <= lane.right_share + 1e-12
    assert 0 <= to_edge <= lane.turns_per_layer
    assert layer >= 1


@given(LANES, TURNS, st.floats(0, 1))
def test_the_hand_never_jumps(lane, turns, more):
    speed = (lane.right_share - lane.left_share) / (lane.turns_per_layer - lane.wait_turns)
    step = abs(lane.at(turns + more)[0] - lane.at(turns)[0])
    assert step <= speed * more + 1e-9


@given(LANES, st.integers(0, 50), st.floats(0, 1))
def test_every_second_layer_is_the_mirror_of_the_first(lane, pairs, part):
    into = part * lane.turns_per_layer * 0.999
    there = lane.at(into)[0]
    whole = 2 * lane.turns_per_layer
    assert lane.at((pairs + 1) * whole - into)[0] == pytest.approx(there, abs=1e-6)
    assert lane.at(pairs * whole + into)[0] == pytest.approx(there, abs=1e-6)


@given(LANES, TURNS)
def test_a_lane_from_the_other_flange_is_its_mirror_picture(lane, turns):
    other = dataclasses.replace(
        lane,
        left_share=1 - lane.right_share,
        right_share=1 - lane.left_share,
        from_right=not lane.from_right,
    )
    share, rightward, to_edge, layer = lane.at(turns)
    mirrored = other.at(turns)
    assert mirrored[0] == pytest.approx(1 - share, abs=1e-9)
    assert mirrored[1:] == (not rightward, to_edge, layer)


def test_a_coils_lane_has_its_layers_and_touches_its_margins():
    coil = figure_coil(read_recipe(example_recipes()[0][1]))
    lane = hand_lane(coil)
    recipe, overall_m = coil.recipe, coil.wire.overall_m
    assert lane.at(0.0)[0] * recipe.width_m == pytest.approx(recipe.margin_m + overall_m / 2)
    assert lane.at(coil.turns)[3] == int(coil.layers) + 1
    stroke_m = (lane.right_share - lane.left_share) * recipe.width_m
    assert stroke_m / (lane.turns_per_layer - lane.wait_turns) == pytest.approx(1.05 * overall_m)


def test_a_winding_of_one_or_two_wires_has_no_lane():
    coil = figure_coil(read_recipe(example_recipes()[0][1]))
    narrow = dataclasses.replace(
        coil.recipe, width_m=2 * coil.wire.overall_m + 2 * coil.recipe.margin_m
    )
    assert hand_lane(dataclasses.replace(coil, recipe=narrow)) is None


@pytest.mark.parametrize(("rim_mm", "margin_mm"), [(7.0, 0.2), (4.5, 0.0)])
def test_between_flanges_that_taper_every_layer_is_as_wide_as_the_flanges_are_there(
    rim_mm, margin_mm
):
    """Worked apart: straight lines from the core to the rims, and the turns that such layers hold."""
    _, path = next(iter(example_recipes()))
    recipe = dataclasses.replace(
        read_recipe(path), width_m=6e-3, rim_width_m=rim_mm * 1e-3, height_m=7e-3,
        margin_m=margin_mm * 1e-3, tape_under_m=0.0,
    )  # fmt: skip
    coil = figure_coil(recipe)
    lane = hand_lane(coil)
    widest = max(6e-3, rim_mm * 1e-3)
    pitch = 1.05 * coil.wire.overall_m
    rise = coil.area_per_turn_m2.nominal / pitch
    begin = 0.0
    for number in range(int(coil.layers)):
        height = (number + 0.5) * rise
        between = 6e-3 + (rim_mm * 1e-3 - 6e-3) * height / 7e-3
        turns = (between - 2 * margin_mm * 1e-3) / pitch
        middle = lane.at(begin + turns / 2)
        assert middle[0] == pytest.approx(0.5, abs=1e-6)
        assert (middle[1], middle[3]) == (number % 2 == 0, number + 1)
        left, right = lane.edges_at(begin + turns / 2)
        flange = (widest - between) / 2
        assert left * widest == pytest.approx(
            flange + margin_mm * 1e-3 + coil.wire.overall_m / 2, rel=1e-6
        )
        assert right == pytest.approx(1 - left)
        begin += turns
    assert begin == pytest.approx(coil.turns, rel=0.05), "as many layers as the coil has"
    assert lane.at(10 * coil.turns)[3] >= int(coil.layers), "beyond the end it goes on"
