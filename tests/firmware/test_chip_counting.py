"""How fast the real binary counts: without loss to twice what it claims, and never wrong in silence beyond.

Every figure is a run in virtual time at full traffic (``emulator/limits.py``); `tests/benchmarks/bench_chip.py`
prints where the first count is lost.
"""

from __future__ import annotations

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, TWO_EDGES, EmulatedBoard, bench, times_of
from emulator.builds import FLASH_BYTES, RAM_BYTES, firmware, needs_cross_tools
from emulator.limits import first_loss_cps, run_at, smallest_counts_all
from emulator.traffic import BusyHost
from emulator.winding import EmulatedWind, coil_of

from firmware_protocol.messages import Move, OpenWind, Trip, Verdict
from winder.wind.model import Certainty, Phase

pytestmark = needs_cross_tools
RATE_LEAST_CPS = 20_000
EDGE_VECTORS = (1, 2)
BEYOND_CPS = 100_000  # edges take all of the chip's time


def claim(sensor: int = FOUR_EDGES, **settings: int) -> int:
    board = EmulatedBoard(bench(4, sensor), **settings)
    return BusyHost(board).open().edge_rate_max_cps


def test_no_count_is_lost_at_twice_the_claimed_rate_at_full_traffic():
    assert claim() >= RATE_LEAST_CPS / 2
    run = run_at(2 * claim())
    assert run.lossless, run
    assert run.injected > 2 * claim()
    assert run.answered > 40
    assert run.steps > 5000, "the guide hardly moved: the test proves too little"
    run.board.assert_sound_but_for_overruns()


def test_the_fastest_guide_that_can_be_set_costs_no_count_either():
    run = run_at(2 * claim(), steady_s=0.5, steps_a_ms=20)
    assert run.lossless, run
    assert run.steps > 10_000
    times = run.board.chip.step_times  # drivers want 1 to 2 us (common practice, no source)
    assert min(times.high_least_us, times.set_up_least_us) >= 4
    run.board.assert_sound_but_for_overruns()


@pytest.mark.parametrize(
    ("sensor", "filter_us"), [(ONE_PULSE, 4), (ONE_PULSE, 31), (TWO_EDGES, 0), (FOUR_EDGES, 10)]
)
def test_other_sensors_and_filters_keep_their_claims_too(sensor, filter_us):
    claimed = claim(sensor, filter_us=filter_us)
    run = run_at(2 * claimed, sensor=sensor, steady_s=0.5, filter_us=filter_us)
    assert run.lossless, run


def test_at_the_claimed_rate_not_even_a_byte_is_lost():
    run = run_at(claim())
    assert run.lossless and run.overruns == 0 and run.resent == 0
    run.board.assert_sound()


def test_lost_bytes_are_sent_again_and_cost_no_count():
    run = run_at(RATE_LEAST_CPS, lose_every=41)
    assert run.resent > 0, "nothing was lost: the test proves nothing"
    assert run.lossless


def test_the_claim_is_at_most_half_of_the_first_loss_and_the_loss_is_told():
    run = first_loss_cps(2 * claim(), step_cps=10_000)
    print(f"first loss at {run.rate_cps} counts/s: {run.counted} of {run.injected}")
    assert claim() <= run.rate_cps / 2
    assert run.tripped == Trip.SENSOR_IMPLAUSIBLE


@pytest.mark.parametrize("rate_cps", [70_000, 90_000, 110_000])
def test_beyond_the_limit_the_count_is_never_wrong_in_silence(rate_cps):
    run = run_at(rate_cps, steady_s=0.3)
    assert run.lossless or run.tripped != Trip.NONE


def test_the_board_refuses_to_drive_faster_than_it_counts():
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    host = BusyHost(board)
    welcome = host.open()
    assert welcome.rate_max_mcps <= welcome.edge_rate_max_cps * 1000
    assert host.ask(OpenWind(0, 0, 0, 1)) is Verdict.DONE
    move = Move(0, 0, 0, 0, 1000, welcome.rate_max_mcps + 1, 1_000_000)
    assert host.ask(move) is Verdict.BAD_VALUE


def at_rest_with_a_wind() -> BusyHost:
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    host = BusyHost(board, commands_per_s=20)
    host.open()
    assert host.ask(OpenWind(0, 0, 0, 1)) is Verdict.DONE
    return host


def test_edges_missed_at_rest_are_a_doubt_of_so_many_counts():
    host = at_rest_with_a_wind()
    chip = host.board.chip
    chip.force(BEYOND_CPS, BEYOND_CPS // 10)  # shorter than the watchdog waits
    host.live(0.6)
    missing = chip.true_count - host.status.count
    assert missing > 0, "nothing was missed: the test proves nothing"
    assert host.status.unattributed >= missing


def test_edges_that_leave_no_time_for_the_program_end_in_its_watchdog_and_a_trip():
    host = at_rest_with_a_wind()
    before = host.status.boot
    host.board.chip.force(BEYOND_CPS, BEYOND_CPS // 3)
    host.board.run_s(0.8)
    again = BusyHost(host.board, token=9)
    again.open()
    assert again.status.boot > before
    assert (again.status.wind, again.status.trip) == (0, Trip.WATCHDOG)


@pytest.mark.parametrize("width_us", [1, 8, 60])
def test_disturbances_at_rest_leave_the_count_where_it_was(width_us):
    host = at_rest_with_a_wind()
    board = host.board
    board.chip.sensor.disturb(width_us, 1137)
    host.live(1.2)
    board.chip.sensor.calm()
    host.live(0.2)
    assert board.chip.disturbances > 800
    assert (host.status.count, host.status.unattributed) == (0, 0)


@pytest.mark.parametrize("width_us", [1, 8, 60, 400])
def test_disturbances_in_motion_are_counted_rightly_or_trip(width_us):
    """A disturbance of A across an edge of B looks like three edges backward: no decoder can tell."""
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(40))
    wind.start()
    wind.board.chip.sensor.disturb(width_us, 1137)
    wind.until_phase(Phase.TRIPPED, Phase.COMPLETE, within_s=30)
    wind.board.chip.sensor.calm()
    wind.live(1)
    truth = wind.wind.session.course.truth
    assert truth.low <= wind.board.chip.true_count <= truth.high
    if wind.phase is Phase.TRIPPED:
        assert wind.status.trip == Trip.SENSOR_IMPLAUSIBLE
        assert truth.certainty is Certainty.BETWEEN


def test_a_pulse_sensor_ignores_what_is_shorter_than_its_filter():
    board = EmulatedBoard(bench(1, ONE_PULSE), filter_us=31)
    host = BusyHost(board, commands_per_s=20)
    host.open()
    assert host.ask(OpenWind(0, 0, 0, 1)) is Verdict.DONE
    board.chip.sensor.disturb(15, 911)
    host.live(1)
    assert board.chip.disturbances > 900
    assert (host.status.count, host.status.unattributed) == (0, 0)


def test_the_interrupts_leave_room_at_the_claimed_rate():
    run = run_at(claim(), steady_s=0.3)
    period = 16_000_000 / claim()
    for vector in EDGE_VECTORS:
        assert run.board.chip.vector(vector).calls > 1000
        assert run.board.chip.vector(vector).most < period / 2
    assert run.latency_cycles < period


def test_it_fits_beside_a_boot_loader_with_room_to_spare():
    """2 KB of loader and 512 bytes to spare (docs/decisions/032); what of memory stays free, every wind looks at."""
    for port in ("atmega328p", "smallest"):
        binary = firmware(port)
        print(f"{port}: {binary.flash} bytes of flash, {binary.variables} of memory")
        assert binary.flash <= FLASH_BYTES - 2048 - 512
        assert binary.variables < 0.85 * RAM_BYTES


def test_the_counter_only_board_keeps_its_claim_twice_over():
    board = EmulatedBoard(bench(1, ONE_PULSE), "smallest", **times_of(20_000_000))
    welcome = BusyHost(board).open()
    assert smallest_counts_all(2 * welcome.edge_rate_max_cps)
