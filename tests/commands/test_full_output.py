"""An output that has no room any more, a file on a full disk: told in one line, with exit code 1."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

FULL = "/dev/full"  # of Linux: whatever is written there has no room


@pytest.mark.skipif(
    not os.path.exists(FULL), reason="NOT RUN, an output without room: no /dev/full here"
)
@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("words", [("help", "measuring"), ("desk", "reading", "832 ohm, 27 C")])
def test_an_output_without_room_is_told_in_one_line(words, unbuffered):
    environment = {**os.environ, "PYTHONUNBUFFERED": unbuffered}
    with open(FULL, "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "winder", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=120,
            env=environment,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "the output could not be written (No space left on device); make room" in done.stderr
