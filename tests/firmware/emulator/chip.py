"""The emulated chip from Python: one ATmega328P that runs the unmodified binary in virtual time.

Test only: it loads a library that links libsimavr (GPL-3-or-later); nothing of it is shipped. Times
are cycles of the chip, 16 a microsecond. What the emulator takes for a failure of the program
(sleep with interrupts off, an opcode that does not exist) raises here.
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass
from pathlib import Path

from .library import DOUBLE, U64, load
from .sensor import SensorFaults

HZ = 16_000_000
PAINT = 0xA5
RAM_FIRST, RAM_LAST = 0x100, 0x8FF
EEPROM_BYTES = 1024
CPU_DONE, CPU_CRASHED = 6, 7
RESET_POWER, RESET_PIN, RESET_DIP = 1, 2, 4  # MCUSR of its data sheet: PORF, EXTRF, BORF

VECTOR_NAMES = {
    1: "INT0, sensor A",
    2: "INT1, sensor B",
    6: "watchdog",
    7: "timer 2 compare, half a step of the guide",
    11: "timer 1 compare",
    14: "timer 0 compare, 1 ms",
    16: "timer 0 overflow",
    18: "USART byte received",
    19: "USART ready for a byte",
    22: "EEPROM ready",
}

# In the order of chip_get().
_WHAT = [
    *("now", "edges", "count", "hash", "overruns", "resets", "state", "duty", "brake", "enabled"),
    *(
        "disturbances",
        "ee_writes",
        "ee_too_soon",
        "latency",
        "bytes_in",
        "bytes_out",
        "phases_left",
    ),
    *("bounces", "push", "contactor_open", "moved_at", "shorts", "pc"),
]


@dataclass(frozen=True, slots=True)
class VectorTimes:
    """What one interrupt took, in cycles, entry included, up to its return."""

    calls: int
    least: int
    most: int
    mean: float


class StepMade(ctypes.Structure):
    """One step of the guide: cycle, place of the spindle (counts), place of the guide after it (steps)."""

    _fields_ = (("at", U64), ("spindle", DOUBLE), ("place", ctypes.c_int64))


@dataclass(frozen=True, slots=True)
class StepTimes:
    """What the guide's driver saw. Microseconds; 0: nothing seen."""

    made: int
    gap_least_us: float  # from one rising edge to the next
    high_least_us: float
    set_up_least_us: float  # from a change of direction to the rising edge


@dataclass(frozen=True, slots=True)
class DriveTimes:
    """What was seen at the pins of drive and brake. Cycles; 0: never seen."""

    overlaps: int  # times that both were on at once
    overlap_most: int
    drive_to_brake: int  # least from the drive's last to the brake's first
    brake_to_drive: int
    drives: int  # switched on so often
    brakes: int


class ProgramDied(AssertionError):
    """The binary did what would leave a real chip dead or lost."""


class EmulatedChip:
    """One chip from power-up. ``elf`` is the binary, ``library`` the built harness."""

    def __init__(self, library: Path, elf: Path, stack_from: int) -> None:
        self._c = load(str(library))
        self._chip = self._c.chip_new(str(elf).encode())
        assert self._chip, f"{elf} could not be loaded"
        self._stack_from = stack_from  # first address behind the program's variables
        self.sensor = SensorFaults(self._c, self._chip)

    def __del__(self) -> None:
        if getattr(self, "_chip", None):
            self._c.chip_free(self._chip)
            self._chip = None

    def __getattr__(self, name: str) -> int:
        """Figures of ``_WHAT``: cycles, counts, permille."""
        if name.startswith("_") or name not in _WHAT:
            raise AttributeError(name)
        return int(self._c.chip_get(self._chip, _WHAT.index(name)))

    # --- time and line -------------------------------------------------------------------------

    def run_until(self, cycle: int, *, stop_on_byte: bool = False) -> None:
        state = self._c.chip_run_until(self._chip, max(cycle, 0), int(stop_on_byte))
        if state in (CPU_DONE, CPU_CRASHED):
            raise ProgramDied(f"the program died: state {state} at cycle {self.now}")

    def run_s(self, seconds: float) -> None:
        self.run_until(self.now + round(seconds * HZ))

    def write(self, data: bytes, at: int | None = None) -> None:
        """Bytes set off at the host at an absolute cycle, back to back."""
        self._c.chip_write_at(self._chip, self.now if at is None else at, data, len(data))

    def read(self) -> bytes:
        buffer = ctypes.create_string_buffer(4096)
        length = self._c.chip_read(self._chip, buffer, 4096)
        return buffer.raw[:length]

    def set_host_baud(self, baud: int) -> None:
        self._c.chip_host_baud(self._chip, float(baud))

    # --- pins, spindle -------------------------------------------------------------------------

    def drive_pin_c(self, pin: int, level: bool) -> None:
        self._c.chip_pin_c(self._chip, pin, int(level))

    def build_spindle(self, kind: int, *numbers: float) -> None:
        """Sensor kind, then stall, limit, no load, coulomb, viscous, brake, in counts and seconds."""
        self._c.spindle_build(self._chip, kind, *numbers)

    def force(self, counts_per_s: float, counts: int = -1) -> None:
        self._c.spindle_force(self._chip, counts_per_s, counts)

    def let_go(self) -> None:
        self._c.spindle_let_go(self._chip)

    def jam(self, counts_per_s2: float) -> None:
        self._c.spindle_jam(self._chip, counts_per_s2)

    def disobey(self, *, shorted: bool = False, late_s: float = 0.0) -> None:
        """The motor's switch conducts whatever the board asks; or it obeys so much later."""
        self._c.spindle_disobey(self._chip, int(shorted), round(late_s * 10_000))

    def set_character(
        self, *, stiction: float = 0.0, rock_counts: float = 0.0, rock_s: float = 0.06
    ) -> None:
        """What only a spindle at rest resists with, counts/s2; how far a belt takes it back at rest, counts."""
        self._c.spindle_character(self._chip, stiction, rock_counts, rock_s)

    def take_peak_cps(self) -> float:
        """The highest speed since the last call, counts/s."""
        return float(self._c.spindle_peak(self._chip))

    @property
    def true_count(self) -> int:
        """Counts the spindle stands at, signed, as the sensor's levels say."""
        value = int(self._c.chip_get(self._chip, _WHAT.index("count")))
        return value - (1 << 64) if value >> 63 else value

    @property
    def speed_cps(self) -> float:
        return float(self._c.spindle_speed(self._chip))

    @property
    def place(self) -> float:
        """Where the spindle truly is, counts."""
        return float(self._c.spindle_place(self._chip))

    @property
    def place_now(self) -> float:
        """The same to the cycle, between the steps of the spindle's equation. Counts."""
        return float(self._c.spindle_place_now(self._chip))

    # --- the guide -----------------------------------------------------------------------------

    @property
    def guide_steps(self) -> int:
        """Where the guide truly is, in steps from where it was at power-up; rightward is positive."""
        return int(self._c.guide_place(self._chip))

    @property
    def step_times(self) -> StepTimes:
        made, gap, high, set_up = (int(self._c.guide_figure(self._chip, i)) for i in range(4))
        return StepTimes(made, gap / 16, high / 16, set_up / 16)

    def take_steps(self) -> list[tuple[int, float, int]]:
        """Every step since the last call: cycle, the spindle's place, the guide's place after it."""
        number = int(self._c.guide_trace(self._chip, None, 0, 0))
        room = (StepMade * max(number, 1))()
        self._c.guide_trace(self._chip, ctypes.addressof(room), number, 1)
        return [(one.at, one.spindle, one.place) for one in room[:number]]

    # --- resets --------------------------------------------------------------------------------

    def reset(self, cause: int = RESET_PIN, *, held_s: float = 0.0) -> None:
        self._c.chip_reset(self._chip, cause, round(held_s * HZ))

    def place_program(self, at: int, data: bytes, *, boots: bool) -> None:
        """A program more in flash; with ``boots`` every reset begins there."""
        self._c.chip_place_program(self._chip, at, data, len(data), int(boots))

    def hang(self, *, interrupts_off: bool = False) -> None:
        """The main program never comes round again; only a reset mends it."""
        for _ in range(200_000):
            if self._c.chip_in_main(self._chip):
                self._c.chip_hang(self._chip, int(interrupts_off))
                return
            self.run_until(self.now + 1)
        raise AssertionError("no moment found in which to hang the program")

    # --- what is watched -----------------------------------------------------------------------

    def vector(self, number: int) -> VectorTimes:
        four = (U64 * 4)()
        self._c.chip_vector(self._chip, number, four)
        return VectorTimes(four[0], four[1], four[2], four[3] / four[0] if four[0] else 0.0)

    @property
    def drive_times(self) -> DriveTimes:
        return DriveTimes(*(int(self._c.watch_figure(self._chip, i)) for i in range(6)))

    def wire_outputs(
        self, low_is_on: int = 0, contactor: tuple[int, int] = (0, 0), *, closes_high: bool = True
    ) -> None:
        """Bits of port B that are on while low; port (data address) and bit that close the motor's contactor."""
        self._c.watch_wiring(self._chip, low_is_on, *contactor, int(closes_high))

    def peek(self, address: int, length: int = 1) -> bytes:
        return bytes(self._c.chip_peek(self._chip, address + i) for i in range(length))

    def stack_free(self) -> int:
        """Bytes between the program's variables and the deepest the stack ever was."""
        for address in range(self._stack_from, RAM_LAST + 1):
            if self._c.chip_peek(self._chip, address) != PAINT:
                return address - self._stack_from
        return RAM_LAST + 1 - self._stack_from

    def stack_used(self) -> int:
        return RAM_LAST + 1 - self._stack_from - self.stack_free()

    def eeprom(self) -> bytes:
        buffer = ctypes.create_string_buffer(EEPROM_BYTES)
        self._c.chip_eeprom(self._chip, 0, buffer, 0, EEPROM_BYTES)
        return buffer.raw[:EEPROM_BYTES]

    def burn_eeprom(self, data: bytes, offset: int = 0) -> None:
        self._c.chip_eeprom(self._chip, 1, ctypes.create_string_buffer(data), offset, len(data))
