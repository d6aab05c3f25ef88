"""Whole winds of the host program on the real binary: the count, the stop, and what a person may do.

Virtual time; the chip drives a motor with inertia, friction and a brake, and sees only its sensor. The
bounds of a stop are those of the simulated machine: 0.05 turn from 20 counts a turn on, else half a turn.
"""

from __future__ import annotations

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, TWO_EDGES, EmulatedBoard, bench
from emulator.builds import needs_cross_tools
from emulator.winding import EmulatedWind, coil_of

from winder.links.simulated_link import LineFaults, LinkFaults
from winder.recipe.model import Direction
from winder.wind.model import Certainty, Intent, Phase

pytestmark = needs_cross_tools
SLEEPING = 3  # state of the emulator's core

BENCHES = {
    "1 pulse a turn": (1, ONE_PULSE, 25),
    "4 pulses a turn": (4, ONE_PULSE, 25),
    "20 counts a turn, A and B": (20, FOUR_EDGES, 40),
    "20 counts a turn, edges of A": (20, TWO_EDGES, 40),
    "100 counts a turn, A and B": (100, FOUR_EDGES, 40),
}


def stop_bound_turns(counts_per_turn: int) -> float:
    return 0.05 if counts_per_turn >= 20 else 0.5


def assert_wound(wind: EmulatedWind, resets: int = 0) -> None:
    """Complete, the count exact and the same as what truly passed the sensor, and stood still in time."""
    board = wind.board
    truth = wind.wind.session.course.truth
    assert wind.phase is Phase.COMPLETE
    assert truth.certainty is Certainty.EXACT
    assert truth.low == abs(board.chip.true_count) == board.chip.edges
    assert not board.turning
    per_turn = board.bench.profile.counts_per_turn
    overrun = (truth.low - wind.target_counts) / per_turn
    assert 0 <= overrun <= stop_bound_turns(per_turn), f"{overrun} turns beyond the target"
    board.assert_sound(resets=resets)


@pytest.mark.parametrize("name", BENCHES)
def test_a_coil_is_wound_to_the_count(name):
    counts, sensor, turns = BENCHES[name]
    wind = EmulatedWind(EmulatedBoard(bench(counts, sensor)), coil_of(turns))
    wind.start()
    wind.to_the_end()
    assert_wound(wind)


def test_without_a_brake_it_stops_within_the_same_bounds():
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES, brake=False)), coil_of(30))
    wind.start()
    wind.to_the_end()
    assert_wound(wind)


def test_the_other_way_round_counts_up_all_the_same():
    wind = EmulatedWind(
        EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(20, direction=Direction.COUNTER_CLOCKWISE)
    )
    wind.start()
    wind.to_the_end()
    assert wind.board.chip.true_count < 0
    assert_wound(wind)


def test_planned_pauses_are_kept_and_cost_no_count():
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(30, pauses=(10, 20)))
    wind.start()
    wind.until_phase(Phase.PAUSED, within_s=30)
    assert 200 <= wind.status.count <= 201
    assert not wind.board.turning
    wind.ask(Intent.CONTINUE)
    wind.to_the_end()
    assert_wound(wind)


def test_pause_and_continue_at_any_moment():
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(40))
    wind.start()
    for _ in range(2):
        wind.live(1.2)
        wind.ask(Intent.PAUSE)
        wind.until_phase(Phase.PAUSED, within_s=5)
        assert not wind.board.turning
        assert wind.status.count == wind.board.chip.edges
        wind.ask(Intent.CONTINUE)
        wind.until_phase(Phase.WINDING, within_s=2)
    wind.to_the_end()
    assert_wound(wind)


def test_a_line_that_loses_and_bends_bytes_changes_no_turn():
    noise = LineFaults(loss=0.003, corruption=0.003)
    wind = EmulatedWind(
        EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(25), LinkFaults(7, noise, noise)
    )
    wind.start()
    wind.to_the_end()
    assert wind.wind.host_end.frames_damaged > 0, "nothing was damaged: the test proves nothing"
    assert_wound(wind)


def test_the_same_calls_give_the_same_run():
    hashes = []
    for _ in range(2):
        wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(8))
        wind.start()
        wind.to_the_end()
        hashes.append(wind.board.chip.hash)
    assert hashes[0] == hashes[1]


def test_its_memory_is_written_at_rest_only():
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(30, pauses=(10,)))
    chip = wind.board.chip
    wind.start()
    wind.until(lambda: wind.board.turning, within_s=1)
    begun = chip.ee_writes
    wind.until(lambda: not wind.board.turning, within_s=20)
    assert chip.ee_writes == begun, "written in motion"
    wind.until_phase(Phase.PAUSED, within_s=2)
    wind.live(0.3)
    assert chip.ee_writes > begun
    wind.board.assert_sound()


def test_it_sleeps_while_it_has_nothing_to_do():
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    board.run_s(0.5)
    asleep = 0
    for instant in range(1000):
        board.chip.run_until(board.chip.now + 15_000 + instant % 977)
        asleep += board.chip.state == SLEEPING
    assert asleep > 700


def test_a_second_stop_cuts_the_drive_and_the_wind_goes_on():
    """The host says the cut again and again until rest; the board comes to rest all the same."""
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(25))
    wind.start()
    wind.live(1.5)
    wind.ask(Intent.PAUSE)
    wind.live(0.05)
    wind.ask(Intent.CUT)
    wind.live(0.1)
    assert wind.board.chip.duty == 0
    wind.until_phase(Phase.PAUSED, within_s=3)
    wind.ask(Intent.CONTINUE)
    wind.until_phase(Phase.WINDING, within_s=2)
    wind.to_the_end()
    assert_wound(wind)
