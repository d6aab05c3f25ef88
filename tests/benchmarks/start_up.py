"""What a verb costs before and with its work, beside bare Python and beside the limit we set."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import winder
from tests.benchmarks.lines import Line, core_s

EXAMPLE = str(Path(winder.__file__).parent / "recipe" / "examples" / "sensor.toml")
LIMITS_MS = {
    ("--help",): 80.0,
    ("rehearse", "--help"): 80.0,
    ("sheet", EXAMPLE): 200.0,
    ("plan", EXAMPLE): 200.0,
    ("rehearse", EXAMPLE): 700.0,
}


def lines() -> Iterator[Line]:
    bare_ms = 1e3 * core_s(lambda: _run("-c", "pass"), 5)
    yield Line("bare Python", bare_ms, "ms", bare_ms, "itself")
    for words, limit_ms in LIMITS_MS.items():
        spent_ms = 1e3 * core_s(partial(_run, "-m", "winder", *words), 5)
        shown = " ".join(Path(word).name for word in words)
        yield Line(f"winder {shown}", spent_ms, "ms", limit_ms, "limit")


def _run(*words: str) -> None:
    # As everybody has it: compiled files are kept, and the first of several goes pays for them.
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run(
        [sys.executable, *words], check=True, stdout=subprocess.DEVNULL, timeout=120, env=kept
    )
