"""A second opinion on the count: the same image in an emulator of other hands, at five rates.

    python -m tests.campaigns.second_emulator

The other one is npm's avr8js 0.21.1, which knows the chip's interrupts, timers, serial line and memory on its own;
it is fetched into a temporary folder. Both boards see the same edges of a two-channel sensor at rest, with statuses
and signs of life on the line, and tell what they counted. Exit code 1 if they differ.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from firmware_protocol.messages import OpenWind, Status, Trip
from tests.firmware.emulator import builds
from tests.firmware.emulator.board import FOUR_EDGES, EmulatedBoard, bench

from .chip_faults_host import WIND, ChipHost

PACKAGE = "avr8js@0.21.1"
RATES_CPS = (1_000, 10_000, 25_000, 40_000, 50_000)
SECONDS = 0.4
HZ = 16_000_000


class OtherBoard:
    """The same image in the other emulator, as a host wants a board."""

    def __init__(self, library: Path, hex_file: Path) -> None:
        script = Path(__file__).with_suffix(".mjs")
        self._process = subprocess.Popen(
            ["node", str(script), str(library), str(hex_file)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self._in, self._out, self.edges = b"", b"", 0
        self._cycle = 0

    @property
    def now_ns(self) -> int:
        return self._cycle * 125 // 2

    def receive(self, data: bytes) -> None:
        self._in += data

    def take_bytes(self) -> bytes:
        data, self._out = self._out, b""
        return data

    def run_until_cycle(self, cycle: int, edges: int = 0, gap: int = 0) -> None:
        assert self._process.stdin is not None and self._process.stdout is not None
        asked = {"run": cycle, "bytes": self._in.hex(), "edges": edges, "gap": gap}
        self._in = b""
        self._process.stdin.write(json.dumps(asked) + "\n")
        self._process.stdin.flush()
        said = json.loads(self._process.stdout.readline())
        self._cycle, self.edges = said["cycle"], said["edges"]
        self._out += bytes.fromhex(said["bytes"])

    def close(self) -> None:
        self._process.kill()
        self._process.communicate()


@dataclass(frozen=True, slots=True)
class Told:
    """What a board said, and what it was shown. Counts."""

    shown: int
    count: int
    unattributed: int
    trip: str


def _told(edges: int, status: Status) -> Told:
    return Told(edges, status.count, status.unattributed, Trip(status.trip).name)


def in_harness(rate_cps: int) -> Told:
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    host = ChipHost(board)
    host.open()
    host.do(OpenWind(0, 0, 0, WIND))
    board.chip.force(HZ / (HZ // rate_cps), round(rate_cps * SECONDS))
    host.live(SECONDS + 0.3)
    return _told(board.chip.edges, host.status)


def in_other(rate_cps: int, library: Path, hex_file: Path) -> Told:
    board = OtherBoard(library, hex_file)
    try:
        host = ChipHost(board)
        host.open()
        host.do(OpenWind(0, 0, 0, WIND))
        cycle = board.now_ns * 2 // 125 + 1600
        board.run_until_cycle(cycle, round(rate_cps * SECONDS), HZ // rate_cps)
        host.live(SECONDS + 0.3)
        return _told(board.edges, host.status)
    finally:
        board.close()


def main() -> int:
    elf = EmulatedBoard(bench(20, FOUR_EDGES)).binary.elf
    builds.run(
        ["avr-objcopy", "-O", "ihex", "-R", ".eeprom", str(elf), str(elf.with_suffix(".hex"))]
    )
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(["npm", "install", "--silent", "--prefix", folder, PACKAGE], check=True)
        library = Path(folder) / "node_modules" / "avr8js" / "dist" / "cjs" / "index.js"
        print("| counts/s | edges shown | this harness counted | the other one counted | told |")
        print("|---|---|---|---|---|")
        differ = 0
        for rate_cps in RATES_CPS:
            ours = in_harness(rate_cps)
            other = in_other(rate_cps, library, elf.with_suffix(".hex"))
            differ += ours != other
            told = ours.trip if ours.trip == other.trip else f"{ours.trip} and {other.trip}"
            print(
                f"| {rate_cps} | {ours.shown} | {ours.count} | {other.count} | {told} |", flush=True
            )
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
