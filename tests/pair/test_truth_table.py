"""Signs, joins and wiring against voltages summed over turns (Faraday's law; magnets by magpylib).

The table of eight places, and all 2^6 pairs of places by all joins, series and parallel, side by side and
stacked: not a rule of signs is used on the side of the check (``faraday``).
"""

from __future__ import annotations

import itertools
import math

import pytest
from faraday import (
    MU0,
    PLACES,
    across,
    along_wire,
    dipole,
    hum_v,
    signal_v,
    spiral,
    uniform,
)

from winder.pair.leads import best_wiring, counted, four_ways, wire, wirings
from winder.pair.signs import Circuit, Join, Lead, Mounted, Placed, Pole, joins, outcome
from winder.recipe.model import Direction

CCW, CW = Direction.COUNTER_CLOCKWISE, Direction.CLOCKWISE
UP, DOWN = Mounted.TOP_TO_STRING, Mounted.TOP_AWAY
N, S = Pole.NORTH, Pole.SOUTH
PAIRS = list(itertools.product(PLACES, PLACES))
ALL_JOINS = [*joins(Circuit.SERIES), *joins(Circuit.PARALLEL)]

# direction, face, pole, h, s, V_FS while B grows, string away, string towards: derived by hand from the right
# hand and Lenz's rule, and printed as the table of docs/pairs.md.
TABLE = [
    (CCW, UP, N, +1, +1, -1, +1, -1),
    (CCW, UP, S, +1, -1, -1, -1, +1),
    (CCW, DOWN, N, -1, -1, +1, -1, +1),
    (CCW, DOWN, S, -1, +1, +1, +1, -1),
    (CW, UP, N, -1, -1, +1, -1, +1),
    (CW, UP, S, -1, +1, +1, +1, -1),
    (CW, DOWN, N, +1, +1, -1, +1, -1),
    (CW, DOWN, S, +1, -1, -1, -1, +1),
]


def sign(value: float) -> int:
    return 1 if value > 0 else -1


@pytest.mark.parametrize(("direction", "face", "pole", "h", "s", "hum", "away", "towards"), TABLE)
def test_the_table_of_eight_places(direction, face, pole, h, s, hum, away, towards):
    placed = Placed(direction, face, pole)
    assert (placed.hum_sign, placed.signal_sign) == (h, s)
    assert sign(hum_v(placed)) == hum
    assert sign(signal_v(placed)) == away
    assert sign(signal_v(placed, speed=-0.1)) == towards


def test_the_spiral_has_the_turns_area_it_is_drawn_with():
    """Six turns each on radii 3.5 to 9.5 mm: 5.25e-3 m2, summed by hand."""
    area_m2 = along_wire(spiral(CCW, UP), uniform)
    assert area_m2 == pytest.approx(6 * math.pi * 278.7e-6, rel=2e-3)
    assert area_m2 == pytest.approx(5.25e-3, rel=2e-3)


def test_a_thin_loop_below_a_moving_moment_has_the_closed_form():
    """Loop of 6.5 mm, 1e-6 A m2 8.5 mm above, 0.1 m/s away, 10000 turns: +4.82540 uV, by mu0 p a^2/2 d/dz."""
    a, z, p, speed = 6.5e-3, 8.5e-3, 1e-6, 0.1
    closed = 10_000 * MU0 * p * a**2 / 2 * 3 * z / (a**2 + z**2) ** 2.5 * speed
    assert closed == pytest.approx(4.82540e-6, rel=1e-5)
    import numpy

    angle = numpy.linspace(0, 2 * math.pi, 4001)
    loop = numpy.stack([a * numpy.cos(angle), a * numpy.sin(angle), 0 * angle], axis=1)
    linked = [along_wire(loop, dipole(p, z + side)) for side in (-1e-6, 1e-6)]
    assert -1e4 * (linked[1] - linked[0]) / 2e-6 * speed == pytest.approx(closed, rel=1e-5)


def voltages(join: Join, first: float, second: float) -> float:
    """Output against its other end, from each coil's V_FS: Kirchhoff, walked lead by lead."""
    if join.circuit is Circuit.SERIES:  # from the second's free lead over the join to the first's
        return across(join.first.other, first) + across(join.second, second)
    return (across(join.first, first) + across(join.second, second)) / 2


@pytest.mark.parametrize("join", ALL_JOINS, ids=str)
def test_every_pair_side_by_side_by_every_join(join):
    classes = []
    for one, other in PAIRS:
        hums = hum_v(one), hum_v(other)
        signals = signal_v(one), signal_v(other)
        truth = (
            abs(voltages(join, *hums)) < 0.1 * abs(hums[0]),
            abs(voltages(join, *signals)) > 0.9 * abs(signals[0]),
        )
        said = outcome(one, other, join)
        assert (said.hum_cancels, said.signals_add) == truth
        classes.append(truth)
    assert sorted(map(classes.count, set(classes))) == [16, 16, 16, 16]


@pytest.mark.parametrize("join", ALL_JOINS, ids=str)
def test_every_stack_on_one_magnet_by_every_join(join):
    """The far coil hears the same string weaker, never with another sign."""
    for one, other in PAIRS:
        if one.pole is not other.pole:
            continue
        near, far = signal_v(one), signal_v(other, below_m=11e-3)
        assert abs(far) < 0.5 * abs(near)
        alone = abs(voltages(join, near, 0.0))
        said = outcome(one, other, join)
        assert (abs(voltages(join, near, far)) > alone) is said.signals_add
        hums = abs(voltages(join, hum_v(one), hum_v(other)))
        assert (hums < 0.1 * abs(hum_v(one))) is said.hum_cancels
        assert said.hum_cancels is not said.signals_add


def test_the_wanted_joins_by_name():
    """Two coils wound alike join like leads in series; one wound the other way joins unlike ones."""
    one = Placed(CW, UP, N)
    assert outcome(
        one, Placed(CW, UP, S), Join(Circuit.SERIES, Lead.FINISH, Lead.FINISH)
    ).hum_cancels
    assert outcome(
        one, Placed(CCW, UP, S), Join(Circuit.SERIES, Lead.FINISH, Lead.START)
    ).hum_cancels
    alike = Join(Circuit.PARALLEL, Lead.START, Lead.START)
    assert outcome(one, Placed(CCW, UP, S), alike).hum_cancels
    stack = Join(Circuit.SERIES, Lead.FINISH, Lead.START)
    both = outcome(one, Placed(CW, DOWN, N), stack)
    assert (both.hum_cancels, both.signals_add) == (True, False)


@pytest.mark.parametrize("join", ALL_JOINS, ids=str)
def test_hot_and_ground_have_the_sense_that_the_voltages_have(join):
    for one, other in PAIRS:
        for near in (0, 1):
            for made in wirings(one, other, join, near=near):
                away = signal_v((one, other)[near])
                alone = [0.0, 0.0]
                alone[near] = away
                hot = sum(
                    counted(made, coil) * alone[coil] / (1 if join.circuit is Circuit.SERIES else 2)
                    for coil in (0, 1)
                )
                assert sign(hot) == made.sense
                assert made.outcome == outcome(one, other, join)


def test_walking_from_ground_to_hot_gives_the_voltage():
    """``counted`` against the walk of the check, up to which end is called hot."""
    for one, other in PAIRS:
        for join in ALL_JOINS:
            made = wire(one, other, join)
            v = (0.7, 0.31)
            share = 1 if join.circuit is Circuit.SERIES else 2
            walked = sum(counted(made, coil) * v[coil] for coil in (0, 1)) / share
            assert walked == pytest.approx(voltages(join, *v))


@pytest.mark.parametrize(("one", "other"), PAIRS[::3])
@pytest.mark.parametrize("sense", [None, 1, -1])
def test_four_ways_are_series_and_parallel_quiet_first(one, other, sense):
    ways = four_ways(one, other, sense=sense)
    assert [way.join.circuit for way in ways] == [Circuit.SERIES] * 2 + [Circuit.PARALLEL] * 2
    assert [way.outcome.hum_cancels for way in ways] == [True, False, True, False]
    for way in ways:
        ends = [*way.hot, *way.ground, *way.joined]
        assert len(set(ends)) == 4
        finishes = sum(end.lead is Lead.FINISH for end in way.hot)
        others = [
            sum(end.lead is Lead.FINISH for end in each.hot)
            for each in wirings(one, other, way.join)
        ]
        assert finishes == min(others)
        assert way.outer_layer_hot is (finishes > 0)


def test_a_wanted_sense_is_met_where_no_finish_has_to_be_hot_for_it():
    one, other = Placed(CW, UP, N), Placed(CW, UP, S)
    like = Join(Circuit.SERIES, Lead.FINISH, Lead.FINISH)  # both free leads are starts
    for sense in (1, -1):
        assert best_wiring(one, other, like, sense=sense).sense == sense
    plain = best_wiring(one, other, like)
    assert {end.lead for end in (*plain.hot, *plain.ground)} == {Lead.START}


def test_first_and_second_may_change_places_and_poles_may_all_turn():
    for one, other in PAIRS:
        for join in ALL_JOINS:
            said = outcome(one, other, join)
            back = Join(join.circuit, join.second, join.first)
            assert outcome(other, one, back) == said
            turned = [
                Placed(each.direction, each.mounted, S if each.pole is N else N)
                for each in (one, other)
            ]
            assert outcome(*turned, join) == said
            assert join.turned.sign == -join.sign
