"""Recipes of every core shape and every target, wound on the emulated chip to their exact count.

The chip leads the wire, too: every step pulse of its guide is looked at, and none leads beyond the turning
points of the plan, which lie between the flanges.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from emulator.board import FOUR_EDGES, STEP_UM, EmulatedBoard, bench
from emulator.builds import needs_cross_tools
from emulator.winding import EmulatedWind

from winder.coil.window import widest_m
from winder.service.given_files import read_coil
from winder.wind.model import Certainty, Phase

pytestmark = needs_cross_tools

RECIPES = sorted((Path(__file__).parents[1] / "winds" / "recipes").glob("*.toml"))
OVERRUN_TURNS_MAX = 0.05


def test_there_are_ten():
    assert len(RECIPES) >= 10


@pytest.mark.parametrize("path", RECIPES, ids=lambda path: path.stem)
def test_the_chip_winds_it_to_its_count(path):
    coil = read_coil(path)
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil)
    wind.start()
    wind.to_the_end(within_s=120)
    truth, board = wind.wind.session.course.truth, wind.board
    assert wind.phase is Phase.COMPLETE
    assert truth.certainty is Certainty.EXACT
    assert truth.low == abs(board.chip.true_count) == board.chip.edges
    assert 0 <= truth.low / 20 - coil.turns <= OVERRUN_TURNS_MAX
    board.assert_sound(resets=0)
    assert_between_flanges(wind, widest_m(coil.recipe))
    wind.end()


def assert_between_flanges(wind: EmulatedWind, width_m: float) -> None:
    legs = [leg for leg in wind.opened.plan.legs if leg.pitch_m > 0]
    assert legs, "nothing was guided"
    places_m = [place * STEP_UM * 1e-6 for _, _, place in wind.board.chip.take_steps()]
    assert len(places_m) > 100
    half_step_m = 0.51e-6 * STEP_UM
    # It begins at its mark, which is the left flange.
    assert min(places_m) >= min(0.0, *(leg.left_m for leg in legs)) - half_step_m
    assert max(places_m) <= max(leg.right_m for leg in legs) + half_step_m
    assert min(leg.left_m for leg in legs) >= 0.0
    assert max(leg.right_m for leg in legs) <= width_m
