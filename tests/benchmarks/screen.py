"""What the wind screen costs, and whether the link's loop waits for it: real programs on pseudo-terminals of 120x40.

The share of a core at twenty statuses a second is held against the same content in the toolkit's own widgets, in the same
run, and against a limit. Then a wind in real time: the longest gap between two steps of the link's loop where the
terminal takes all at once, takes a thousand bytes a second, and takes nothing at all.
"""

from __future__ import annotations

import fcntl
import json
import os
import pty
import select
import struct
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.lines import Line

SECONDS = 10.0
LIMIT_PERCENT = 10.0
SIZE = (40, 120)
WAIT_S = 120.0
LOOK_S = 0.1
FAST, SLOW, STUCK = 1 << 20, 1000, 0  # bytes a second that the terminal takes
ROOT = Path(__file__).parents[2]


def lines() -> Iterator[Line]:
    own, stock = (shown(what, FAST) for what in ("own", "stock"))
    core, theirs = float(own["core_percent"]), float(stock["core_percent"])
    yield Line("wind screen, 20 statuses a second", core, "% of a core", theirs, "stock widgets")
    yield Line("wind screen, beside its limit", core, "% of a core", LIMIT_PERCENT, "limit")
    at_once = float(shown("wind", FAST)["most_ms"])
    for rate, name in ((SLOW, f"a terminal of {SLOW} bytes a second"), (STUCK, "a stuck terminal")):
        most = float(shown("wind", rate)["most_ms"])
        yield Line(
            f"longest gap of the link's loop, {name}", most, "ms", at_once, "terminal at once"
        )

    hung = float(shown("disk", FAST)["most_ms"])
    yield Line(
        "longest gap of the link's loop, a disk that hangs", hung, "ms", 1000.0, "that second"
    )


def shown(what: str, rate: int, seconds: float = SECONDS) -> dict[str, float | str]:
    """Run the program on a terminal that takes ``rate`` bytes a second once the measuring has begun."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "facts.json"
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", *SIZE, 0, 0))
        words = [
            sys.executable,
            "-m",
            "tests.benchmarks.screen_shown",
            what,
            str(seconds),
            str(file),
        ]
        surroundings = os.environ | {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
        program = subprocess.Popen(
            words, stdin=theirs, stdout=theirs, stderr=theirs, cwd=ROOT, env=surroundings,
            start_new_session=True,
        )  # fmt: skip
        os.close(theirs)
        try:
            _read(ours, rate, Path(f"{file}.begun"), program)
        finally:
            program.kill()
            program.wait()
            os.close(ours)
        if not file.exists():
            raise RuntimeError(f"{what} measured nothing; start it by hand: {' '.join(words[1:])}")
        return dict(json.loads(file.read_text()))


def _read(terminal: int, rate: int, begun: Path, program: subprocess.Popen[bytes]) -> None:
    """Take what the program writes: all of it at first, at the rate once it measures."""
    until = time.monotonic() + WAIT_S
    while program.poll() is None and time.monotonic() < until:
        takes = FAST if not begun.exists() else rate
        if takes < FAST:
            time.sleep(LOOK_S)
        most = int(takes * LOOK_S)
        if most and select.select([terminal], [], [], LOOK_S)[0]:
            try:
                os.read(terminal, most)
            except OSError:  # the program is gone
                return
