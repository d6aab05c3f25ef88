"""The listing says in words what the legs say in numbers."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from plan_makers import coil, coils, machine, machines

from winder.errors import UserMistake
from winder.plan.listing import describe
from winder.plan.planner import make_plan
from winder.recipe.model import ResistanceTarget


def test_a_listing_names_every_leg_stop_and_the_lay():
    lines = describe(make_plan(coil(5000, pause_at_turns=(2000,)), machine(), first_turn=100))
    assert lines[0].startswith("turns 101 to 5000 (4900), about ")
    assert lines[1] == "leg 1, bedding: turns 101 to 110 at 120 rpm, then straight on"
    assert lines[2] == "leg 2, body: turns 111 to 2000 at 1500 rpm, then a pause"
    assert lines[3] == "leg 3, body: turns 2001 to 4958 at 1500 rpm, then straight on"
    assert lines[4] == "leg 4, landing: turns 4959 to 5000 at 300 rpm, then done"
    assert "approached at 60 rpm" in lines[5]
    assert re.fullmatch(
        r"guide: 0\.07[45]\d mm a turn between 0\.0\d\d and 9\.9\d\d mm from the left flange,"
        r" waiting 1\.\d\d turn at each side",
        lines[6],
    )
    assert len(lines) == 7


@pytest.mark.parametrize("motor", [True, False])
def test_a_coil_wound_long_is_measured_at_the_end_and_the_listing_says_so(motor):
    a_machine = machine() if motor else machine(motor=False, traverse_travel_m=None)
    for wind_long in (True, False):
        target = ResistanceTarget(1500.0, wind_long)
        plan = make_plan(coil(5000, target=target, pause_at_turns=(200,)), a_machine)
        last = next(
            line for line in reversed(describe(plan)) if line.startswith(f"leg {len(plan.legs)}")
        )
        assert plan.measure_at_end is wind_long
        assert last.endswith("then measure and take off" if wind_long else "then done")
        assert sum("take off" in line for line in describe(plan)) == wind_long
    assert not make_plan(coil(5000), a_machine).measure_at_end


def test_a_hand_machine_is_told_that_nothing_stops_it():
    lines = describe(make_plan(coil(5000), machine(motor=False, traverse_travel_m=None)))
    assert any("nothing stops by itself" in line for line in lines)
    assert any("by hand" in line for line in lines)


@given(coils(), machines())
def test_every_remark_is_listed_and_every_line_is_plain(a_coil, a_machine):
    try:
        plan = make_plan(a_coil, a_machine)
    except UserMistake:
        return
    lines = describe(plan)
    assert [line for line in lines if line.startswith("note: ")] == [
        f"note: {remark}" for remark in plan.remarks
    ]
    assert all(line.isprintable() and line.isascii() for line in lines)
