"""The simulated bobbin whose flanges taper: where a turn can lie, and what is told of one led astray."""

from __future__ import annotations

import dataclasses
import math

import pytest

from winder.simulator.build import Build
from winder.simulator.hand import Hand
from winder.simulator.lay import Lay

WIRE_M = 75e-6
OUTWARD = Build(width_m=0.004, rim_width_m=0.007, flange_height_m=0.003)
INWARD = dataclasses.replace(OUTWARD, width_m=0.007, rim_width_m=0.004)
BOTH = pytest.mark.parametrize("build", [OUTWARD, INWARD], ids=["outward", "inward"])


def wound(build: Build, turns: int) -> Lay:
    """Turns spread over the width between the flanges as high up as the winding is by then."""
    lay = Lay(dataclasses.replace(build, free_length_m=1e-4))
    area_m2 = math.pi / 4 * WIRE_M**2 / build.packing
    slope = (build.rim_width_m - build.width_m) / build.flange_height_m
    height_m = 0.0
    for turn in range(turns):
        width_m = build.width_m + slope * height_m
        place = turn * 0.618034 % 1.0
        lay.lay_turn(0.0035 + (place - 0.5) * (width_m - WIRE_M))
        height_m += area_m2 / width_m
    return lay


@BOTH
def test_the_flanges_stand_as_far_apart_as_they_are(build):
    for height_m in (0.0, 0.001, 0.003):
        width_m = build.widest_m - 2 * build.left_face_m(height_m)
        wanted = build.width_m + height_m / 0.003 * (build.rim_width_m - build.width_m)
        assert width_m == pytest.approx(wanted)
    assert build.left_face_m(0.004) == build.left_face_m(0.003)
    taped = dataclasses.replace(build, raised_m=0.001)
    assert taped.left_face_m(0.001) == pytest.approx(build.left_face_m(0.002))


@BOTH
def test_rims_as_wide_as_the_core_are_straight_flanges_to_the_last_bit(build):
    straight = dataclasses.replace(build, rim_width_m=None)
    same = dataclasses.replace(build, rim_width_m=build.width_m)
    lays = Lay(straight), Lay(same)
    for turn in range(800):
        for lay in lays:
            lay.lay_turn(turn * 0.618 % 1.0 * build.width_m)
    assert lays[0].heights_m == lays[1].heights_m
    assert lays[0].length_m == lays[1].length_m


@BOTH
def test_the_winding_is_as_high_as_its_section_fills_the_trapezium(build):
    lay = wound(build, 1800)
    section_m2 = 1800 * math.pi / 4 * WIRE_M**2 / build.packing
    slope = (build.rim_width_m - build.width_m) / 0.003
    height_m = (math.sqrt(build.width_m**2 + 2 * slope * section_m2) - build.width_m) / slope
    middle = len(lay.heights_m) // 2
    core = lay.heights_m[middle - 40 : middle + 40]
    assert sum(core) / len(core) == pytest.approx(height_m, rel=0.05)
    mean_turn_m = build.core_perimeter_m + 2 * math.pi * height_m / 2
    assert lay.length_m == pytest.approx(1800 * mean_turn_m, rel=0.02)
    assert lay.led_out_turns <= 20 and lay.spilt_turns == 0


@BOTH
def test_no_turn_lies_within_a_flange_however_it_is_led(build):
    lay = Lay(dataclasses.replace(build, free_length_m=1e-4))
    for turn in range(900):
        before = list(lay.heights_m)
        lay.lay_turn((-0.001, 0.0035, 0.008)[turn % 3])
        new = [i for i, (h, b) in enumerate(zip(lay.heights_m, before, strict=True)) if h > b]
        ground_m = sum(before[i] for i in new) / len(new)
        face_m = build.left_face_m(ground_m + WIRE_M / 2)
        free_m = build.widest_m - 2 * face_m
        if free_m > 3 * WIRE_M:
            assert new[0] * lay.bin_m >= face_m - 1e-8
            assert (new[-1] + 1) * lay.bin_m <= build.widest_m - face_m + 1e-8
    assert lay.led_out_turns >= 600


def test_a_turn_on_a_bare_flange_goes_down_to_the_core():
    lay = Lay(dataclasses.replace(OUTWARD, free_length_m=1e-4))
    bare = list(lay.heights_m)
    lay.lay_turn(0.0005)  # the face here is 2 mm up
    new = [i for i, (h, b) in enumerate(zip(lay.heights_m, bare, strict=True)) if h > b]
    assert lay.length_m == pytest.approx(OUTWARD.core_perimeter_m, rel=0.03)
    assert new[0] * lay.bin_m == pytest.approx(0.0015, abs=WIRE_M)
    assert lay.led_out_turns == 1


def test_turns_above_the_rims_are_counted_as_spilt():
    build = dataclasses.replace(OUTWARD, flange_height_m=0.0005, rim_width_m=0.0045)
    lay = Lay(build)
    for turn in range(600):
        lay.lay_turn(0.00025 + turn * 0.618 % 1.0 * 0.004)
    assert 0 < lay.spilt_turns < 600
    assert Lay(Build()).spilt_turns == 0


@BOTH
def test_turns_that_come_off_leave_what_was_there_before(build):
    lay, same = wound(build, 700), wound(build, 700)
    for place in range(30):
        lay.lay_turn(place * 2e-4)
    for _ in range(30):
        lay.take_off_turn()
    assert lay.heights_m == pytest.approx(same.heights_m, abs=1e-15)
    assert (lay.turns, lay.led_out_turns) == (same.turns, same.led_out_turns)


@BOTH
def test_a_hand_follows_the_flanges(build):
    hand = Hand(build, 1)
    early = [hand.place_m(turn) for turn in range(300)]
    late = [hand.place_m(turn) for turn in range(2000, 2300)]
    spans = [max(places) - min(places) for places in (early, late)]
    assert (spans[1] > 1.2 * spans[0]) == (build is OUTWARD)
    assert (spans[1] < spans[0] / 1.2) == (build is INWARD)
