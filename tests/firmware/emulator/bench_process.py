"""An emulated board in a process of its own, and the ``winder`` command at its pseudo-terminal.

The board lives in real time; what it counted truly is asked of it over its standard input.
"""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

from winder.machine.model import MachineProfile

TESTS = Path(__file__).resolve().parents[1]
ROOT = TESTS.parents[1]
WAIT_S = 60

RECIPE = """\
name = "sensor coil"
note = "Invented, for the tests."

[wire]
gauge = "42 AWG"
film = "single"

[bobbin]
shape = "round"
diameter = "10 mm"
width = "8 mm"
flange_height = "8 mm"

[target]
turns = {turns}

[winding]
direction = "clockwise"
"""


def profile_text(profile: MachineProfile) -> str:
    """The machine file of a profile without a guide."""
    lines = [
        f'name = "{profile.name}"',
        "[sensor]",
        f"counts_per_turn = {profile.counts_per_turn}",
        f"senses_direction = {str(profile.direction_sense).lower()}",
        "[spindle]",
        f"motor = {str(profile.motor).lower()}",
        f'speed_max = "{profile.speed_rpm_max:g} rpm"',
        f'coasting = "{profile.coasting_rpm_s:g} rpm/s"',
    ]
    if profile.motor:
        lines.append(f'acceleration = "{profile.acceleration_rpm_s:g} rpm/s"')
        if profile.braking_rpm_s is not None:
            lines.append(f'braking = "{profile.braking_rpm_s:g} rpm/s"')
    return "\n".join(lines) + "\n"


class BoardProcess:
    """A served board. ``words`` are those of ``emulator.serve``."""

    def __init__(self, *words: str) -> None:
        path = os.pathsep.join((str(ROOT), str(TESTS)))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "emulator.serve", *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": path},
        )
        assert self.process.stdout is not None
        self.path = self.process.stdout.readline().strip()
        assert self.path, "the board did not start"

    def say(self, words: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(words + "\n")
        self.process.stdin.flush()

    def facts(self) -> dict[str, float]:
        assert self.process.stdout is not None
        self.say("facts")
        return dict(json.loads(self.process.stdout.readline()))

    def signal(self, number: signal.Signals) -> None:
        self.process.send_signal(number)

    def __enter__(self) -> BoardProcess:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGCONT)
            self.process.kill()
        self.process.communicate()


class WinderProcess:
    """``winder wind RECIPE --port PATH --plain --start``; its lines as they come."""

    def __init__(
        self, folder: Path, board: BoardProcess, profile: MachineProfile, turns: int, *more: str
    ) -> None:
        recipe, machine = folder / "coil.toml", folder / "machine.toml"
        recipe.write_text(RECIPE.format(turns=turns))
        machine.write_text(profile_text(profile))
        command = [sys.executable, "-u", "-m", "winder", "wind", str(recipe), "--port", board.path]
        command += ["--machine", str(machine), "--plain", "--top", "chuck"]
        command += ["--tension", "12 cN", "--start"]
        command += ["--logbook", str(folder / "logbook"), *more]
        self.process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            cwd=ROOT,
        )
        self.lines: list[str] = []
        self._patience = threading.Timer(WAIT_S, self.process.kill)  # a wind that waits for ever
        self._patience.daemon = True
        self._patience.start()

    def until(self, pattern: str) -> str:
        """The next line that has the pattern; its end before that is a failure."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))
            if re.search(pattern, line):
                return self.lines[-1]
        raise AssertionError(f"no '{pattern}' in\n" + "\n".join(self.lines))

    def until_turning(self, turns: float) -> None:
        while True:
            found = re.match(r" *(\d+\.\d+) of", self.until(r"^ *\d+\.\d+ of"))
            if found and float(found[1]) >= turns:
                return

    def type(self, word: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(word + "\n")
        self.process.stdin.flush()

    def end(self) -> int:
        """Its exit code, when it has ended by itself."""
        rest, _ = self.process.communicate(timeout=WAIT_S)
        self.lines += rest.splitlines()
        return self.process.returncode

    @property
    def told(self) -> str:
        return "\n".join(self.lines)

    def __enter__(self) -> WinderProcess:
        return self

    def __exit__(self, *_: object) -> None:
        self._patience.cancel()
        if self.process.poll() is None:
            self.process.kill()
            self.process.communicate()
