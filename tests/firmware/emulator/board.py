"""A whole emulated machine behind the same seam as the simulated one: the real binary, a motor, a sensor.

``EmulatedBoard`` is a ``Machine`` of ``winder.links.simulated_link``: put it behind a ``SimulatedLink``
(virtual time, with faults of the line by seed), a ``PacedLink`` or a ``PtyServer``. The motor obeys the
same laws as the simulated spindle and is built from the same numbers, so both can be held to the same
bounds; the code that solves them is another one.
"""

from __future__ import annotations

import dataclasses
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Driver, Low, Sensor, Wired
from firmware_protocol.wire import pack
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.service.bodies import simulated_machine
from winder.simulator.build import Build
from winder.simulator.spindle import Spindle

from . import builds
from .chip import EEPROM_BYTES, RESET_POWER, EmulatedChip
from .loaders import Loader

NS_PER_CYCLE_NUM, NS_PER_CYCLE_DEN = 125, 2  # 62.5 ns
PIN_GUARD, PIN_WIRE = 2, 3
ADAPTER_CYCLES = 16_000  # 1 ms: a USB adapter gathers bytes for at least so long
CONTACTOR = (0x25, 0x10)  # PB4
BRIDGE = Low.ENABLE | Low.DUTY | Low.BRAKE | Low.BACKWARD  # those of the motor's bridge
ONE_PULSE, TWO_EDGES, FOUR_EDGES = 1, 2, 4
SENSORS = {
    ONE_PULSE: Sensor.ONE_PULSE,
    TWO_EDGES: Sensor.TWO_EDGES,
    FOUR_EDGES: Sensor.FOUR_EDGES,
}
STEP_UM = 2.5  # of the guide
MCPS_TIMES_US = {"bounce_us": 160_000_000, "least_period_us": 480_000_000}  # at the highest rate


@dataclass(frozen=True, slots=True)
class Bench:
    """A machine with a board on it: its profile, and how its sensor is wired."""

    profile: MachineProfile
    sensor: int
    changes: Mapping[str, Any] = field(default_factory=dict)  # of the body that the profile gives

    @property
    def build(self) -> Build:
        build = simulated_machine(self.profile).body.build
        return dataclasses.replace(build, **self.changes)


def bench(
    counts_per_turn: int,
    sensor: int,
    *,
    brake: bool = True,
    changes: Mapping[str, Any] | None = None,
) -> Bench:
    """The simulated bench's profile with another sensor; its guide is the board's own."""
    return Bench(
        dataclasses.replace(
            SIMULATED_BENCH,
            name=f"emulated bench, {counts_per_turn} counts a turn",
            counts_per_turn=counts_per_turn,
            direction_sense=sensor != ONE_PULSE,
            braking_rpm_s=SIMULATED_BENCH.braking_rpm_s if brake else None,
        ),
        sensor,
        changes or {},
    )


def times_of(rate_max_mcps: int) -> dict[str, int]:
    """One channel's bounce and shortest period: a sixth and half of the period at the highest rate."""
    return {name: min(number // rate_max_mcps, 0xFFFF) for name, number in MCPS_TIMES_US.items()}


def settings_of(bench: Bench) -> Settings:
    """What one writes into the board after measuring this machine."""
    build = bench.build
    known = build.board_knows
    per_rpm = build.counts_per_s(1.0)
    rate_max_mcps = round(bench.profile.speed_rpm_max * per_rpm * 1000)
    one_pulse = bench.sensor == ONE_PULSE
    return Settings(
        number=1,
        sensor=SENSORS[bench.sensor],
        filter_us=4 if one_pulse else 0,
        **(times_of(rate_max_mcps) if one_pulse else {}),
        driver=Driver.ENABLE_AND_DIRECTION,
        inputs=Wired.GUARD | Wired.WIRE_SENSOR,
        dead_ms=1,
        rate_max_mcps=rate_max_mcps,
        full_rate_mcps=round(known.rpm_per_duty * per_rpm * 1000),
        full_accel_mcps2=round(known.full_torque_rpm_s * per_rpm * 1000),
        friction_permille=round(known.friction_duty * 1000),
        brake_permille=round((known.brake_duty or 0.0) * 1000),
        cut_ms=2000,
        rest_ms=8000,
        step_pm=round(STEP_UM * 1e6),
        travel_steps=round((bench.profile.traverse_travel_m or 0.0) * 1e6 / STEP_UM),
        steps_a_ms=4,
    )


def kept_twice(settings: Settings) -> bytes:
    """As the board keeps them, at the end of its memory."""
    content = pack(settings)
    return 2 * (content + zlib.crc32(content).to_bytes(4, "little"))


class EmulatedBoard:
    """One board on one machine, from power-up. Times are nanoseconds of the chip's own.

    ``settings`` differ from what one measures at this machine; a counter without any has its own.
    """

    def __init__(
        self, bench: Bench, port: str = "atmega328p", *, taught: bool = True, **settings: int
    ) -> None:
        self.bench = bench
        drives = port == "atmega328p"
        usual = settings_of(bench) if drives else Settings(1, Sensor.ONE_PULSE, 4)
        self.settings = dataclasses.replace(usual, **settings) if taught else Settings()
        self.binary = builds.firmware(port)
        self.chip = EmulatedChip(builds.harness(), self.binary.elf, self.binary.stack_from)
        if taught and (drives or settings):
            kept = kept_twice(self.settings)
            self.chip.burn_eeprom(kept, EEPROM_BYTES - len(kept))
        spindle = Spindle(bench.build)
        self.chip.build_spindle(
            bench.sensor,
            spindle.stall,
            spindle.limit,
            spindle.no_load,
            spindle.coulomb,
            spindle.viscous,
            spindle.brake_full,
        )
        self.chip.wire_outputs(
            self.settings.low & BRIDGE,
            CONTACTOR if drives else (0, 0),
            closes_high=not self.settings.low & Low.CONTACTOR,
        )
        self.open_guard(False)
        self.lose_wire(False)
        self.reset_held_s = 0.0  # how long a reset lasts: a boot loader's wait
        self.cable_out = False  # bytes go nowhere, and neither end is told

    def install(self, loader: Loader) -> None:
        """A boot loader in its place; every reset begins there, this power-up first."""
        assert loader.at >= self.binary.flash, "no room beside the program"
        self.chip.place_program(loader.at, loader.data, boots=True)
        self.chip.reset(RESET_POWER)

    # --- the machine that a link wants ---------------------------------------------------------

    @property
    def now_ns(self) -> int:
        return self.chip.now * NS_PER_CYCLE_NUM // NS_PER_CYCLE_DEN

    def run_until(self, time_ns: int) -> None:
        """Live on until then; a byte of the board ends it a little later, as an adapter does."""
        cycle = -(-time_ns * NS_PER_CYCLE_DEN // NS_PER_CYCLE_NUM)
        self.chip.run_until(cycle, stop_on_byte=True)
        if self.chip.now < cycle:
            self.chip.run_until(min(cycle, self.chip.now + ADAPTER_CYCLES))

    def run_until_cycle(self, cycle: int) -> None:
        self.chip.run_until(cycle)

    def receive(self, data: bytes) -> None:
        if not self.cable_out:
            self.chip.write(data)

    def take_bytes(self) -> bytes:
        data = self.chip.read()
        return b"" if self.cable_out else data

    def reset(self, watchdog: bool = False) -> None:
        """By the reset pin, as opening the port does; or by a program that hangs."""
        if watchdog:
            self.chip.hang()
        else:
            self.chip.reset(held_s=self.reset_held_s)

    # --- what happens at the machine -----------------------------------------------------------

    def open_guard(self, is_open: bool) -> None:
        self.chip.drive_pin_c(PIN_GUARD, is_open)

    @property
    def friction_cps2(self) -> float:
        """Of the turning spindle, Coulomb's part."""
        return Spindle(self.bench.build).coulomb

    def lose_wire(self, lost: bool) -> None:
        self.chip.drive_pin_c(PIN_WIRE, lost)

    def run_s(self, seconds: float) -> None:
        """Life without anybody at the line: what the board says meanwhile is lost."""
        self.chip.run_s(seconds)
        self.chip.read()

    @property
    def turning(self) -> bool:
        return self.chip.speed_cps != 0.0

    # --- what must hold after every test --------------------------------------------------------

    def assert_sound(self, *, resets: int = 0, stack_free_least: int = 64) -> None:
        """No byte was overrun, no reset came that nobody asked for, memory and EEPROM were kept."""
        assert self.chip.overruns == 0, f"{self.chip.overruns} bytes overran the receiver"
        self.assert_sound_but_for_overruns(resets=resets, stack_free_least=stack_free_least)

    def assert_sound_but_for_overruns(self, *, resets: int = 0, stack_free_least: int = 64) -> None:
        """Near its limit the chip loses bytes before counts; the host sends those again."""
        chip = self.chip
        assert chip.resets == resets, f"{chip.resets} resets where {resets} were made"
        assert chip.ee_too_soon == 0, "an EEPROM byte was written while the one before was burning"
        assert chip.stack_free() >= stack_free_least, f"{chip.stack_free()} bytes of stack left"
