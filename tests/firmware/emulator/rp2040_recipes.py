"""A recipe wound on the emulated RP2040 by the program's own session, and how it ended; the gate and the campaign share it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from ideal_guide import ideal_place

from winder.coil.model import Coil
from winder.coil.winding import figure_coil
from winder.recipe.model import TurnsTarget
from winder.wind.loading import leg_message, legs_of_wind
from winder.wind.model import Certainty, Phase

from .board import FOUR_EDGES, STEP_UM, bench
from .rp2040_board import Rp2040Board
from .winding import EmulatedWind

COUNTS = 20  # a turn
GUIDE_STEPS = (
    0.6  # half a step, and what the whole numbers of a leg round off (test_core_traverse.py)
)
LONGEST_S = 900.0  # of the chip's time, from stop to stop


def shortened(coil: Coil, turns: int) -> Coil:
    """The same recipe with so few turns, and a pause half way."""
    short = {"target": TurnsTarget(turns), "pause_at_turns": (turns // 2,)}
    return figure_coil(dataclasses.replace(coil.recipe, **short))


@dataclass(frozen=True, slots=True)
class Wound:
    """How it ended. Counts, micrometres, steps of the guide, seconds of the chip's time."""

    turns: float
    target: int
    true: int  # by the edges that the sensor's pins showed
    told: int
    exact: bool
    complete: bool
    at_rest: bool
    guide_um: float
    due_um: float
    steps: int
    chip_s: float

    @property
    def holds(self) -> bool:
        """To the exact turn, at rest, the guide as near to where that count leads it as the core's own tests ask."""
        counted = self.exact and self.true == self.told == self.target
        guided = abs(self.guide_um - self.due_um) <= GUIDE_STEPS * STEP_UM and self.steps > 0
        return counted and guided and self.complete and self.at_rest


def wound(coil: Coil, over: str) -> Wound:
    board = Rp2040Board(bench(COUNTS, FOUR_EDGES), over)
    wind = EmulatedWind(board, coil)
    wind.start()
    began_ns = board.now_ns
    wind.to_the_end(LONGEST_S)
    chip_s = (board.now_ns - began_ns) / 1e9
    wind.live(1.0)
    board.assert_sound()
    plan, truth = wind.opened.plan, wind.wind.session.course.truth
    legs = tuple(
        leg_message(leg, number, plan, 1) for number, leg in enumerate(legs_of_wind(plan, 0, 0))
    )
    return Wound(
        coil.turns,
        wind.target_counts,
        abs(board.chip.true_count),
        truth.low,
        truth.certainty is Certainty.EXACT,
        wind.phase is Phase.COMPLETE,
        not board.turning and not board.chip.enabled,
        board.chip.guide_steps * STEP_UM,  # its mark is its place at power-up
        float(ideal_place(legs, truth.low)[0]),
        board.chip.step_times.made,
        chip_s,
    )
