"""Whatever goes wrong during a wind on the real binary: the motor is off in time, the host tells the truth.

Virtual time. "The truth" is the count that the host would show: exact only if every edge was counted, else
between bounds that hold what truly passed the sensor, with the reason.
"""

from __future__ import annotations

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, EmulatedBoard, bench
from emulator.builds import needs_cross_tools
from emulator.chip import HZ, RESET_POWER
from emulator.sensor import BOTH, Wire
from emulator.traffic import BusyHost
from emulator.winding import EmulatedWind, coil_of

from firmware_protocol.messages import LEASE_MS, Kept, Reason, State, Trip
from firmware_protocol.vocabulary import LineSpeed
from winder.errors import UserMistake, WinderError
from winder.links.simulated_link import LinkFaults
from winder.service.going_on import GoesOn
from winder.shelf.logbook import Logbook
from winder.wind.model import Certainty, Intent, Phase
from winder.wind.truth import exact

pytestmark = needs_cross_tools

WATCHDOG_S_MAX = 0.30  # 250 ms, and its oscillator is 10 % off at worst (data sheet)
TURNS = 60


def started(sensor: int = FOUR_EDGES, counts: int = 20, **more) -> EmulatedWind:
    wind = EmulatedWind(EmulatedBoard(bench(counts, sensor)), coil_of(TURNS), **more)
    wind.start()
    wind.live(1.5)
    assert wind.board.turning
    return wind


def paused(sensor: int = FOUR_EDGES) -> EmulatedWind:
    wind = started(sensor)
    wind.ask(Intent.PAUSE)
    wind.until_phase(Phase.PAUSED, within_s=5)
    return wind


def true_counts(wind: EmulatedWind) -> int:
    return wind.board.chip.true_count


def assert_holds(wind: EmulatedWind) -> None:
    truth = wind.wind.session.course.truth
    assert truth.low <= true_counts(wind) <= truth.high, (truth, true_counts(wind))


def assert_exact(wind: EmulatedWind) -> None:
    truth = wind.wind.session.course.truth
    assert (truth.certainty, truth.low) == (Certainty.EXACT, true_counts(wind))


def slowing_s(wind: EmulatedWind) -> float:
    """The plan's own time to rest from its highest speed, with room for the creep."""
    leg = wind.opened.plan.legs[0]
    return leg.speed_rpm / leg.acceleration_rpm_s + 1.0


# --- the operator and the line --------------------------------------------------------------------


def test_a_hung_screen_brings_the_spindle_to_rest_and_keeps_the_count():
    wind = started()
    silent_from = wind.clock.now_ns()
    wind.until(lambda: wind.status.state == State.SLOWING, within_s=1.3, alive=False)
    assert wind.clock.now_ns() - silent_from <= (LEASE_MS + 100) * 1_000_000
    wind.until_phase(Phase.PAUSED, within_s=slowing_s(wind), alive=False)
    assert wind.status.reason == Reason.LEASE_LOST
    wind.live(3)  # the screen lives again: nothing starts by itself
    assert not wind.board.turning
    assert_exact(wind)
    wind.ask(Intent.CONTINUE)
    wind.to_the_end()
    assert_exact(wind)
    wind.board.assert_sound()


def test_a_silent_line_stops_the_spindle_and_one_that_comes_back_tells_the_exact_count():
    wind = started()
    wind.board.cable_out = True
    wind.until_phase(Phase.UNHEARD, within_s=1.5)
    assert wind.wind.session.course.truth.certainty is Certainty.BETWEEN
    wind.live(slowing_s(wind))
    assert not wind.board.turning
    assert_holds(wind)
    wind.board.cable_out = False
    wind.until_phase(Phase.PAUSED, within_s=5)
    assert_exact(wind)
    wind.live(2)
    assert not wind.board.turning
    wind.ask(Intent.CONTINUE)
    wind.to_the_end()
    assert_exact(wind)


def test_after_a_pulled_cable_the_wind_goes_on_as_that_wind_with_the_count_that_the_board_knows():
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    logbook, coil = Logbook.in_memory(), coil_of(TURNS)
    wind = EmulatedWind(board, coil, LinkFaults(cut_at_s=3.0), logbook=logbook)
    wind.start()
    wind.until(lambda: wind.phase is Phase.UNHEARD, within_s=20)
    wind.ask(Intent.LEAVE)
    wind.until(lambda: wind.wind.finished, within_s=20)
    board.run_s(5)  # nobody is there; it comes to rest by its lease
    assert not board.turning
    assert wind.wind.session.course.truth.certainty is Certainty.BETWEEN
    assert_holds(wind)
    (row,) = logbook.coils()
    assert row.truth.low <= true_counts(wind) <= row.truth.high
    again = EmulatedWind(board, coil, seed=2, logbook=logbook, goes_on=GoesOn("1"))
    again.until_phase(Phase.PAUSED, within_s=5)
    assert again.wind.session.course.wind == wind.wind.session.course.wind
    assert_exact(again)
    again.ask(Intent.CONTINUE)
    again.to_the_end()
    assert_exact(again)


def test_the_wind_of_another_coil_gets_its_last_word_before_it_is_closed():
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    logbook = Logbook.in_memory()
    wind = EmulatedWind(board, coil_of(TURNS), LinkFaults(cut_at_s=3.0), logbook=logbook)
    wind.start()
    wind.until(lambda: wind.phase is Phase.UNHEARD, within_s=20)
    board.run_s(5)
    counts = true_counts(wind)
    EmulatedWind(board, coil_of(10), seed=2, logbook=logbook).until_phase(Phase.READY, within_s=5)
    assert logbook.coils()[0].truth == exact(counts)


def test_a_wind_that_the_logbook_does_not_know_is_closed_on_a_persons_word_only():
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    wind = EmulatedWind(board, coil_of(TURNS), LinkFaults(cut_at_s=3.0))
    wind.start()
    wind.until(lambda: wind.phase is Phase.UNHEARD, within_s=20)
    board.run_s(5)
    with pytest.raises(UserMistake, match=rf"count of {true_counts(wind)}.*--close-unknown"):
        EmulatedWind(board, coil_of(10), seed=2)
    board.run_s(2)  # until that greeting's lease is over
    closed = EmulatedWind(board, coil_of(10), seed=3, close_unknown=True)
    closed.until_phase(Phase.READY, within_s=5)


# --- resets ----------------------------------------------------------------------------------------


def drive_s(board: EmulatedBoard, seconds: float) -> float:
    """How long the drive was on in the next seconds, looked at every 100 us."""
    on, until = 0, board.chip.now + round(seconds * HZ)
    while board.chip.now < until:
        board.chip.run_until(board.chip.now + 1600)
        on += board.chip.duty > 0
    return on * 1e-4


@pytest.mark.parametrize("deaf", [False, True], ids=["interrupts on", "interrupts off"])
def test_a_program_that_hangs_in_motion_begins_anew_with_the_motor_off(deaf):
    wind = started()
    wind.board.chip.hang(interrupts_off=deaf)
    assert drive_s(wind.board, 2.0) <= WATCHDOG_S_MAX
    assert wind.board.chip.resets == deaf  # else it begins anew by itself
    wind.until(lambda: wind.wind.finished, within_s=10)
    assert wind.phase is Phase.LOST
    assert not wind.board.turning
    assert wind.wind.session.course.truth.certainty is Certainty.BETWEEN
    assert_holds(wind)
    if not deaf:  # with interrupts off nobody takes the bytes
        wind.board.assert_sound(resets=0)


def test_after_its_watchdog_the_board_is_tripped_until_a_person_clears_it():
    wind = started()
    wind.board.chip.hang()
    wind.until(lambda: wind.wind.finished, within_s=10)
    again = EmulatedWind(wind.board, coil_of(10), seed=2, close_unknown=True)
    again.until_phase(Phase.TRIPPED, within_s=5)
    assert again.status.trip == Trip.WATCHDOG
    again.live(2)
    assert not again.board.turning
    again.ask(Intent.CLEAR_TRIP)
    before = true_counts(again)
    again.start()
    again.to_the_end()
    assert again.wind.session.course.truth.low == true_counts(again) - before


def test_a_program_that_hangs_at_rest_leaves_only_the_doubt_of_a_touched_spindle():
    wind = paused()
    wind.board.chip.hang()
    wind.until(lambda: wind.wind.finished, within_s=10)
    truth = wind.wind.session.course.truth
    assert truth.certainty is Certainty.BETWEEN and truth.high - truth.low == 2 * 20
    assert_holds(wind)
    wind.ask(Intent.SETTLE_COUNT, true_counts(wind) / 20)
    assert wind.wind.session.course.truth.certainty is Certainty.VOUCHED


@pytest.mark.parametrize("held_s", [0.0, 0.6], ids=["at once", "with a boot loader's wait"])
def test_a_reset_in_motion_turns_the_motor_off_and_is_told_with_bounds(held_s):
    wind = started()
    wind.board.reset_held_s = held_s
    wind.board.reset()
    assert drive_s(wind.board, held_s + 0.5) == 0.0
    wind.until(lambda: wind.wind.finished, within_s=10)
    assert wind.phase is Phase.LOST
    assert_holds(wind)
    assert wind.wind.session.course.truth.certainty is Certainty.BETWEEN


def test_a_reset_at_rest_keeps_the_count_of_that_rest():
    wind = paused()
    wind.live(0.2)  # the record takes 15 bytes of some 4 ms
    before = wind.status
    wind.board.reset()
    wind.board.run_s(0.5)
    welcome = BusyHost(wind.board, token=9).open()
    assert welcome.boot == before.boot + 1
    assert (welcome.kept_wind, welcome.kept_count) == (before.wind, true_counts(wind))
    assert welcome.kept_flags == Kept.VALID | Kept.AT_REST


def test_power_lost_at_any_moment_of_writing_leaves_the_old_or_the_new_count():
    wind = started()
    wind.ask(Intent.PAUSE)
    wind.until_phase(Phase.PAUSED, within_s=5)
    wind.live(0.2)
    first, chip = wind.status.count, wind.board.chip
    wind.ask(Intent.CONTINUE)
    wind.until_phase(Phase.WINDING, within_s=2)
    wind.live(0.5)
    wind.ask(Intent.PAUSE)
    writes = chip.ee_writes
    wind.until(lambda: chip.ee_writes > writes, within_s=5)
    second, kept = true_counts(wind), {}
    assert second > first
    for _ in range(20):  # a byte every few milliseconds; the supply goes while one is burning
        memory, address = bytearray(chip.eeprom()), int.from_bytes(chip.peek(0x41, 2), "little")
        memory[address] = 0x3C
        kept[chip.ee_writes] = _kept_after_power_loss(wind, bytes(memory))
        wind.board.run_s(0.004)
    kept[-1] = _kept_after_power_loss(wind, chip.eeprom())
    assert kept[-1] == (second, True)
    told = set(kept.values())
    assert len(kept) > 10, "the writing was over before it was looked at"
    assert {count for count, _ in told} <= {first, second}
    # Half a record never passes for a rest: the old one says that motion began after it.
    assert all(count == second or not at_rest for count, at_rest in told)


def _kept_after_power_loss(wind: EmulatedWind, memory: bytes) -> tuple[int, bool]:
    other = EmulatedBoard(wind.board.bench)
    other.chip.burn_eeprom(memory)
    other.chip.reset(RESET_POWER)
    welcome = BusyHost(other, token=9).open()
    assert welcome.kept_flags & Kept.VALID
    assert welcome.kept_wind == wind.status.wind
    return welcome.kept_count, bool(welcome.kept_flags & Kept.AT_REST)


# --- the machine -----------------------------------------------------------------------------------


def test_an_opened_guard_cuts_the_drive_at_once_and_stays_latched():
    wind = started()
    wind.board.open_guard(True)
    assert drive_s(wind.board, 0.5) <= 0.005
    wind.until_phase(Phase.TRIPPED, within_s=1)
    assert wind.status.trip == Trip.GUARD_OPENED
    wind.until(lambda: not wind.board.turning, within_s=2)
    wind.board.open_guard(False)
    wind.live(2)
    assert not wind.board.turning
    wind.ask(Intent.CLEAR_TRIP)
    wind.until_phase(Phase.PAUSED, within_s=2)
    wind.ask(Intent.CONTINUE)
    wind.to_the_end()
    assert_exact(wind)


def test_a_lost_wire_trips():
    wind = started()
    wind.board.lose_wire(True)
    wind.until_phase(Phase.TRIPPED, within_s=1)
    assert wind.status.trip == Trip.WIRE_LOST
    wind.live(1)
    assert not wind.board.turning
    assert_holds(wind)


def test_a_spindle_held_fast_trips_and_the_count_stays_exact():
    wind = started()
    wind.board.chip.jam(1e5)
    wind.until_phase(Phase.TRIPPED, within_s=6)
    assert wind.status.trip in (Trip.STALLED, Trip.SENSOR_IMPLAUSIBLE)
    assert wind.board.chip.duty == 0
    assert wind.status.count == true_counts(wind)


def test_a_sensor_that_falls_silent_trips_before_the_spindle_ran_away():
    wind = started()
    wind.board.chip.sensor.lose(BOTH, Wire.STAYS)
    wind.until_phase(Phase.TRIPPED, within_s=6)
    wind.live(2)
    assert not wind.board.turning
    assert wind.wind.session.course.truth.certainty is Certainty.BETWEEN
    assert_holds(wind)


def test_a_spindle_turned_by_hand_at_rest_is_seen_with_a_sense_of_direction():
    wind = paused(FOUR_EDGES)
    wind.board.chip.force(-30, 15)
    wind.live(1.5)
    assert_exact(wind)
    assert wind.status.unattributed == 0


def test_a_spindle_that_rocks_at_rest_is_a_doubt_without_one():
    wind = paused(ONE_PULSE)
    count = wind.status.count
    wind.board.chip.force(30, 5)
    wind.live(1)
    assert (wind.status.count, wind.status.unattributed) == (count, 5)
    truth = wind.wind.session.course.truth
    assert (truth.low, truth.high) == (count - 5, count + 5)


# --- the line's speed ------------------------------------------------------------------------------


def test_the_wrong_line_speed_is_told_as_what_it_may_be_and_the_right_one_works():
    slow = EmulatedBoard(bench(20, FOUR_EDGES), line=LineSpeed.SLOW)
    with pytest.raises(WinderError, match="nothing on this port answers") as told:
        EmulatedWind(slow, coil_of(10))
    assert "115200" in told.value.remedy
    slow.chip.set_host_baud(115_200)
    wind = EmulatedWind(slow, coil_of(10), seed=2)
    wind.start()
    wind.to_the_end()
    assert_exact(wind)
