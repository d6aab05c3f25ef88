"""The lay by itself is the lay of the whole rehearsal, and the plan's edges hold on any small bobbin."""

from __future__ import annotations

import dataclasses

import pytest
from workshop_recipes import short_recipe

from winder.coil.model import Coil
from winder.coil.winding import figure_coil
from winder.laboratory.lay_trial import BARE, BY_HAND, PLANNED, SCATTERED, lay_trial
from winder.machine.model import SIMULATED_BENCH
from winder.recipe.model import (
    AwgWire,
    Direction,
    ObroundCore,
    Recipe,
    RoundCore,
    RoundedRectangleCore,
    TurnsTarget,
)
from winder.service.rehearsal import rehearse, report_of


def invented(core, width_m: float, turns: int, gauge: int = 42) -> Coil:
    return figure_coil(
        Recipe(
            name="kalimba",
            note="invented",
            wire=AwgWire(gauge, "single"),
            core=core,
            width_m=width_m,
            height_m=0.05,
            target=TurnsTarget(turns),
            direction=Direction.CLOCKWISE,
        )
    )


def trial(coil: Coil, machine=SIMULATED_BENCH, seed: int = 1) -> dict[str, dict[str, float]]:
    return {told["lay"]: told for told in lay_trial(coil, machine, seed)["lays"]}


@pytest.mark.parametrize(
    "machine", [SIMULATED_BENCH, dataclasses.replace(SIMULATED_BENCH, traverse_travel_m=None)]
)
def test_the_lay_alone_is_that_of_the_whole_rehearsal(machine):
    """Without spindle and time the same turns lie on the same places; no hand knows the stops."""
    coil = short_recipe(turns=700)
    laid = trial(coil, machine, seed=9)[PLANNED if machine.traverse_travel_m else BY_HAND]
    whole = report_of(rehearse(coil, machine, 9))
    assert laid["unevenness"] == pytest.approx(whole["lay"]["unevenness"], rel=1e-9)
    assert laid["edge_share"] == pytest.approx(whole["lay"]["edge_share"], rel=1e-9)
    wound = whole["resistance_ohm_20c"]["wound"]
    assert laid["resistance_ohm_20c"] == pytest.approx(wound, rel=1e-9)


CORES = {
    "round": RoundCore(0.010),
    "small round": RoundCore(0.005),
    "long": ObroundCore(0.066, 0.006),
    "rectangle": RoundedRectangleCore(0.020, 0.010, 0.001),
}


@pytest.mark.parametrize("core", CORES.values(), ids=CORES.keys())
@pytest.mark.parametrize("width_mm", [3.7, 5.0, 6.4, 9.1])
def test_the_edge_is_as_high_as_the_middle_on_any_core_and_width(core, width_mm):
    coil = invented(core, width_mm * 1e-3, turns=int(width_mm * 500))
    told = trial(coil)
    assert 0.95 <= told[PLANNED]["edge_share"] <= 1.1
    assert told[BARE]["edge_share"] < told[PLANNED]["edge_share"] - 0.1
    assert 0.9 <= told[SCATTERED]["edge_share"] <= 1.1
    assert told[PLANNED]["unevenness"] < min(0.08, told[BARE]["unevenness"])


@pytest.mark.parametrize("counts", [1, 2, 4, 100])
def test_few_counts_a_turn_leave_the_edge_where_it_should_be(counts):
    machine = dataclasses.replace(SIMULATED_BENCH, counts_per_turn=counts)
    told = trial(invented(RoundCore(0.010), 0.006, turns=3000), machine)
    assert 0.9 <= told[PLANNED]["edge_share"] <= 1.15


def test_a_far_guide_lays_worse_than_a_near_one():
    coil = invented(RoundCore(0.005), 0.005, turns=2500)
    near, far = (
        trial(coil, dataclasses.replace(SIMULATED_BENCH, free_length_m=free_m))[PLANNED][
            "unevenness"
        ]
        for free_m in (0.03, 0.15)
    )
    assert far > 1.5 * near
