"""What can be broken at the emulated machine is truly broken there: looked at at the pins, not by the firmware.

Programs of a few lines take the firmware's place where only the chip and its pins are asked.
"""

from __future__ import annotations

import itertools

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE
from emulator.builds import built, digest_of, harness, needs_cross_tools, run
from emulator.chip import PAINT, RESET_DIP, RESET_PIN, RESET_POWER, EmulatedChip
from emulator.loaders import LARGE_AT, SMALL_AT, large_loader, needs_loaders, small_loader
from emulator.sensor import BOTH, FALLING, RISING, A, B, Wire

pytestmark = needs_cross_tools

PIND, GPIOR0, GPIOR2 = 0x29, 0x3E, 0x4B
CPS = 100.0  # counts a second
HEAD = """#include <avr/io.h>
#include <avr/wdt.h>
#define FOR(cycles) __builtin_avr_delay_cycles(cycles)
uint8_t cause __attribute__((section(".noinit")));
void first(void) __attribute__((naked, used, section(".init3")));
void first(void) { GPIOR0 = MCUSR; GPIOR1++; MCUSR = 0; wdt_disable(); }
"""


def program(text: str) -> EmulatedChip:
    """A chip that runs so few lines of C."""

    def make(folder):
        (folder / "small.c").write_text(HEAD + text)
        words = ["avr-gcc", "-mmcu=atmega328p", "-Os", "-DF_CPU=16000000UL"]
        run([*words, str(folder / "small.c"), "-o", str(folder / "small.elf")])

    folder = built("probe", digest_of([], HEAD, text), make)
    chip = EmulatedChip(harness(), folder / "small.elf", 0x200)
    chip.build_spindle(FOUR_EDGES, 1000.0, 1000.0, 1000.0, 10.0, 0.0, 100.0)
    return chip


IDLE = "int main(void) { for (;;) ; }"


def levels(chip: EmulatedChip, seconds: float, step: int = 16) -> list[tuple[int, int]]:
    """Changes of both pins: cycle, and levels of A (bit 0) and B (bit 1)."""
    seen, until = [(chip.now, chip.peek(PIND)[0] >> 2 & 3)], chip.now + round(seconds * 16e6)
    while chip.now < until:
        chip.run_until(chip.now + step)
        now = chip.peek(PIND)[0] >> 2 & 3
        if now != seen[-1][1]:
            seen.append((chip.now, now))
    return seen


def rises(seen: list[tuple[int, int]], channel: int) -> list[int]:
    pairs = itertools.pairwise(seen)
    return [at for (_, before), (at, now) in pairs if now & channel and not before & channel]


# --- the sensor ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("edges", "changes"), [(RISING | FALLING, 2 * (1 + 6)), (RISING, 1 + 6 + 1), (0, 2)]
)
def test_every_edge_bounces_as_often_and_as_long_as_asked(edges, changes):
    chip = program(IDLE)
    chip.sensor.bounce(3, 50, edges)
    chip.force(CPS, 4)  # one period: A rises and falls once
    seen = [(at, now & A) for at, now in levels(chip, 0.06)]
    of_a = [one for before, one in itertools.pairwise(seen) if before[1] != one[1]]
    assert len(of_a) == changes
    if edges & RISING:
        gaps = [b[0] - a[0] for a, b in itertools.pairwise(of_a[:7])]
        assert all(abs(gap - 800) <= 32 for gap in gaps)


@pytest.mark.parametrize(("wire", "level"), [(Wire.HIGH, A), (Wire.LOW, 0)])
def test_a_lost_channel_keeps_its_level_while_the_spindle_turns(wire, level):
    chip = program(IDLE)
    chip.sensor.lose(A, wire)
    chip.force(CPS, 8)
    seen = levels(chip, 0.1)
    assert {now & A for _, now in seen[1:]} == {level}
    assert len(rises(seen, B)) == 2 and chip.true_count == 8


def test_a_wire_that_is_found_again_shows_the_true_level():
    chip = program(IDLE)
    chip.sensor.lose(BOTH, Wire.STAYS)
    chip.force(CPS, 2)
    assert len(levels(chip, 0.05)) == 1
    chip.sensor.lose(BOTH, Wire.THERE)
    assert chip.peek(PIND)[0] >> 2 & 3 == A | B


def test_exchanged_channels_turn_the_order_round():
    orders = []
    for exchanged in (False, True):
        chip = program(IDLE)
        chip.sensor.exchange(exchanged)
        chip.force(CPS, 4)
        orders.append([now for _, now in levels(chip, 0.06)])
    assert orders == [[0, A, A | B, B, 0], [0, B, A | B, A, 0]]


def test_a_disturbance_lasts_as_long_as_asked_and_comes_as_often():
    chip = program(IDLE)
    chip.sensor.disturb(200, 1000, channels=B, after_us=300, times=3)
    seen = levels(chip, 0.01)
    assert [now for _, now in seen] == [0, B] * 3 + [0]
    widths = [seen[i + 1][0] - seen[i][0] for i in (1, 3, 5)]
    assert all(abs(width - 3200) <= 32 for width in widths) and chip.disturbances == 3


def test_a_scattered_storm_reaches_either_channel_and_both():
    chip = program(IDLE)
    chip.sensor.seed(7)
    chip.sensor.disturb(100, 500, channels=BOTH, times=60, scattered=True)
    seen = levels(chip, 0.1)
    assert {now for _, now in seen} == {0, A, B, A | B}
    assert len({seen[i + 1][0] - seen[i][0] for i in range(1, 40, 2)}) > 10


def test_marks_that_are_uneven_come_unevenly():
    chip = program(IDLE)
    chip.build_spindle(ONE_PULSE, 1.0, 1.0, 1.0, 10.0, 0.0, 0.0)
    chip.sensor.bend([0.0, 0.1, 0.6, 0.7])
    chip.force(CPS, 9)
    at = rises(levels(chip, 0.12), A)[1:]
    gaps = [(b - a) / 160_000 for a, b in itertools.pairwise(at)]
    assert gaps[:4] in (
        pytest.approx([1.3, 0.7, 1.3, 0.7], abs=1e-3),
        pytest.approx([0.7, 1.3, 0.7, 1.3], abs=1e-3),
    )


def test_channels_stand_apart_and_stay_high_as_asked():
    chip = program(IDLE)
    wide, late = 0.2, 70 / 90 - 1
    chip.sensor.bend([late + wide, -wide, late - wide, wide])
    chip.force(CPS, 12)
    seen = levels(chip, 0.14)
    a, b = rises(seen, A), rises(seen, B)
    falls = [at for (_, x), (at, y) in itertools.pairwise(seen) if x & A and not y & A]
    period = a[2] - a[1]
    assert (b[1] - a[1]) / period * 360 == pytest.approx(70, abs=0.5)
    assert (falls[1] - a[1]) / period == pytest.approx(0.6, abs=1e-3)


# --- the motor -------------------------------------------------------------------------------------

DRIVE = """int main(void) {
    DDRB = 7; PORTB = 3; FOR(1600000); PORTB = 4; FOR(1600000); PORTB = 0; for (;;) ;
}"""


def test_a_shorted_switch_drives_whatever_is_asked_and_a_contactor_takes_its_supply():
    chip = program("int main(void) { DDRC = PORTC = 1; FOR(8000000); PORTC = 0; for (;;) ; }")
    chip.wire_outputs(contactor=(0x28, 1))
    chip.disobey(shorted=True)
    chip.run_s(0.45)
    assert chip.duty == 0 and chip.push == 1000 and chip.speed_cps > 100
    chip.run_s(0.2)
    assert chip.contactor_open and chip.push == 0


def test_a_late_motor_obeys_late():
    chip = program(DRIVE)
    chip.disobey(late_s=0.06)
    on = []
    while chip.now < 0.3 * 16e6:
        chip.run_until(chip.now + 1600)
        if (chip.push > 0) != bool(len(on) % 2):
            on.append(chip.now / 16e6)
    assert on == pytest.approx([0.06, 0.16], abs=5e-4)


def test_a_belt_takes_the_spindle_back_and_forward_again():
    chip = program(DRIVE)
    chip.set_character(rock_counts=2.5, rock_s=0.1)
    chip.run_s(0.12)
    while chip.speed_cps:
        chip.run_until(chip.now + 1600)
    stopped = chip.place
    chip.run_s(0.05)
    assert chip.place == pytest.approx(stopped - 2.5, abs=0.02)
    chip.run_s(0.06)
    assert chip.place == pytest.approx(stopped, abs=0.02)


@pytest.mark.parametrize(("stiction", "turns"), [(0.0, True), (1e4, False)])
def test_a_sticky_spindle_needs_more_to_start(stiction, turns):
    chip = program(DRIVE)
    chip.set_character(stiction=stiction)
    chip.run_s(0.05)
    assert (chip.speed_cps > 0) == turns


def test_the_highest_speed_is_remembered_until_it_is_asked():
    chip = program(DRIVE)
    chip.run_s(0.15)
    peak = chip.take_peak_cps()
    assert peak > chip.speed_cps > 0
    assert chip.take_peak_cps() == chip.speed_cps


# --- drive and brake -------------------------------------------------------------------------------


def test_an_overlap_of_drive_and_brake_is_seen_to_the_cycle():
    chip = program(
        "int main(void) { DDRB = 7; PORTB = 3; FOR(500); PORTB = 7; FOR(100); PORTB = 4; for (;;) ; }"
    )
    chip.run_s(0.01)
    times = chip.drive_times
    assert times.overlaps == 1 and abs(times.overlap_most - 100) <= 4


def test_the_least_gap_between_them_is_seen_to_the_cycle():
    chip = program(
        "int main(void) { DDRB = 7; PORTB = 3; FOR(500); PORTB = 0; FOR(80); PORTB = 4; FOR(500);"
        " PORTB = 0; FOR(300); PORTB = 3; FOR(500); PORTB = 0; FOR(900); PORTB = 4; for (;;) ; }"
    )
    chip.run_s(0.01)
    times = chip.drive_times
    assert times.overlaps == 0 and (times.drives, times.brakes) == (2, 2)
    assert abs(times.drive_to_brake - 80) <= 4 and abs(times.brake_to_drive - 300) <= 4


def test_a_pin_with_its_pulse_width_connected_counts_as_on():
    chip = program(
        "int main(void) { DDRB = 7; PORTB = 1; TCCR1A = _BV(COM1A1); FOR(200); PORTB = 5;"
        " FOR(60); TCCR1A = 0; for (;;) ; }"
    )
    chip.run_s(0.01)
    assert chip.drive_times.overlaps == 1 and abs(chip.drive_times.overlap_most - 60) <= 6


def test_outputs_that_are_on_while_low_are_read_so():
    chip = program(
        "int main(void) { PORTB = 7; DDRB = 7; PORTB = 4; FOR(500); PORTB = 7; FOR(70); PORTB = 3; for (;;) ; }"
    )
    chip.wire_outputs(0x07)
    chip.run_s(0.01)
    assert chip.drive_times.overlaps == 0 and abs(chip.drive_times.drive_to_brake - 70) <= 4


# --- resets and boot loaders -----------------------------------------------------------------------

HANGS = "int main(void) { PORTB = 1; wdt_enable(WDTO_30MS); for (;;) ; }"


def test_a_dip_keeps_memory_and_a_power_cut_does_not():
    chip = program("int main(void) { GPIOR2 = cause; cause = 0x77; for (;;) ; }")
    found = []
    for reset in (RESET_POWER, RESET_DIP, RESET_PIN, RESET_POWER):
        chip.reset(reset)
        chip.run_s(0.001)
        found.append((chip.peek(GPIOR0)[0], chip.peek(GPIOR2)[0]))
    assert found == [(1, PAINT), (4, 0x77), (2, 0x77), (1, PAINT)]


WATCHED = """#include <avr/interrupt.h>
ISR(WDT_vect) { GPIOR2 = 9; wdt_disable(); for (;;) ; }
int main(void) { wdt_enable(WDTO_30MS); WDTCSR |= _BV(WDIE); LISTEN; for (;;) ; }
"""


def test_a_watchdog_interrupts_a_program_that_listens():
    chip = program(WATCHED.replace("LISTEN", "sei()"))
    chip.run_s(0.2)
    assert chip.resets == 0 and chip.peek(GPIOR2)[0] == 9


def test_a_watchdog_whose_interrupt_did_not_run_resets_at_its_second_time_out():
    chip = program(WATCHED.replace("LISTEN", "cli()"))
    while not chip.resets:
        chip.run_s(0.001)
    assert chip.now / 16e6 == pytest.approx(2 * 0.032, abs=0.003)
    chip.run_s(0.001)
    assert chip.peek(GPIOR0)[0] & 8 and chip.peek(GPIOR2)[0] == 0


@needs_loaders
@pytest.mark.parametrize(
    ("loader", "at", "cause"),
    [(None, 0, 2), (small_loader, SMALL_AT, 0), (large_loader, LARGE_AT, 2)],
)
def test_resets_begin_in_a_boot_loader_and_reach_the_program(loader, at, cause):
    chip = program(IDLE)
    if loader:
        one = loader()
        assert one.at == at
        chip.place_program(at, one.data, boots=True)
    chip.reset(RESET_PIN)
    assert chip.pc == at
    chip.run_s(3)
    assert 0 < chip.pc < 0x400, "the program never began"
    assert chip.peek(GPIOR0)[0] == cause  # the small one takes it


@needs_loaders
@pytest.mark.parametrize(("loader", "starts"), [(small_loader, True), (large_loader, False)])
def test_a_watchdog_that_bit_under_a_boot_loader(loader, starts):
    """The large kind leaves the watchdog on, at its shortest, and waits longer than that."""
    chip = program(HANGS)
    one = loader()
    chip.place_program(one.at, one.data, boots=True)
    chip.reset(RESET_POWER)
    chip.run_s(2)
    resets, began = chip.resets, 0
    for _ in range(400):
        chip.run_s(0.001)
        began += chip.pc < 0x400
    assert chip.resets > resets + 5
    assert (began > 0) == starts
