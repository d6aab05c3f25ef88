"""Which way the spindle turns, worked out by hand for every mounting.

Hold the bobbin with its top towards you and lay the wire from a fixed place above it: turn the bobbin
counter-clockwise and the wire, followed from its start, runs clockwise round it. Turned round, with the
top away, everything is seen in a mirror. (Geometry; no source.)
"""

from __future__ import annotations

import cmath
import itertools
import math

import pytest
from plan_makers import coil, machine

from winder.plan.facing import Top, face
from winder.plan.planner import make_plan
from winder.recipe.model import Direction

CW, CCW = Direction.CLOCKWISE, Direction.COUNTER_CLOCKWISE


@pytest.mark.parametrize(
    ("coil_is", "top", "spindle_turns", "starts_at_top"),
    [
        (CW, Top.OPERATOR, CCW, False),
        (CCW, Top.OPERATOR, CW, False),
        (CW, Top.CHUCK, CW, True),
        (CCW, Top.CHUCK, CCW, True),
    ],
)
def test_the_spindle_turns_so_that_the_coil_comes_out_as_asked(
    coil_is, top, spindle_turns, starts_at_top
):
    mounted = face(coil_is, top)
    assert mounted.turning is spindle_turns
    assert mounted.starts_at_top is starts_at_top
    assert mounted.spindle == (1 if spindle_turns is CW else -1)
    assert face(coil_is, top, plus_clockwise=False).spindle == -mounted.spindle
    assert spindle_turns.value in mounted.words


@pytest.mark.parametrize("top", Top)
@pytest.mark.parametrize("coil_is", Direction)
def test_a_bobbin_turned_under_a_fixed_wire_gets_that_sense(coil_is, top):
    """Marks left on a turning disc by a fixed pen, looked at from the side where the top is."""
    turning = face(coil_is, top).turning
    step = (-1 if turning is CW else 1) * math.radians(10)  # counter-clockwise is positive
    pen = 1j  # above the spindle, as the operator sees it
    marks = [pen * cmath.exp(-1j * step * k) for k in range(5)]  # in the bobbin's own frame
    if top is Top.CHUCK:
        marks = [mark.conjugate() for mark in marks]  # seen from behind
    sense = sum(cmath.phase(after / before) for before, after in itertools.pairwise(marks))
    assert (CCW if sense > 0 else CW) is coil_is


def test_the_plan_turns_the_motor_that_way():
    for top in Top:
        mounted = face(CCW, top, plus_clockwise=False)
        plan = make_plan(coil(100, direction=CCW), machine(), facing=mounted)
        assert plan.spindle == mounted.spindle
