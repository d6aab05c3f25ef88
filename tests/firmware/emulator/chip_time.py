"""The chip's time in a file, and a ``winder`` that lives by it.

    python -m emulator.chip_time FILE winder bench check --port PORT

On a busy computer an emulated chip falls behind the world. A program that is to judge the chip's clock, or to keep a
lease alive on it, then lives in the chip's time: a minute of the chip is a minute of the program, however long the world
takes for it. What the program asks the time of is replaced, and nothing else.
"""

from __future__ import annotations

import mmap
import struct
import sys
import time
from pathlib import Path

BYTES = 8


class ChipTime:
    """The file's end at the chip. ``show`` is called as often as the chip has lived on."""

    def __init__(self, path: Path) -> None:
        path.write_bytes(bytes(BYTES))
        with open(path, "r+b") as file:
            self._shown = mmap.mmap(file.fileno(), BYTES)

    def show(self, now_ns: int) -> None:
        self._shown[:BYTES] = struct.pack("<q", now_ns)


def live_by(path: Path) -> None:
    """From now on this process has no other clock."""
    with open(path, "r+b") as file:
        shown = mmap.mmap(file.fileno(), BYTES, access=mmap.ACCESS_READ)
    time.monotonic_ns = lambda: struct.unpack("<q", shown[:BYTES])[0]


if __name__ == "__main__":
    live_by(Path(sys.argv[1]))
    from winder.commands.main import main

    sys.exit(main(sys.argv[3:]))
