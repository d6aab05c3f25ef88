"""Planted mistakes must turn tests red: the gate is worth what it notices.

Each mutant is one small, plausible mistake in a copy of the tree, with the tests that ought to see it.
A mutant whose line is gone from the source is a failure too: it has to be written anew.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass

import pytest
from source_tree import PACKAGES, ROOT


@dataclass(frozen=True)
class Mutant:
    what: str
    file: str
    before: str
    after: str
    tests: tuple[str, ...]


MUTANTS = (
    Mutant(
        "a lease that never ends",
        "firmware_protocol/device.py",
        "now_ms - self._alive_ms >= LEASE_MS",
        "now_ms - self._alive_ms >= 1000 * LEASE_MS",
        ("tests/protocol/test_device_end.py", "tests/protocol/test_device_motion.py"),
    ),
    Mutant(
        "stale commands are carried out",
        "firmware_protocol/device.py",
        "if self._is_stale(command):",
        "if False and self._is_stale(command):",
        ("tests/protocol/test_device_end.py",),
    ),
    Mutant(
        "frames whose CRC is wrong are taken",
        "firmware_protocol/framing.py",
        "len(body) < BODY_BYTES_MIN or zlib.crc32(body[:-4]) !=",
        "len(body) < BODY_BYTES_MIN or -1 ==",
        ("tests/protocol/test_golden_vectors.py", "tests/protocol/test_framing.py"),
    ),
    Mutant(
        "the journal is written after the sending",
        "winder/service/wind.py",
        "        self._keep(self.session.take_events(), now_ns)\n        for request",
        "        for request",
        ("tests/service/test_order_of_writing.py",),
    ),
    Mutant(
        "a hung screen keeps the motor's lease",
        "winder/service/run.py",
        "self._screen_age_s() < SCREEN_AGE_S_MAX",
        "True",
        ("tests/service/test_wind_run.py",),
    ),
    Mutant(
        "no caution before the first start",
        "winder/wind/asking.py",
        "if intent in TURNING and not beliefs.cautions_accepted:",
        "if False:",
        ("tests/wind",),
    ),
    Mutant(
        "a broken wire winds on",
        "winder/wind/asking.py",
        "if intent in MOTION and broke_at is not None:",
        "if False:",
        ("tests/wind/test_coil_orders.py",),
    ),
    Mutant(
        "the list before a wind is passed over",
        "winder/wind/beliefs.py",
        "if self.setting_up and not self.opened:",
        "if False:",
        ("tests/wind/test_set_up.py",),
    ),
    Mutant(
        "a coil past its target is complete",
        "winder/wind/beliefs.py",
        "return Seen.BEYOND if self.truth.high > left + spare else Seen.COMPLETE",
        "return Seen.COMPLETE",
        ("tests/wind/test_coil_orders.py",),
    ),
    Mutant(
        "edges that nobody drove leave the count exact",
        "winder/wind/truth.py",
        "    if not edges:\n        return truth",
        "    if edges >= 0:\n        return truth",
        ("tests/wind/test_count_truth.py",),
    ),
    Mutant(
        "commits that are not on the disk",
        "winder/shelf/book.py",
        "PRAGMA synchronous = FULL",
        "PRAGMA synchronous = OFF",
        ("tests/shelf",),
    ),
    Mutant(
        "a turn grows by pi per turn, not two",
        "winder/coil/window.py",
        "return self.perimeter_m + 2 * math.pi * self.build_m(turns, area_m2)",
        "return self.perimeter_m + math.pi * self.build_m(turns, area_m2)",
        ("tests/coil/test_outermost_turn.py",),
    ),
)


@pytest.fixture(scope="module")
def copied_tree(tmp_path_factory):
    folder = tmp_path_factory.mktemp("mutants")
    for name in (*PACKAGES, "tests", "docs", "pyproject.toml", "README.md"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(
                source, folder / name, ignore=shutil.ignore_patterns("build", "__pycache__")
            )
        else:
            shutil.copy(source, folder / name)
    return folder


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.what)
def test_a_planted_mistake_is_noticed(copied_tree, mutant):
    path = copied_tree / mutant.file
    text = path.read_text()
    assert text.count(mutant.before) == 1, "the mutant's line is gone: write it anew"
    path.write_text(text.replace(mutant.before, mutant.after))
    try:
        done = subprocess.run(
            [
                sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider",
                *mutant.tests,
            ],
            cwd=copied_tree, capture_output=True, text=True, timeout=300, check=False,
            env={**os.environ, "PYTHONPATH": str(copied_tree), "PYTHONDONTWRITEBYTECODE": "1"},
        )  # fmt: skip
    finally:
        path.write_text(text)
    assert done.returncode == 1, f"no test noticed:\n{done.stdout[-2000:]}{done.stderr[-500:]}"
