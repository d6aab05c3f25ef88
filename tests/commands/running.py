"""Run the command line as a person would: a process of its own, its words, its exit code."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def winder(*words: str, cwd: Path | None = None, typed: str = "", wait_s: float = 120):
    """One ``winder`` command; its output as text."""
    return subprocess.run(
        [sys.executable, "-m", "winder", *words],
        capture_output=True,
        text=True,
        cwd=cwd,
        input=typed,
        timeout=wait_s,
        env={**os.environ, "COLUMNS": "100"},
        check=False,
    )


# A wind without a screen that starts at once: what only a person knows is said.
AT_ONCE = ("--plain", "--start", "--top", "operator", "--tension", "12 cN")
SHORT = """\
name = "test coil"
note = "Invented, for the tests."

[wire]
gauge = "42 AWG"
film = "single"

[bobbin]
shape = "round"
diameter = "10 mm"
width = "8 mm"
flange_height = "4 mm"

[target]
turns = {turns}

[winding]
direction = "clockwise"
{more}
"""


def short_recipe_file(folder: Path, turns: int = 40, more: str = "") -> Path:
    path = folder / "short.toml"
    path.write_text(SHORT.format(turns=turns, more=more))
    return path
