"""The bells as a real terminal gets them (recorded by tmux): each event once, none when they are turned off."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from winder.screens.calls import Call

pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="apt-get install tmux")
ROOT = Path(__file__).resolve().parents[2]
WAIT_S = 60


@pytest.mark.parametrize(("word", "rung"), [("", sum(len(c.bells_ms) for c in Call)), ("quiet", 0)])
def test_each_event_rings_once(tmp_path, word, rung):
    socket, seen, done = tmp_path / "tmux", tmp_path / "seen", tmp_path / "done"
    tmux = ["tmux", "-S", str(socket), "-f", "/dev/null"]
    subprocess.run([*tmux, "new-session", "-d", "-x", "100", "-y", "30", "sh"], check=True)
    try:
        subprocess.run([*tmux, "pipe-pane", f"cat > '{seen}'"], check=True)
        line = f"cd '{ROOT}' && '{sys.executable}' -m tests.screens.calls_in_turn {word}; touch '{done}'"
        subprocess.run([*tmux, "send-keys", line, "Enter"], check=True)
        until = time.monotonic() + WAIT_S
        while not done.exists():
            assert time.monotonic() < until, seen.read_text(errors="replace")[-2000:]
            time.sleep(0.2)
        time.sleep(0.3)
    finally:
        subprocess.run([*tmux, "kill-server"], check=False)
    titles_left_out = re.sub(
        rb"\x1b\][^\a\x1b]*\a", b"", seen.read_bytes()
    )  # they end in a bell too
    assert titles_left_out.count(b"\a") == rung
