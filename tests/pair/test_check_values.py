"""Check values of two coils: each computed by two independent ways apart from this code (named beside it).

a = 4.78895e-9 m2 a turn; *hub 7*: P0 = pi 7 mm, A0 = pi 12.25 mm2, W = 9 mm; field 100 nT rms, 50 Hz. Sources:
turns-area after Tumanski, Meas. Sci. Technol. 18 (2007) R31; coaxial loops Maxwell, Treatise, art. 701; Neumann's
integral; series and parallel inductance from published problems. The signs are in ``test_truth_table``.
"""

from __future__ import annotations

import math

import pytest
from pair_makers import AREA_M2, D10, HUB7, OBROUND, ground, turns_area

from winder.coil.core import Outline, Section
from winder.coil.hum import hum_v
from winder.coil.inductance import winding_h
from winder.coil.model import Band
from winder.coil.mutual import (
    beside_per_turns_h,
    mutual_per_turns_h,
    stacked_per_turns_h,
)
from winder.coil.outside_field import Source, beside_share, stacked_share
from winder.coil.turns_area import growth, turns_of_area
from winder.pair.circuit import Side, joined_henry, joined_ohm, mutual_of_join, weights
from winder.pair.hum_left import Ears, hum_left, lean_share
from winder.pair.mounting import Iron, Stacked, String
from winder.pair.signal import difference_of_two, far_share, sum_of_two
from winder.pair.signs import Circuit

FIELD_T, HZ = 100e-9, 50.0
ROUND = Section(Outline(0, 0, 0.0035), 0.009, 0.006)  # hub 7, outer 19, width 9 mm
POINT = Section(Outline(0, 0, 1e-6), 1e-6, 1e-6)
SERIES, PARALLEL = Circuit.SERIES, Circuit.PARALLEL


def decibel(share: float) -> float:
    return 20 * math.log10(share)


def test_a_deep_small_coil():
    """#7: formula, sum over turns (6e-10)."""
    where = ground(HUB7)
    assert turns_area(HUB7, 10_000) == pytest.approx(1.2664254, rel=1e-7)
    assert hum_v(turns_area(HUB7, 10_000), FIELD_T, HZ) == pytest.approx(39.786e-6, rel=1e-5)
    assert where.length_m(10_000, AREA_M2) == pytest.approx(387.077, rel=1e-6)
    assert where.build_m(10_000, AREA_M2) == pytest.approx(5.3211e-3, rel=1e-5)
    assert growth(where, 10_000, AREA_M2) == pytest.approx(1.9302, abs=5e-5)


def test_a_long_shallow_coil():
    """#8: likewise."""
    where = ground(OBROUND)
    assert where.perimeter_m == pytest.approx(130.849556e-3, rel=1e-8)
    assert where.core_m2 == pytest.approx(364.27433e-6, rel=1e-7)
    assert turns_area(OBROUND, 8_000) == pytest.approx(5.0423814, rel=1e-7)
    assert hum_v(turns_area(OBROUND, 8_000), FIELD_T, HZ) == pytest.approx(158.411e-6, rel=1e-5)
    assert growth(where, 8_000, AREA_M2) == pytest.approx(1.4464, abs=5e-5)


def test_fifty_turns_missing():
    """#9: 10000 against 9950, the quiet join in series; formula and sum over turns."""
    one, other = turns_area(HUB7, 10_000), turns_area(HUB7, 9_950)
    assert one - other == pytest.approx(0.0121857, rel=1e-5)
    assert hum_v(one - other, FIELD_T, HZ) == pytest.approx(0.3828e-6, rel=2e-4)
    log = math.log(one / other)
    ears = Ears(Band(log, log, log), Iron.NONE)
    left = hum_left(ears, SERIES, (Side(1, 0), Side(1, 0)), 0.0, cancels=True)
    assert left.decibel.nominal == pytest.approx(-40.33, abs=0.005)
    both = hum_left(ears, SERIES, (Side(1, 0), Side(1, 0)), 0.0, cancels=False)
    assert left.decibel.nominal - both.decibel.nominal == pytest.approx(-46.31, abs=0.005)
    assert hum_v(one + other, FIELD_T, HZ) == pytest.approx(79.189e-6, rel=1e-5)


def test_equal_turns_area_on_another_bobbin():
    """#10: bisection, F back to 1e-15."""
    wanted = turns_area(HUB7, 10_000)
    turns = turns_of_area(ground(D10), wanted, AREA_M2)
    assert turns == pytest.approx(10258.99, abs=0.005)
    assert turns_area(D10, turns) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize(
    ("areas", "ohms", "mutual_h", "share", "db"),
    [
        ((1, 1), (5000, 5250), 0.0, 0.024109, -32.36),  # 11: closed form, nodal matrix
        ((1, 0.99), (5000, 5000), 0.0, 0.0050000, -46.02),  # 12
        ((1, 1), (5000, 5250), -0.22653 * 2.5, 0.023970, -32.41),  # 13: stacked, M_c = -k L
    ],
)
def test_the_quiet_join_in_parallel(areas, ohms, mutual_h, share, db):
    log = math.log(areas[0] / areas[1])
    sides = tuple(Side(ohm, 2.5) for ohm in ohms)
    left = hum_left(Ears(Band(log, log, log), Iron.NONE), PARALLEL, sides, mutual_h, cancels=True)
    assert left.share.nominal == pytest.approx(share, abs=6e-7)
    assert left.decibel.nominal == pytest.approx(db, abs=0.005)


def test_two_loops_on_one_axis():
    """#14: radii 20 and 25 mm, 10 mm apart: Maxwell."""
    one, other = (Section(Outline(0, 0, mm * 1e-3), 1e-9, 1e-9) for mm in (20, 25))
    assert mutual_per_turns_h(one, other, 0, 0, 0.010) == pytest.approx(24.8787359e-9, rel=2e-7)


def test_two_loops_beside_each_other():
    """#15: vector potential, Bessel integral, Neumann double sum: seven digits."""
    loop = Section(Outline(0, 0, 0.0065), 1e-9, 1e-9)
    for x_m, y_m in ((0.022, 0.0), (0.0, 0.022)):
        found = mutual_per_turns_h(loop, loop, x_m, y_m, 0.004)
        assert found == pytest.approx(-0.1655860e-9, rel=3e-7)


def test_two_windings_stacked():
    """#16: filaments, Bessel."""
    mutual = stacked_per_turns_h(ROUND, ROUND, 0.002)
    assert mutual == pytest.approx(1.66484e-9, rel=1e-4)
    assert mutual / winding_h(ROUND.outline, 0.009, 0.006) == pytest.approx(0.22653, rel=1e-4)


def test_two_windings_side_by_side():
    """#17: Bessel, filaments 0.4 %."""
    mutual = beside_per_turns_h(ROUND, ROUND, 0.022)
    assert mutual == pytest.approx(-0.21689e-9, rel=1e-4)
    assert mutual / winding_h(ROUND.outline, 0.009, 0.006) == pytest.approx(-0.02951, rel=2e-4)


def test_published_problems_of_coupled_coils():
    """#18 and 19: worked problems, as printed (118.8 uH; 1316 and 643 uH; 48.63 mH)."""
    mutual = 0.5 * math.sqrt(30e-6 * 50e-6)
    assert joined_henry(SERIES, 30e-6, 50e-6, mutual) == pytest.approx(118.73e-6, rel=1e-5)
    mutual = 0.922 * math.sqrt(835e-6 * 2.44e-3)
    assert mutual == pytest.approx(1316e-6, rel=5e-4)
    assert joined_henry(SERIES, 835e-6, 2.44e-3, -mutual) == pytest.approx(643e-6, rel=1e-3)
    mutual = 0.5 * math.sqrt(50e-3 * 120e-3)
    assert joined_henry(PARALLEL, 50e-3, 120e-3, mutual) == pytest.approx(48.63e-3, rel=1e-4)


def test_the_example_of_ten_thousand_turns():
    """Hub 7, L 0.73492 H each: stacked M 0.16648 H, beside -0.02169 H; filaments and Bessel."""
    own, stack, beside = 0.73492, 0.16648, -0.02169
    expected = {
        (stack, True, SERIES): 1.1369,
        (stack, True, PARALLEL): 0.28422,
        (stack, False, SERIES): 1.8028,
        (stack, False, PARALLEL): 0.45070,
        (beside, True, SERIES): 1.5132,
        (beside, True, PARALLEL): 0.37830,
        (beside, False, SERIES): 1.4265,
        (beside, False, PARALLEL): 0.35662,
    }
    for (mutual, quiet, circuit), henry in expected.items():
        across = mutual_of_join(mutual, hum_cancels=quiet)
        assert joined_henry(circuit, own, own, across) == pytest.approx(henry, rel=1e-4)
    assert joined_ohm(SERIES, 5000, 5250) == 10250
    assert joined_ohm(PARALLEL, 5000, 5000) == 2500


def test_a_wire_in_the_plane_of_both():
    """#20: (b/D)/(1 - (b/2D)^2) of points; of the 7/19/9 coils 0.110375 by filaments."""
    points = beside_share((POINT, POINT), 0.022, 0.2, Source.WIRE)
    assert points == pytest.approx(0.110334, rel=1e-5)
    assert decibel(points) == pytest.approx(-19.15, abs=0.005)
    assert beside_share((ROUND, ROUND), 0.022, 0.2, Source.WIRE) == pytest.approx(
        0.110375, abs=3e-6
    )


def test_a_transformer_beside():
    """#21: formula; magpylib 0.3333487; of the 7/19/9 coils 0.33354 by filaments."""
    points = beside_share((POINT, POINT), 0.022, 0.2)
    assert points == pytest.approx(0.333349, rel=1e-5)
    assert decibel(points) == pytest.approx(-9.54, abs=0.005)
    assert beside_share((ROUND, ROUND), 0.022, 0.2) == pytest.approx(0.33354, abs=2e-5)


def test_a_transformer_on_the_axis_of_a_stack():
    """#22: formula 0.033003; 0.033002 by filaments."""
    points = stacked_share((POINT, POINT), 0.011 - 1e-6, 1.0)
    assert points == pytest.approx(0.033003, rel=2e-5)
    assert decibel(points) == pytest.approx(-29.63, abs=0.005)
    assert stacked_share((ROUND, ROUND), 0.002, 1.0) == pytest.approx(0.033002, abs=1e-6)


def test_a_coil_that_leans():
    """#23: exact; 1, 2 and 5 degrees."""
    assert lean_share(math.radians(1)) == pytest.approx(0.0174531, rel=1e-5)
    for degrees, db in ((1, -35.16), (2, -29.14), (5, -21.19)):
        assert decibel(lean_share(math.radians(degrees))) == pytest.approx(db, abs=0.02)


def test_the_far_coils_share_of_two_thin_loops_lies_in_its_band():
    """#25 (#24 is in the truth table): loops of 6.5 mm, 8.5 and 19.5 mm below a moving moment: r = 0.0877127."""

    def slope(z: float) -> float:
        return z / (6.5e-3**2 + z**2) ** 2.5

    r = slope(19.5e-3) / slope(8.5e-3)
    assert r == pytest.approx(0.0877127, rel=1e-6)
    assert (decibel(1 - r), decibel(1 + r)) == pytest.approx((-0.797, 0.730), abs=5e-4)
    band = far_share(Stacked(0.002), Iron.NONE)
    assert band.low <= r <= band.high


def test_partials_of_a_string_over_two_poles():
    """#26: string 648, middle 150, poles 18 mm apart, n = 1 and 18: identity and direct sines."""
    string = String(0.648, 0.150)
    for n, total, difference in ((1, 6.01, -20.17), (18, 3.01, 7.78)):
        assert decibel(abs(sum_of_two(string, 0.018, n))) == pytest.approx(total, abs=0.006)
        found = abs(difference_of_two(string, 0.018, n))
        assert decibel(found) == pytest.approx(difference, abs=0.006)
        ends = [math.sin(n * math.pi * (0.150 + side * 0.009) / 0.648) for side in (-1, 1)]
        middle = math.sin(n * math.pi * 0.150 / 0.648)
        assert abs(ends[1] + ends[0]) / abs(middle) == pytest.approx(
            abs(sum_of_two(string, 0.018, n)), rel=1e-9
        )
        assert abs(ends[1] - ends[0]) / abs(middle) == pytest.approx(found, rel=1e-9)


def test_parallel_weights_by_a_nodal_matrix():
    """Two coils and their mutual term as admittances, solved apart by numpy."""
    import numpy

    one, other, mutual_h = Side(5100, 2.2), Side(4700, 2.6), -0.31
    omega = 2 * math.pi * 50
    z = numpy.array(
        [
            [one.ohm + 1j * omega * one.henry, 1j * omega * mutual_h],
            [1j * omega * mutual_h, other.ohm + 1j * omega * other.henry],
        ]
    )
    y = numpy.linalg.inv(z)
    for sources in ((1, 0), (0, 1), (1, -0.97)):
        node = (y.sum(axis=0) @ numpy.array(sources)) / y.sum()  # no current leaves the open output
        first, second = weights(PARALLEL, one, other, mutual_h, 50.0)
        assert first * sources[0] + second * sources[1] == pytest.approx(complex(node), rel=1e-12)
