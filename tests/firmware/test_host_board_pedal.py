"""A whole wind by foot: the command at a terminal of its own, the core as a process, and a foot at its standard input."""

from __future__ import annotations

import os
import re
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest
import serial
from emulator.bench_process import RECIPE, ROOT
from emulator.builds import FIRMWARE
from host.core import needs_compiler

from firmware_protocol.framing import FrameReader
from firmware_protocol.messages import Reason, State, Status
from firmware_protocol.wire import REGISTER, unpack

pytestmark = needs_compiler
WAIT_S = 40.0
COUNTS, TURNS = 20, 8
MACHINE = f"""\
name = "host board"
[sensor]
counts_per_turn = {COUNTS}
senses_direction = false
[spindle]
motor = true
pedal = true
speed_max = "1000 rpm"
acceleration = "600 rpm/s"
coasting = "400 rpm/s"
braking = "2000 rpm/s"
[feed]
tensioner = "felt or fingers"
"""


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    folder = tmp_path_factory.mktemp("host")
    target = folder / "winder-host-board"
    words = ["make", "-C", str(FIRMWARE), f"BUILD={folder}", str(target)]
    subprocess.run(words, check=True, capture_output=True)
    return target


class Bench:
    """``winder-host-board --hands``: a board, and whoever stands there."""

    def __init__(self, program: Path, *more: str) -> None:
        command = [program, "--counts-per-turn", str(COUNTS), "--brake", "--hands", *more]
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True)
        assert self.process.stdout is not None
        self.path = self.process.stdout.readline().strip()

    def do(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def counts_turned(self) -> int:
        self.process.terminate()
        return int(self.process.communicate(timeout=10)[0].split()[0])

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.communicate()


class Terminal:
    """``winder wind`` as somebody has it before them."""

    def __init__(
        self,
        folder: Path,
        port: str,
        machine: str = MACHINE,
        what: tuple[str, ...] = ("coil.toml",),
    ) -> None:
        (folder / "coil.toml").write_text(RECIPE.format(turns=TURNS) + 'speed = "200 rpm"\n')
        (folder / "machine.toml").write_text(machine)
        words = ["wind", *what, "--machine", "machine.toml", "--plain", "--port", port]
        words += ["--top", "chuck", "--tension", "12 cN", "--logbook", "logbook"]
        self._mine, other = os.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-m", "winder", *words],
            stdin=other,
            stdout=other,
            stderr=other,
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            start_new_session=True,
        )
        os.close(other)
        self.told = self._new = ""

    def until(self, pattern: str, wait_s: float = 5.0) -> str:
        """What it says has this pattern; what came before is passed over."""
        end = time.monotonic() + wait_s
        while not (found := re.search(pattern, self._new)):
            left = end - time.monotonic()
            assert left > 0, f"no '{pattern}' in\n{self.told}"
            self.read(left)
        self._new = self._new[found.end() :]
        return found[0]

    def read(self, span_s: float) -> None:
        if select.select([self._mine], [], [], span_s)[0]:
            try:
                data = os.read(self._mine, 4096).decode("utf-8", "replace")
            except OSError:  # it has ended
                raise AssertionError(f"it ended\n{self.told}") from None
            self.told += data
            self._new += data

    def hears_nothing_of(self, pattern: str, span_s: float) -> None:
        end = time.monotonic() + span_s
        while (left := end - time.monotonic()) > 0:
            self.read(left)
        assert not re.search(pattern, self._new), self.told

    def type(self, word: str) -> None:
        os.write(self._mine, (word + "\n").encode())

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(10)
        os.close(self._mine)


def by_foot(wind: Terminal) -> None:
    """The pedal is turned on, once the machine is set up."""
    wind.type("pedal")
    wind.until("foot pedal: ")


def pressed_anew(bench: Bench, wind: Terminal) -> None:
    bench.do("pedal up")
    time.sleep(0.3)
    bench.do("pedal down")
    wind.until("winding: ")


def test_a_coil_wound_by_foot_ends_on_its_turn(program, tmp_path):
    """Held as it is turned on, let go, stopped by the switch, stuck and stopped by a word; then to the end."""
    with Bench(program) as bench, Terminal(tmp_path, bench.path) as wind:
        wind.until("setting up")
        wind.type("set up already")
        wind.until("ready: ")
        bench.do("pedal down")  # and stays there while it is turned on
        by_foot(wind)
        wind.until("take your foot off the pedal first")
        wind.hears_nothing_of("winding: ", 0.5)
        pressed_anew(bench, wind)
        wind.until(rf"[1-9]\.\d+ of {TURNS} turns, exact")
        bench.do("pedal up")
        wind.until("foot pedal: ")
        pressed_anew(bench, wind)  # the pedal is on still
        bench.do("stop pressed")
        wind.until("tripped: the stop switch")
        wind.type("clear trip")
        wind.until("tripped: ")  # still: the switch is in
        bench.do("stop released")
        time.sleep(0.5)
        wind.type("clear trip")
        wind.until("paused: ")
        by_foot(wind)
        wind.hears_nothing_of("winding: ", 0.5)  # the foot was on it all the while
        pressed_anew(bench, wind)
        wind.type("pause")  # the foot came off, and the contact did not
        wind.until("paused: ")
        wind.hears_nothing_of("winding: ", 0.5)
        by_foot(wind)
        pressed_anew(bench, wind)
        wind.until(f"complete: write down: {TURNS} turns, exact", 10.0)
        wind.type("leave")
        assert wind.process.wait(10) == 0
        assert TURNS <= bench.counts_turned() / COUNTS <= TURNS + 0.05


def test_a_pedal_that_sticks_as_the_program_dies_is_stopped_by_the_board(program, tmp_path):
    """No key and no program is left: the lease ends, and a foot that stays on the pedal moves nothing again."""
    with Bench(program) as bench:
        with Terminal(tmp_path, bench.path) as wind:
            wind.until("setting up")
            wind.type("set up already")
            wind.until("ready: ")
            by_foot(wind)
            pressed_anew(bench, wind)
            wind.until(rf"[1-9]\.\d+ of {TURNS} turns, exact")
            wind.process.kill()
        time.sleep(2.5)  # the lease, and coming to rest
        first, *_, last = statuses(bench.path, 0.5)
        assert (last.state, last.reason) == (State.PAUSED, Reason.LEASE_LOST)
        assert first.count == last.count and last.rate_mcps == 0
        assert bench.counts_turned() == last.count


def statuses(path: str, span_s: float) -> list[Status]:
    """What a board says by itself to whoever listens."""
    reader, heard = FrameReader(), []
    with serial.Serial(path, 500_000, timeout=0.05) as port:
        end = time.monotonic() + span_s
        while time.monotonic() < end:
            for frame in reader.feed(port.read(256)):
                if frame.kind in REGISTER:
                    heard.append(unpack(frame.kind, frame.payload))
    return [message for message in heard if isinstance(message, Status)]
