"""Scenes in which the power of an emulated RP2040 fails at a chosen write of its flash; the gate and the campaign share them."""

from __future__ import annotations

from dataclasses import dataclass

from firmware_protocol.messages import EndAction, Kept, State
from firmware_protocol.settings import Settings, write_of

from .guided import GuidedHost, turns_leg
from .rp2040_board import SECTOR_BYTES, STORE_AT, Rp2040Board, log_of
from .traffic import BusyHost

ROOM_BYTES = 512  # with less a boot begins the next sector (store.c)
BOOT_S = 0.6
WRITING_S = 0.4
BOOT_NUMBER_BYTES = 4


def operations_of_a_boot(memory: dict[int, int]) -> int:
    """That begins a sector: its erasure, a record for each byte that is not as erased, its head, the boot number."""
    return 1 + sum(byte != 255 for byte in memory.values()) + 1 + BOOT_NUMBER_BYTES


def full_log(memory: dict[int, int]) -> bytes:
    """A log of this memory with so little room left that the next boot begins the other sector."""
    log = log_of(memory)
    place, byte = next(iter(memory.items()))
    again = bytes((place, byte, place ^ 255, byte ^ 255))
    return log + again * ((SECTOR_BYTES - ROOM_BYTES - len(log)) // 4 + 1)


def memory_after_boot(board: Rp2040Board, log: bytes, at: int) -> tuple[bytes, bool]:
    """From power-up with this log; the power fails at that write. The memory afterwards, and whether it failed."""
    resets = board.chip.resets
    board.chip.burn(STORE_AT, log)
    board.chip.fail_at(at)
    board.run_s(2 * BOOT_S)
    board.chip.fail_at(0)
    return board.memory(), board.chip.resets > resets


def settings_after_write(board: Rp2040Board, content: Settings, at: int) -> tuple[bytes, bool]:
    """These settings are written and the power fails at that write. The memory after the next boot, and whether it failed."""
    host = BusyHost(board)
    host.open()
    resets = board.chip.resets
    board.chip.fail_at(at)
    status = host.status
    host.end.send(write_of(content, 0, status.boot, status.revision), board.now_ns)
    host.live(WRITING_S)
    board.run_s(BOOT_S)
    board.chip.fail_at(0)
    board.run_s(BOOT_S)
    return board.memory(), board.chip.resets > resets


@dataclass(frozen=True, slots=True)
class KeptAfter:
    """What a board told of its last wind after the power had failed, and what was true."""

    wind: int
    count: int
    at_rest: bool
    valid: bool
    true: int
    state: State
    boot: int
    failed: bool

    @property
    def holds(self) -> bool:
        """It vouches for the true count, or it vouches for none and is tripped or has no record."""
        return self.boot == 2 and (
            not self.at_rest or (self.valid and self.wind == 1 and self.count == self.true)
        )


def kept_after_rest(board: Rp2040Board, at: int) -> KeptAfter:
    """Two turns; from the moment that the drive is off the power fails at that write. 0: it does not, and is switched off."""
    host = GuidedHost(board)
    counts = board.bench.profile.counts_per_turn
    host.load(turns_leg(counts, 0, 1.5, EndAction.COMPLETE))
    host.start()
    while board.chip.enabled or host.status.count < counts:
        BusyHost.live(host, 0.01)
    resets = board.chip.resets
    board.chip.fail_at(at)
    board.cable_out = True
    board.run_s(0.6)
    failed = board.chip.resets > resets
    board.chip.fail_at(0)
    if not failed:
        board.lose_power()
    board.run_s(BOOT_S)
    board.cable_out = False
    again = BusyHost(board, token=99)
    welcome = again.open()
    flags = welcome.kept_flags
    return KeptAfter(welcome.kept_wind, welcome.kept_count, bool(flags & Kept.AT_REST), bool(flags & Kept.VALID),
                     board.chip.true_count, State(again.status.state), welcome.boot, failed)  # fmt: skip
