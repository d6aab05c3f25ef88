"""The guide as a function of the count, and the wire as it piles up."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest
from bench_rig import leg
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol.messages import EndAction
from winder.simulator.build import Build
from winder.simulator.draw import Told
from winder.simulator.guide import Guide
from winder.simulator.hand import Hand
from winder.simulator.lay import Lay

TOLD = Told(10, True, 1500.0, 600.0, 700.0, 5000.0, 0.1)


def path_leg(**changes):
    """100 um a turn between 0 and 1000 um, 10 counts a turn: a stroke takes 100 counts."""
    settings = {"pitch_um": 100.0, "left_um": 0, "right_um": 1000, "dwell_counts": 0}
    return leg(TOLD, 0, 100_000, 600.0, **{**settings, **changes})


def guide_on(*legs) -> Guide:
    guide = Guide(0.1)
    guide.follow(tuple(legs), 0)
    return guide


def test_the_guide_goes_to_and_fro_with_the_count():
    guide = guide_on(path_leg())
    seen = [guide.place(count) for count in (0, 25, 100, 130, 199, 200, 350)]
    assert [place for place, _ in seen] == pytest.approx([0, 250, 1000, 700, 10, 0, 500])
    assert [right for _, right in seen] == [True, True, False, False, False, True, False]


def test_it_waits_at_the_turning_points():
    guide = guide_on(path_leg(dwell_counts=20))
    places = [guide.place(count)[0] for count in (100, 119, 120, 130, 220, 239, 250)]
    assert places == pytest.approx([1000, 1000, 1000, 900, 0, 0, 100])


def test_place_and_direction_carry_over_a_leg_border():
    first = dataclasses.replace(path_leg(), end_count=130, end_action=EndAction.CONTINUE)
    second = path_leg(pitch_um=50.0)
    guide = guide_on(first, second)
    assert guide.place(130) == (pytest.approx(700.0), False)
    assert guide.place(150) == (pytest.approx(600.0), False)
    assert guide.place(270) == (pytest.approx(0.0), True)


@pytest.mark.parametrize(("start_um", "expected"), [(-300.0, -200.0), (1300.0, 1200.0)])
def test_a_guide_outside_the_turning_points_walks_in_at_the_pitch(start_um, expected):
    guide = Guide(0.1)
    guide.place_um, guide.rightward = start_um, start_um > 500  # it went outward
    guide.follow((path_leg(),), 0)
    assert guide.place(10) == (pytest.approx(expected), start_um < 0)
    assert all(0 <= guide.place(count)[0] <= 1000 for count in range(130, 900, 7))


@given(st.lists(st.integers(0, 5000), min_size=2, max_size=30), st.integers(0, 3))
def test_the_place_depends_on_the_count_alone(counts, seed):
    asked = guide_on(path_leg(dwell_counts=7, scatter_seed=seed))
    for count in counts:
        fresh = guide_on(path_leg(dwell_counts=7, scatter_seed=seed))
        assert asked.place(count) == fresh.place(count)


def test_scatter_changes_the_pitch_from_stroke_to_stroke_and_by_seed():
    def turning_counts(seed: int) -> list[int]:
        guide = guide_on(path_leg(scatter_seed=seed))
        ways = [guide.place(count)[1] for count in range(2000)]
        return [i for i in range(1, 2000) if ways[i] != ways[i - 1]]

    strokes = [b - a for a, b in zip(turning_counts(1), turning_counts(1)[1:], strict=False)]
    assert len(set(strokes)) > 5
    assert all(100 / 1.6 - 1 <= stroke <= 100 / 0.6 + 1 for stroke in strokes)
    assert turning_counts(1) != turning_counts(2)


def test_going_on_with_the_same_plan_stays_on_the_path_and_a_moved_guide_begins_anew():
    legs = (path_leg(),)
    guide = Guide(0.1)
    guide.follow(legs, 0)
    guide.go(130)
    guide.follow(legs, 130)
    assert guide.place(140) == (pytest.approx(600.0), False)
    guide.let_go(130)
    guide.place_um = 300.0
    guide.follow(legs, 130)
    assert guide.place(140)[0] == pytest.approx(200.0)


def test_without_pitch_or_traverse_the_guide_stands():
    assert guide_on(path_leg(pitch_um=0.0)).place(777)[0] == 0.0
    by_hand = Guide(None)
    by_hand.follow((path_leg(),), 0)
    assert by_hand.place(777)[0] == 0.0


# --- the wire ---------------------------------------------------------------------------------


def wound(turns: int, build: Build, pitch_of_wire: float = 1.1, seed: int = 0) -> Lay:
    """A bobbin wound by a guide from flange to flange."""
    lay = Lay(build)
    wire_um, width_um = build.wire_overall_m * 1e6, round(build.width_m * 1e6)
    guide = Guide(0.1)
    settings = {"left_um": round(wire_um / 2), "right_um": width_um - round(wire_um / 2)}
    plan = path_leg(pitch_um=wire_um * pitch_of_wire, scatter_seed=seed, **settings)
    guide.place_um = float(settings["left_um"])
    guide.follow((plan,), 0)
    for turn in range(turns):
        lay.lay_turn(guide.place((turn + 0.5) * 10)[0] * 1e-6)
    return lay


def test_the_first_turn_is_the_core_and_half_a_wire_all_round():
    build = Build()
    lay = wound(1, build)
    assert lay.length_m == pytest.approx(build.core_perimeter_m + math.pi * build.wire_overall_m)
    assert lay.wound_ohm == pytest.approx(lay.length_m * build.ohm_per_m)


def test_the_area_that_is_filled_is_the_wires_over_the_packing():
    build = Build()
    lay = wound(3000, build)
    wire_m2 = math.pi / 4 * build.wire_overall_m**2
    filled_m2 = sum(lay.heights_m) * lay.bin_m
    assert filled_m2 == pytest.approx(3000 * wire_m2 / build.packing, rel=1e-9)


def test_the_length_is_that_of_the_mean_turn():
    """Mean turn of a convex core: perimeter plus pi times the build (Steiner); lay costs little."""
    build = Build()
    lay = wound(8000, build)
    height_m = 8000 * math.pi / 4 * build.wire_overall_m**2 / build.packing / build.width_m
    mean_turn_m = build.core_perimeter_m + math.pi * height_m
    assert lay.length_m == pytest.approx(8000 * mean_turn_m, rel=0.01)


def test_a_tighter_packing_makes_less_resistance_by_a_lower_build():
    loose = wound(5000, dataclasses.replace(Build(), packing=0.6))
    tight = wound(5000, dataclasses.replace(Build(), packing=0.85))
    assert tight.wound_ohm < loose.wound_ohm


def test_layers_are_turns_over_what_fits_side_by_side():
    build = Build()
    per_layer = build.width_m / build.wire_overall_m
    lay = wound(1000, build)
    assert lay.layers == pytest.approx(1000 / per_layer, rel=0.03)


def test_an_even_lay_is_more_even_than_a_scattered_or_a_heaped_one():
    build = dataclasses.replace(Build(), free_length_m=1e-3)  # the wire follows the guide at once
    assert wound(4000, build).unevenness < 0.08
    even, scattered = wound(500, build), wound(500, build, seed=5)
    assert scattered.unevenness > 1.3 * even.unevenness
    heap = Lay(build)
    for turn in range(4000):  # two thirds of the turns in a quarter of the width
        share = (turn * 0.618) % 1.0
        heap.lay_turn((share * 0.25 if turn % 3 else share) * build.width_m)
    assert heap.unevenness > 0.6


def test_unevenness_is_the_spread_of_the_laid_heights_over_their_mean():
    build = dataclasses.replace(Build(), margin_m=2e-3)
    lay = Lay(build)
    assert lay.unevenness == 0.0
    for place in range(100):
        lay.lay_turn(2.5e-3 + place % 2 * 2e-3)
    bins = len(lay.heights_m)
    lay.heights_m[: bins // 2] = [2e-3] * (bins // 2)
    lay.heights_m[bins // 2 :] = [4e-3] * (bins - bins // 2)
    lay.heights_m[:20] = [9.0] * 20  # within the margin: no part of the winding that was asked for
    assert lay.unevenness == pytest.approx(1 / 3, rel=0.01)


def test_the_edge_is_compared_with_the_middle_half():
    lay = Lay(Build())
    assert lay.edge_share == 0.0
    lay.lay_turn(4e-3)
    lay.heights_m[:] = [2e-3] * len(lay.heights_m)
    assert lay.edge_share == pytest.approx(1.0)
    lay.heights_m[:4] = [1e-3] * 4  # one wire width of the two edges
    assert lay.edge_share == pytest.approx(0.75)


def led(places_m: list[float], build: Build) -> list[float]:
    """Where turns lie that are led to these places, from the middles of the bins they filled."""
    lay, found = Lay(build), []
    for place_m in places_m:
        before = list(lay.heights_m)
        lay.lay_turn(place_m)
        new = [i for i, (h, b) in enumerate(zip(lay.heights_m, before, strict=True)) if h > b]
        found.append((new[0] + new[-1] + 1) / 2 * lay.bin_m)
    return found


def test_the_lay_point_lags_behind_a_steady_guide_by_the_pitch_times_free_length_over_perimeter():
    """Guide p a turn, dx/ds = (g - x) / l: steady at a lag of p l / P (common analysis of the pull angle)."""
    build = dataclasses.replace(Build(), core_perimeter_m=0.05, free_length_m=0.2)
    pitch_m = 80e-6
    places = [1e-3 + turn * pitch_m for turn in range(60)]
    lag_m = places[-1] - led(places, build)[-1]
    assert lag_m == pytest.approx(pitch_m * 0.2 / 0.05, abs=0.6 * 75e-6 / 4 + 0.02 * pitch_m)


def test_the_lay_point_turns_back_short_of_the_guide_by_ln_2_of_its_lag():
    thin = {"wire_overall_m": 10e-6}  # what slides where they crowd, slides little
    build = dataclasses.replace(Build(), core_perimeter_m=0.05, free_length_m=0.5, **thin)
    pitch_m = 80e-6
    out = [1e-3 + turn * pitch_m for turn in range(70)]
    farthest = max(led(out + out[-2::-1], build))
    assert out[-1] - farthest == pytest.approx(math.log(2) * pitch_m * 10, abs=0.3 * pitch_m)


def test_no_turn_lies_beyond_a_flange_however_far_the_guide_goes():
    build = Build()
    lay = Lay(build)
    for turn in range(300):
        lay.lay_turn(-3e-3 if turn % 20 < 10 else build.width_m + 3e-3)
    wire_m2 = math.pi / 4 * build.wire_overall_m**2
    assert sum(lay.heights_m) * lay.bin_m == pytest.approx(300 * wire_m2 / build.packing)


def test_a_hand_is_the_same_hand_whoever_looks_and_however_often():
    build = dataclasses.replace(Build(), margin_m=1e-3)
    one, again, other = Hand(build, 3), Hand(build, 3), Hand(build, 4)
    last = again.place_m(999)
    places = [one.place_m(turn) for turn in range(1000)]
    assert places[-1] == last and again.place_m(10) == places[10]
    assert places != [other.place_m(turn) for turn in range(1000)]
    assert all(0.0 <= place <= build.width_m for place in places)


def test_a_hand_goes_to_and_fro_between_the_margins_and_wanders():
    build = dataclasses.replace(Build(), margin_m=1e-3)
    hand = Hand(build, 1)
    places = [hand.place_m(turn) for turn in range(3000)]
    steps = [b - a for a, b in itertools.pairwise(places)]
    assert max(map(abs, steps)) < 12 * build.wire_overall_m  # it drifts, it does not jump
    inside = sum(0.5e-3 < place < build.width_m - 0.5e-3 for place in places) / len(places)
    assert inside > 0.95
    quarters = [sum(q * 2e-3 <= p < (q + 1) * 2e-3 for p in places) for q in range(4)]
    assert min(quarters) > 300


def test_turns_that_come_off_leave_what_was_there_before():
    build = Build()
    lay, same = wound(500, build), wound(500, build)
    for place in range(40):
        lay.lay_turn(place * 1e-4)
    for _ in range(40):
        lay.take_off_turn()
    assert lay.turns == same.turns
    assert lay.length_m == pytest.approx(same.length_m, rel=1e-12)
    assert lay.heights_m == pytest.approx(same.heights_m, abs=1e-15)
