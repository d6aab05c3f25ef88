"""The shipped recipes, a few turns of each, on the emulated RP2040: over USB and over the serial line.

All turns of them: ``python -m tests.campaigns.rp2040_recipes``.
"""

from __future__ import annotations

import dataclasses

import pytest
from emulator.board import STEP_UM
from emulator.rp2040_board import UART, USB
from emulator.rp2040_recipes import COUNTS, Wound, shortened, wound
from emulator.rp2040_tools import needs_rp2040_tools

from tests.campaigns.rp2040_recipes import SHIPPED, WINDS
from winder.service.given_files import read_coil


@needs_rp2040_tools
@pytest.mark.parametrize(("name", "over", "turns"), [("kalimba", USB, 6), ("sensor", UART, 4)])
def test_it_is_wound_to_the_exact_turn_with_the_guide_where_it_belongs(name, over, turns):
    one = wound(shortened(read_coil(SHIPPED / f"{name}.toml"), turns), over)
    assert one.true == turns * COUNTS
    assert one.holds, one


GOOD = Wound(2, 40, 40, 40, True, True, True, 100.0, 99.0, 40, 3.0)


@pytest.mark.parametrize(
    "change",
    [
        *({"true": 41}, {"told": 39}, {"target": 60}, {"exact": False}, {"complete": False}),
        *({"at_rest": False}, {"guide_um": 99.0 + STEP_UM}, {"steps": 0}),
    ],
)
def test_one_that_is_off_does_not_hold(change):
    assert GOOD.holds and not dataclasses.replace(GOOD, **change).holds


def test_three_go_over_usb_one_over_the_serial_line_and_every_shipped_recipe_is_among_them():
    lines = [over for _, over in WINDS]
    assert lines.count(USB) >= 3 and lines.count(UART) >= 1
    assert set(SHIPPED.glob("*.toml")) <= {path for path, _ in WINDS}
