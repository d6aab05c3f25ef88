"""The iron the program assumes against finite differences of the static field (``iron_field``, 0.5 mm grid).

The grid itself: a coil's mean area without iron, and an iron sphere in an even field (3 mu / (mu + 2) of the
field inside, textbook). A grid of 0.25 mm moves the factors by about one per cent.
"""

from __future__ import annotations

import numpy
import pytest
from iron_field import (
    FAR,
    HIGH_MM,
    INNER_MM,
    NEAR,
    OUTER_MM,
    Grid,
    far_shares,
    hum_factors,
)

from winder.pair.mounting import IRON_FACTS, Iron, Stacked
from winder.pair.signal import far_share

STEP_MM = 0.5
CASES = {
    Iron.MAGNETS: "rod magnet through both",
    Iron.STEEL: "steel through both",
    Iron.MAGNET_IN_ONE: "rod magnet in the near coil only",
    Iron.STEEL_IN_ONE: "steel in the near coil only",
    Iron.STEEL_PLATE: "steel through both, plate of 2 mm under the far coil",
    Iron.STEEL_IN_ONE_PLATE: "steel in the near coil, plate filling the gap",
}


def test_without_iron_a_coil_links_its_mean_area():
    grid = Grid([], STEP_MM)
    psi = grid.even_field()
    mean = (OUTER_MM**3 - INNER_MM**3) / (3 * (OUTER_MM - INNER_MM))
    for place in (NEAR, FAR):
        assert grid.linked(psi, *place) == pytest.approx(mean, rel=1e-3)


def test_a_sphere_of_iron_in_an_even_field():
    """Radius 10 mm, mu 500: 2.988 times the field inside; flux through its equator within 4 %."""
    grid = Grid([], STEP_MM)
    r = (numpy.arange(grid.rings) + 0.5) * STEP_MM
    z = -HIGH_MM + (numpy.arange(grid.rows) + 0.5) * STEP_MM
    ball = numpy.add.outer(r**2, z**2) < 100.0
    mu = numpy.where(ball, 500.0, 1.0)
    grid.nu_r = 1 / (mu * r[:, None])
    grid._matrix()
    psi = grid.even_field()
    inside = psi[round(5 / STEP_MM), round(HIGH_MM / STEP_MM)] / 25.0
    assert inside == pytest.approx(3 * 500 / 502, rel=0.04)


@pytest.mark.parametrize(("iron", "name"), CASES.items(), ids=lambda each: str(each))
def test_hum_with_iron_is_what_the_program_assumes(iron, name):
    near, far = hum_factors(name, STEP_MM)
    facts = IRON_FACTS[iron]
    assert near == pytest.approx(facts.near, rel=0.03)
    assert far == pytest.approx(facts.far, rel=0.03)


def test_a_pole_further_out_by_a_millimetre_is_the_doubt_of_equal_iron():
    near, far = hum_factors("steel through both, 1 mm further out at the top", STEP_MM)
    assert near / far - 1 == pytest.approx(IRON_FACTS[Iron.STEEL].log_doubt, abs=0.006)


@pytest.mark.parametrize(
    ("iron", "name"), [(Iron.NONE, "no iron"), *CASES.items()], ids=lambda each: str(each)
)
def test_the_far_coils_share_of_the_signal_lies_in_its_band(iron, name):
    """Two of the four string models, moment and pole, the string 3 to 5 mm above."""
    band = far_share(Stacked(0.002), iron)
    low, high = far_shares(name, STEP_MM)
    assert band.low - 0.012 <= low <= high <= band.high + 0.012
