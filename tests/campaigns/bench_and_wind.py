"""The processes of a real wind: a simulated bench behind a port, and ``winder wind`` on a terminal of its own.

Nothing here knows the program's inside: the bench tells its truth by ``--truth`` and is touched by ``--hands``, the
wind is read and typed at through a pseudo-terminal, the claim is what ``winder shelf show`` says. Every wait has a
limit.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import math
import os
import pty
import resource
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PROGRAM = (sys.executable, "-m", "winder")
START_S = 90.0  # for a process to say its first word, on a busy computer
ROWS, COLUMNS = 40, 120


class TooLong(Exception):
    """A wait that reached its limit."""


class Bench:
    """``winder bench simulate`` with its truth and its hands."""

    def __init__(self, folder: Path, machine: Path, seed: int, *, resets: bool) -> None:
        self.port = folder / "port"
        self._truth = folder / "truth.jsonl"
        self.pulled_counts = 0  # taken off the bobbin without the spindle's turning
        words = ["--machine", str(machine), "--link", str(self.port), "--truth", str(self._truth)]
        words += ["--hands", "-", "--seed", str(seed)]
        words += [] if resets else ["--no-reset-on-open"]
        self._process = subprocess.Popen(
            [*PROGRAM, "bench", "simulate", *words],
            stdin=subprocess.PIPE,
            stdout=(folder / "bench.out").open("wb"),
            stderr=subprocess.STDOUT,
        )
        try:
            wait_until(self.port.is_symlink, START_S, "the bench serves its port")
        except TooLong:
            self.close()
            raise

    def hand(self, line: str) -> None:
        """One thing that the person's hands do there."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{line}\n".encode())
        self._process.stdin.flush()

    def newest(self) -> dict[str, Any]:
        """The newest line of truth."""
        wait_until(lambda: self._lines() != [], START_S, "the bench tells its truth")
        return dict(json.loads(self._lines()[-1]))

    def _lines(self) -> list[bytes]:
        """The whole lines; the last may still be on its way."""
        with contextlib.suppress(FileNotFoundError):
            return self._truth.read_bytes().split(b"\n")[:-1]
        return []

    def at_rest(self, wait_s: float = 30.0) -> dict[str, Any]:
        """The first truth that was told from now on, of a spindle that stood for a second."""
        told = len(self._lines())
        found: list[dict[str, Any]] = []

        def rests() -> bool:
            lines = [json.loads(line) for line in self._lines()[told:][-3:]]
            found[:] = lines[-1:]
            return len(lines) == 3 and not any(line["moving"] for line in lines)

        wait_until(rests, wait_s, "the spindle rests")
        return found[0]

    def close(self) -> None:
        self._process.terminate()
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)
        if self._process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):
                self._process.stdin.close()


class Winding:
    """One ``winder wind`` whose terminal is ours."""

    def __init__(self, *words: str) -> None:
        self.said = ""
        self.process, self._terminal = pty.fork()
        if self.process == 0:
            for heard in (signal.SIGHUP, signal.SIGINT, signal.SIGQUIT):
                signal.signal(heard, signal.SIG_DFL)  # whoever runs this may ignore them
            os.environ.update(PYTHONUNBUFFERED="1", TERM="xterm-256color", COLUMNS=str(COLUMNS))
            os.execv(PROGRAM[0], [*PROGRAM, "wind", *words])
        size = struct.pack("HHHH", ROWS, COLUMNS, 0, 0)
        fcntl.ioctl(self._terminal, termios.TIOCSWINSZ, size)
        self.code: int | None = None  # its exit code; below 0: the signal that ended it

    def listen(self, wait_s: float) -> list[str]:
        """The whole lines that came within so long."""
        if self._terminal < 0 or not select.select([self._terminal], [], [], wait_s)[0]:
            return []
        try:
            data = os.read(self._terminal, 65536)
        except OSError:  # it has ended
            data = b""
        if not data:
            time.sleep(min(wait_s, 0.05))
        before = self.said.rpartition("\n")[2]
        text = data.decode(errors="replace").replace("\r\n", "\n")
        self.said += text
        return (before + text).split("\n")[:-1]

    def type(self, words: str) -> None:
        with contextlib.suppress(OSError):
            os.write(self._terminal, f"{words}\n".encode())

    def signal(self, number: signal.Signals) -> None:
        if not self.ended():
            os.kill(self.process, number)

    def close_terminal(self) -> None:
        if self._terminal >= 0:
            os.close(self._terminal)
            self._terminal = -1

    def fill_disk(self, *files: Path) -> None:
        """From now on no file of this process may grow: writes fail as on a full disk."""
        most = max((file.stat().st_size for file in files if file.exists()), default=0)
        with contextlib.suppress(ProcessLookupError):
            resource.prlimit(self.process, resource.RLIMIT_FSIZE, (most, resource.RLIM_INFINITY))

    def ended(self) -> bool:
        if self.code is None:
            found, status = os.waitpid(self.process, os.WNOHANG)
            if found:
                self.code = os.waitstatus_to_exitcode(status)
        return self.code is not None

    def end(self, wait_s: float) -> bool:
        """Wait for its end; after so long it is killed. True: it ended by itself."""
        until = time.monotonic() + wait_s
        while not self.ended() and time.monotonic() < until:
            if self._terminal < 0:
                time.sleep(0.05)
            self.listen(0.1)
        by_itself = self.ended()
        if not by_itself:
            os.kill(self.process, signal.SIGKILL)
            wait_until(self.ended, 10.0, "a killed process is gone")
        self.listen(0.0)
        self.close_terminal()
        return by_itself


@dataclass(frozen=True)
class Claim:
    """What the shelf says of the coil, in counts."""

    certainty: str
    low: int
    high: int | None  # None: nobody knows how many more

    @property
    def sure(self) -> bool:
        return self.certainty != "between"

    def holds(self, counts: int) -> bool:
        return self.low <= counts and (self.high is None or counts <= self.high)


def claim_on_shelf(logbook: Path) -> Claim | None:
    """Of the only coil there; None: nothing is claimed."""
    done = subprocess.run(
        [*PROGRAM, "shelf", "show", "1", "--json", "--logbook", str(logbook)],
        capture_output=True,
        timeout=60,
        check=False,
    )
    if done.returncode:
        return None
    count = json.loads(done.stdout).get("count")
    return Claim(count["certainty"], count["low"], count["high"]) if count else None


def true_counts(truth: dict[str, Any], counts_per_turn: int, pulled_counts: int) -> int:
    """Counts of wire on the coil: whole ones, as a person reads them off a mark for each."""
    return math.floor(truth["turns"] * counts_per_turn + 1e-4) - pulled_counts


def wait_until(come: Callable[[], bool], wait_s: float, what: str) -> None:
    until = time.monotonic() + wait_s
    while not come():
        if time.monotonic() > until:
            raise TooLong(f"not within {wait_s:g} s: {what}")
        time.sleep(0.05)


@contextlib.contextmanager
def serving(folder: Path, machine: Path, seed: int, *, resets: bool) -> Iterator[Bench]:
    bench = Bench(folder, machine, seed, resets=resets)
    try:
        yield bench
    finally:
        bench.close()
