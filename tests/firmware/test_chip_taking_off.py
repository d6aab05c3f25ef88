"""Turns that come off on the real binary: a coil wound long is measured, and the chip's motor turns back to the turn."""

from __future__ import annotations

import dataclasses

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, EmulatedBoard, bench
from emulator.builds import needs_cross_tools
from emulator.winding import EmulatedWind, coil_of

from winder.coil.known import coil_of as known_coil_of
from winder.recipe.model import ResistanceTarget
from winder.service.estimating import said_reading
from winder.wind.model import Certainty, Intent, Phase

pytestmark = needs_cross_tools
TARGET_OHM = 6.0  # about 35 turns of AWG 42 on 10 mm


def wound_long(counts_per_turn: int, sensor: int) -> EmulatedWind:
    recipe = dataclasses.replace(
        coil_of(1).recipe, target=ResistanceTarget(TARGET_OHM, wind_long=True)
    )
    board = EmulatedBoard(bench(counts_per_turn, sensor))
    wind = EmulatedWind(board, known_coil_of(recipe))
    wind.start()
    wind.until_phase(Phase.TAKING_OFF, within_s=60.0)
    return wind


@pytest.mark.parametrize(("counts", "sensor"), [(20, FOUR_EDGES), (4, ONE_PULSE)])
def test_the_motor_turns_back_by_what_the_reading_says(counts, sensor):
    """With a sense of direction and without: then edges count in the direction that the board drives."""
    wind = wound_long(counts, sensor)
    long_counts = wind.wind.session.course.truth.low
    assert long_counts == abs(wind.board.chip.true_count)
    ohm = wind.wind.view().ohm.end[0]
    wind.ask(Intent.MEASURED, said_reading(f"{ohm:.4f} 20"))
    off = wind.wind.view().count.off_turns
    assert off > 0
    wind.ask(Intent.TAKE_OFF, off)
    wind.until(lambda: wind.wind.view().motion.unwinds and wind.board.turning, 5.0)
    wind.until_phase(Phase.COMPLETE, within_s=60.0)
    truth = wind.wind.session.course.truth
    assert truth.certainty is Certainty.EXACT
    assert not wind.board.turning
    assert truth.low == abs(wind.board.chip.true_count)
    assert 0 <= (long_counts - off * counts) - truth.low <= max(1, counts // 20), "to the turn"
    wind.board.assert_sound()


def test_a_stop_ends_turning_back_at_once():
    wind = wound_long(20, FOUR_EDGES)
    wind.ask(Intent.MEASURED, said_reading(f"{TARGET_OHM * 2.0:.4f} 20"))
    wind.ask(Intent.TAKE_OFF, 10.0)
    wind.until(lambda: wind.board.turning, 5.0)
    wind.live(1.0)
    wind.ask(Intent.PAUSE)
    wind.until(lambda: not wind.board.turning and not wind.wind.view().motion.unwinds, 3.0)
    wind.live(0.3)
    assert wind.phase is Phase.TAKING_OFF
    assert wind.wind.session.course.truth.low == abs(wind.board.chip.true_count)
    wind.board.assert_sound()


def test_a_lost_link_ends_turning_back():
    """One second without a sign of life, and slowing down: also when unwinding."""
    wind = wound_long(20, FOUR_EDGES)
    wind.ask(Intent.TAKE_OFF, 25.0)
    wind.until(lambda: wind.board.turning, 5.0)
    wind.live(0.5)
    wind.live(2.5, alive=False)
    assert not wind.board.turning
    wind.live(0.5)
    assert wind.wind.session.course.truth.low == abs(wind.board.chip.true_count)
    wind.board.assert_sound()
