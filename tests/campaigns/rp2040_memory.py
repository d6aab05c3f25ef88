"""The RP2040's kept memory with the power failing at every single write and erasure of three scenes.

    python -m tests.campaigns.rp2040_memory [EVERY]

A boot that begins a sector, other settings, and the record of a wind's rest. EVERY: only each so manieth moment.
Exit code 1 if a boot number went back, settings were torn, or a record vouched for a count that was not true.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "firmware")]

from emulator.board import FOUR_EDGES, bench, kept_twice  # noqa: E402
from emulator.rp2040_board import Rp2040Board, memory_with  # noqa: E402
from emulator.rp2040_scenes import (  # noqa: E402
    full_log,
    kept_after_rest,
    memory_after_boot,
    operations_of_a_boot,
    settings_after_write,
)

MACHINE = bench(20, FOUR_EDGES)
REST_OPERATIONS = 24
BOOT = 5


def boots(every: int) -> Iterator[str]:
    memory = memory_with(Rp2040Board(MACHINE).settings) | {0: BOOT, 1: 0, 2: 255 - BOOT, 3: 255}
    board = Rp2040Board(MACHINE)
    for at in range(1, operations_of_a_boot(memory) + 1, every):
        after, failed = memory_after_boot(board, full_log(memory), at)
        boot = max(after[i] for i in (0, 4) if after[i] ^ after[i + 2] == 255)
        holds = failed and boot in (BOOT + 1, BOOT + 2)
        holds &= all(after[place] == byte for place, byte in memory.items() if place > 7)
        yield f"boot, write {at}: boot number {boot}, {'holds' if holds else 'BROKEN'}"


def settings(every: int) -> Iterator[str]:
    usual = Rp2040Board(MACHINE).settings
    other = replace(usual, number=0xFEDCBA98, cut_ms=1234, rest_ms=7777)
    old, new = kept_twice(usual), kept_twice(other)
    for at in range(1, sum(a != b for a, b in zip(old, new, strict=True)) + 1, every):
        memory, failed = settings_after_write(Rp2040Board(MACHINE), other, at)
        found = {old: "old", new: "new"}.get(memory[-96:], "torn")
        holds = failed and found != "torn"
        yield f"settings, write {at}: {found}, {'holds' if holds else 'BROKEN'}"


def records(every: int) -> Iterator[str]:
    for at in range(1, REST_OPERATIONS + 1, every):
        kept = kept_after_rest(Rp2040Board(MACHINE), at)
        yield f"record, write {at}: {kept}, {'holds' if kept.holds else 'BROKEN'}"


def main() -> int:
    """Returns the exit code."""
    every = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    rows = broken = 0
    for scene in (boots, settings, records):
        for row in scene(every):
            print(row, flush=True)
            rows += 1
            broken += row.endswith("BROKEN")
    print(f"{rows} power cuts, {broken} broken")
    return int(broken > 0)


if __name__ == "__main__":
    sys.exit(main())
