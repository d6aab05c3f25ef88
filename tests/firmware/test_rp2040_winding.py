"""The RP2040's shipped program in its emulator: whole winds, and whatever goes wrong in one. Virtual time, short scenes.

How fast it counts with everything on is a command: ``python tests/benchmarks/bench_rp2040.py``.
"""

from __future__ import annotations

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, TWO_EDGES, bench
from emulator.chip import RESET_POWER
from emulator.rp2040_board import GP, OUTPUTS, UART, USB, Rp2040Board
from emulator.rp2040_tools import needs_rp2040_tools
from emulator.sensor import BOTH, Wire
from emulator.traffic import BusyHost
from emulator.winding import EmulatedWind, coil_of

from firmware_protocol.messages import LEASE_MS, Kept, OpenWind, Reason, State, Trip, Verdict
from firmware_protocol.vocabulary import LineSpeed
from winder.wind.model import Certainty, Intent, Phase

pytestmark = needs_rp2040_tools
LINES = (USB, UART)
WATCHDOG_S_MAX = 0.13
COUNTS = 20


def started(line: str = USB, **settings: int) -> EmulatedWind:
    wind = EmulatedWind(Rp2040Board(bench(COUNTS, FOUR_EDGES), line, **settings), coil_of(40))
    wind.start()
    wind.live(0.8)
    assert wind.board.turning and wind.board.chip.enabled
    return wind


def assert_exact(wind: EmulatedWind) -> None:
    truth = wind.wind.session.course.truth
    assert (truth.certainty, truth.low) == (Certainty.EXACT, wind.board.chip.true_count)


@pytest.mark.parametrize("line", LINES)
def test_it_greets_as_what_it_is(line):
    board = Rp2040Board(bench(COUNTS, FOUR_EDGES), line)
    welcome = BusyHost(board).open()
    assert (welcome.board, welcome.boot) == ("rp2040", 1)
    assert welcome.groups == bytes((1, 1, 1, 1, 0, 1))
    board.assert_sound()


def test_a_serial_line_of_another_speed_is_not_understood():
    board = Rp2040Board(bench(COUNTS, FOUR_EDGES), UART, line=LineSpeed.SLOW)
    with pytest.raises(AssertionError, match="no welcome"):
        BusyHost(board).open()
    board.chip.set_host_baud(115_200)
    assert BusyHost(board).open().board == "rp2040"


@pytest.mark.parametrize(("line", "turns"), [(USB, 8), (UART, 4)])
def test_a_coil_is_wound_to_the_exact_turn(line, turns):
    wind = EmulatedWind(Rp2040Board(bench(COUNTS, FOUR_EDGES), line), coil_of(turns))
    wind.start()
    wind.to_the_end()
    assert wind.board.chip.true_count == wind.board.chip.edges == wind.target_counts
    assert_exact(wind)
    assert not wind.board.turning
    assert wind.board.chip.guide_steps != 0
    times = wind.board.chip.drive_times
    assert times.overlaps == 0 and times.drives > 0 and times.brakes > 0
    wind.live(0.3)
    wind.board.assert_sound()


@pytest.mark.parametrize(("counts", "sensor"), [(4, ONE_PULSE), (20, TWO_EDGES)])
def test_the_other_sensors_wind_to_the_exact_turn_too(counts, sensor):
    wind = EmulatedWind(Rp2040Board(bench(counts, sensor)), coil_of(4))
    wind.start()
    wind.to_the_end()
    assert wind.board.chip.true_count == wind.target_counts
    assert_exact(wind)
    wind.board.assert_sound()


def test_a_pause_a_cut_and_a_lost_lease_bring_it_to_rest_with_the_exact_count():
    wind = started()
    wind.ask(Intent.PAUSE)
    wind.live(0.05)
    wind.ask(Intent.CUT)
    wind.live(0.1)
    assert not wind.board.chip.enabled
    wind.until_phase(Phase.PAUSED, within_s=3)
    assert_exact(wind)
    wind.ask(Intent.CONTINUE)
    wind.until_phase(Phase.WINDING, within_s=2)
    wind.live(0.8)
    silent_from = wind.clock.now_ns()
    wind.until(lambda: wind.status.state == State.SLOWING, within_s=1.3, alive=False)
    assert wind.clock.now_ns() - silent_from <= (LEASE_MS + 100) * 1_000_000
    wind.until_phase(Phase.PAUSED, within_s=4, alive=False)
    assert wind.status.reason == Reason.LEASE_LOST
    assert_exact(wind)
    wind.board.assert_sound()


TRIPS = {
    "the guard opens": (lambda board: board.open_guard(True), Trip.GUARD_OPENED, 0.005),
    "the wire breaks": (lambda board: board.lose_wire(True), Trip.WIRE_LOST, 0.1),
    "both channels are lost": (lambda board: board.chip.sensor.lose(BOTH, Wire.STAYS), Trip.STALLED, 1.5),
    "channel A is lost": (lambda board: board.chip.sensor.lose(1), Trip.SENSOR_IMPLAUSIBLE, 0.3),
}  # fmt: skip


@pytest.mark.parametrize("what", TRIPS)
def test_a_trip_takes_the_drive_away(what):
    happens, trip, within_s = TRIPS[what]
    wind = started()
    happens(wind.board)
    from_ns = wind.board.now_ns
    wind.until(lambda: not wind.board.chip.enabled, within_s=within_s + 0.1)
    assert wind.board.chip.drive_off_ns - from_ns <= within_s * 1e9
    wind.until(lambda: not wind.board.turning, within_s=4)
    wind.live(0.3)
    assert (wind.status.state, wind.status.trip) == (State.TRIPPED, trip)
    truth = wind.wind.session.course.truth
    assert truth.low <= wind.board.chip.true_count <= truth.high
    wind.board.assert_sound()


def test_a_shorted_switch_opens_the_contactor():
    wind = started()
    wind.board.chip.disobey(shorted=True)
    wind.ask(Intent.PAUSE)
    wind.until(lambda: wind.board.chip.contactor_open, within_s=12)
    wind.until(lambda: not wind.board.turning, within_s=4)
    wind.live(0.2)
    assert wind.status.trip in (Trip.NOT_STOPPED, Trip.TURNED_UNDRIVEN)


def floats(board: Rp2040Board) -> bool:
    return all(board.chip.output(GP[name]) is None for name in OUTPUTS)


def test_after_a_reset_in_motion_it_is_off_tripped_and_in_doubt():
    wind = started()
    board = wind.board
    board.cable_out = True
    board.chip.reset(RESET_POWER, held_s=0.05)
    board.chip.run_s(0.04)
    assert floats(board), "in reset every output floats"
    board.run_s(3)
    board.cable_out = False
    welcome = (host := BusyHost(board, token=99)).open()
    assert welcome.boot == 2
    assert (host.status.state, host.status.trip) == (State.TRIPPED, Trip.RESET_IN_MOTION)
    assert not board.chip.enabled and not board.turning
    assert not welcome.kept_flags & Kept.AT_REST, "a count that nobody saw at rest"
    board.assert_sound(resets=1)


def test_a_program_that_hangs_is_ended_by_the_watchdog():
    wind = started()
    board = wind.board
    board.cable_out = True
    board.chip.hang(interrupts_off=True)
    board.run_s(WATCHDOG_S_MAX)
    assert board.chip.resets == 1 and not board.chip.enabled
    assert floats(board)
    board.run_s(3)
    board.cable_out = False
    host = BusyHost(board, token=99)
    assert host.open().boot == 2
    assert (host.status.state, host.status.trip) == (State.TRIPPED, Trip.WATCHDOG)
    assert not board.turning
    board.assert_sound(resets=1)


@pytest.mark.parametrize("sensor", [FOUR_EDGES, TWO_EDGES, ONE_PULSE])
def test_at_twice_the_claimed_rate_no_count_is_lost(sensor):
    """At rest, by hand, with talk on the line: the interrupts alone."""
    times = {"bounce_us": 0, "least_period_us": 0, "filter_us": 0} if sensor == ONE_PULSE else {}
    board = Rp2040Board(bench(COUNTS, sensor), **times)
    host = BusyHost(board, commands_per_s=20)
    rate_cps = 2 * host.open().edge_rate_max_cps
    assert host.ask(OpenWind(0, 0, 0, 1)) is Verdict.DONE
    board.chip.force(rate_cps, round(rate_cps * 0.02))
    host.live(0.15)
    assert board.chip.edges == round(rate_cps * 0.02)
    assert host.status.count + host.status.unattributed == board.chip.edges
    board.assert_sound()


def test_the_stack_is_measured_by_what_it_touched():
    board = Rp2040Board(bench(COUNTS, FOUR_EDGES))
    board.run_s(0.3)
    free = board.chip.stack_free()
    assert 0 < board.chip.stack_used() < 4096
    assert free + board.chip.stack_used() == 256 * 1024 - board.binary.variables_end + 0x2000_0000
    board.chip.call("poke", board.binary.variables_end + 1000, 0)
    assert board.chip.stack_free() == 1000
