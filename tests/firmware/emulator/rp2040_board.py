"""A whole emulated machine on an RP2040: the shipped program, a motor, a sensor, a guide.

``Rp2040Board`` has the seam of ``EmulatedBoard``: put it behind a ``SimulatedLink``, a host that talks, an examination.
"""

from __future__ import annotations

import dataclasses
import zlib
from collections.abc import Sequence

from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Low
from winder.simulator.spindle import Spindle

from .board import Bench, kept_twice, settings_of
from .chip import RESET_POWER
from .rp2040_chip import Rp2040Chip
from .rp2040_tools import program

USB, UART = "usb", "uart"
GP = {"A": 2, "B": 3, "DUTY": 6, "BRAKE": 7, "ENABLE": 8, "BACKWARD": 9, "STEP": 10, "RIGHT": 11,
      "GUARD": 12, "WIRE": 13, "CONTACTOR": 14, "PEDAL": 15, "STOP": 16}  # fmt: skip
OUTPUTS = ("ENABLE", "DUTY", "BRAKE", "BACKWARD", "CONTACTOR")
ADAPTER_NS = 1_000_000
SECTOR_BYTES, MEMORY_BYTES = 4096, 256
STORE_AT = 1024 * 1024 - 2 * SECTOR_BYTES
LEAST_FREE_BYTES = 128 * 1024  # of memory: half of it


def log_of(memory: dict[int, int], number: int = 1) -> bytes:
    """A sector of the kept memory, by the words of ``ports/rp2040/store.c``: head, then records."""
    head = number.to_bytes(4, "little")
    log = head + zlib.crc32(head).to_bytes(4, "little")
    for at, byte in memory.items():
        log += bytes((at, byte, at ^ 255, byte ^ 255))
    return log


def memory_with(settings: Settings) -> dict[int, int]:
    """The core's memory that holds these settings and nothing else."""
    kept = kept_twice(settings)
    return {MEMORY_BYTES - len(kept) + i: byte for i, byte in enumerate(kept)}


def memory_of(flash: bytes) -> bytes:
    """What the two sectors hold: the reading of ``store.c``, worked out a second time."""
    best, newest = b"", 0
    for sector in (flash[:SECTOR_BYTES], flash[SECTOR_BYTES : 2 * SECTOR_BYTES]):
        number = int.from_bytes(sector[:4], "little")
        if (
            zlib.crc32(sector[:4]) == int.from_bytes(sector[4:8], "little")
            and newest < number < 2**32 - 1
        ):
            best, newest = sector, number
    memory = bytearray(b"\xff" * MEMORY_BYTES)
    for at in range(8, len(best), 4):
        place, byte, not_place, not_byte = best[at : at + 4]
        if place ^ not_place == 255 and byte ^ not_byte == 255:
            memory[place] = byte
    return bytes(memory)


class Rp2040Board:
    """One board on one machine, from power-up. ``over``: the chip's own USB, or its serial line."""

    def __init__(
        self,
        bench: Bench,
        over: str = USB,
        *,
        taught: bool = True,
        unmended: Sequence[str] = (),
        changes: tuple[str, ...] = (),
        **settings: int,
    ) -> None:
        self.bench = bench
        self.settings = (
            dataclasses.replace(settings_of(bench), **settings) if taught else Settings()
        )
        self.binary = program(changes)
        self.chip = Rp2040Chip(self.binary, over, (STORE_AT, self._kept(taught)), unmended)
        spindle = Spindle(bench.build)
        numbers = (spindle.stall, spindle.limit, spindle.no_load, spindle.coulomb)
        self.chip.call(
            "machine", "build", bench.sensor, *numbers, spindle.viscous, spindle.brake_full
        )
        low = sum(1 << GP[name] for name in OUTPUTS[:-1] if self.settings.low & Low[name])
        self.chip.call("machine", "wire", low, not self.settings.low & Low.CONTACTOR)
        self.open_guard(False)
        self.lose_wire(False)
        self.press_pedal(False)
        self.press_stop(False)
        self.reset_held_s = 0.0
        self.cable_out = False

    def _kept(self, taught: bool) -> bytes:
        return log_of(memory_with(self.settings)) if taught else b""

    # --- the machine that a link wants ---------------------------------------------------------

    @property
    def now_ns(self) -> int:
        return self.chip.now_ns

    def run_until(self, time_ns: int) -> None:
        """Live on until then; a byte of the board ends it a little later, as an adapter does."""
        if time_ns > self.now_ns:
            self.chip.ask(until=time_ns, afterByteNs=ADAPTER_NS)

    def run_until_cycle(self, cycle: int) -> None:
        self.chip.run_until(cycle)

    def receive(self, data: bytes) -> None:
        if not self.cable_out:
            self.chip.write(data)

    def take_bytes(self) -> bytes:
        data = self.chip.read()
        return b"" if self.cable_out else data

    def reset(self, watchdog: bool = False) -> None:
        """By the reset pin; or by a program that hangs."""
        if watchdog:
            self.chip.hang()
        else:
            self.chip.reset(held_s=self.reset_held_s)

    # --- what happens at the machine -----------------------------------------------------------

    def open_guard(self, is_open: bool) -> None:
        self.chip.pin(GP["GUARD"], is_open)

    def lose_wire(self, lost: bool) -> None:
        self.chip.pin(GP["WIRE"], lost)

    def press_pedal(self, pressed: bool) -> None:
        self.chip.pin(GP["PEDAL"], not pressed)

    def press_stop(self, pressed: bool) -> None:
        self.chip.pin(GP["STOP"], pressed)

    def limit_switch(self, at_steps: int, fault: str = "") -> None:
        """It opens where the guide is that many steps from its place at power-up, and left of it (``machine.mjs``)."""
        self.chip.call("machine", "limitSwitch", at_steps, fault)

    def lose_power(self, held_s: float = 0.05) -> None:
        self.chip.reset(RESET_POWER, held_s=held_s)

    def memory(self) -> bytes:
        """What the flash keeps for the core."""
        return memory_of(bytes.fromhex(self.chip.call("kept", STORE_AT, 2 * SECTOR_BYTES)))

    @property
    def friction_cps2(self) -> float:
        return Spindle(self.bench.build).coulomb

    def run_s(self, seconds: float) -> None:
        """Life without anybody at the line: what the board says meanwhile is lost."""
        self.chip.run_s(seconds)
        self.chip.read()

    @property
    def turning(self) -> bool:
        return self.chip.speed_cps != 0.0

    def assert_sound(self, *, resets: int = 0) -> None:
        """No byte was overrun, no reset came that nobody asked for, the emulator complained of nothing."""
        chip = self.chip
        assert chip.overruns == 0, f"{chip.overruns} bytes overran the receiver"
        assert chip.resets == resets, f"{chip.resets} resets where {resets} were made"
        assert chip.problems == []
        free = chip.stack_free()
        assert free >= LEAST_FREE_BYTES, f"{free} bytes of memory left"
