"""Dialogues and winds with address and undefined-behaviour sanitizers in the core.

The sanitizer's library must be in the process before anything else, so they run in a process of their own.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from host.core import built, needs_compiler, run

pytestmark = needs_compiler

SCRIPT = Path(__file__).parent / "host" / "sanitized_run.py"


def environment() -> dict[str, str]:
    library = run(["gcc", "-print-file-name=libasan.so"]).strip()
    # Python's own memory is not what is looked at.
    return os.environ | {
        "LD_PRELOAD": library,
        "ASAN_OPTIONS": "detect_leaks=0",
        "PYTHONPATH": os.pathsep.join((str(SCRIPT.parents[1]), str(SCRIPT.parents[3]))),
    }


def test_no_sanitizer_speaks_in_dialogues_and_winds():
    built("host-sanitized")  # without the library loaded, for the compiler too would have it
    done = subprocess.run(
        [sys.executable, str(SCRIPT)], env=environment(), capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr[-4000:]
    assert done.stdout.split() == ["COMPLETE", "True", "COMPLETE", "True", "13500", "steps"]


def test_the_sanitizers_are_in():
    """An index out of bounds, asked for on purpose, ends the process."""
    built("host-sanitized")
    wrong = (
        "from host.core import load\n"
        "load('libboard.so', 'host-sanitized').cobs_decode(bytes((200, 1)), 255)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", wrong], env=environment(), capture_output=True, text=True
    )
    assert done.returncode != 0
    assert "AddressSanitizer" in done.stderr, done.stderr[-2000:]
