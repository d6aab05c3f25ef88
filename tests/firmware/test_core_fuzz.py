"""The core and its frames under libFuzzer; planted bugs show that it would tell.

Beside nothing it is given a wind as a sensible host makes it, so that it soon knows the way to a turning spindle.
The sanitizers stop at any access out of bounds and any undefined arithmetic; the fuzz programs themselves stop
when something is driven that must not be. Beginning and number of runs are fixed, so a finding comes again.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from host.core import FIRMWARE, built, needs_clang, needs_compiler

pytestmark = [needs_compiler, needs_clang]

GATE_S = {"fuzz-core": 12, "fuzz-frame": 4}
RUNS_MAX = 40_000  # the planted bugs are found within a tenth of these
# `make fuzz` and then `build/fuzz-core -max_total_time=600` looks longer.

LEAD_ON, MOVES = 11, 60  # a deed of fuzz_core.c: what a sensible host says next
A_WIND = [bytes([how]) + bytes([LEAD_ON]) * MOVES for how in (0, 1, 2, 16 + 32)]

PLANTED = {
    "a buffer one byte too long": (
        "core/frame.c",
        "reader->length == STUFFED_BYTES_MAX",
        "reader->length > STUFFED_BYTES_MAX",
        "fuzz-frame",
    ),
    "more legs than there is room for": (
        "core/commands.c",
        " || legs > identity.legs_max || legs > CORE_LEGS_MAX",
        "",
        "fuzz-core",
    ),
    "a trip that leaves the drive on": (
        "core/board.c",
        "ORDER_ISOLATE : ORDER_CUT); /*",
        "ORDER_ISOLATE : ORDER_REST); /*",
        "fuzz-core",
    ),
    "a trip that leaves the guide on its way": (
        "core/motion.c",
        "motion_cut(false);\n        guide_halt();",
        "motion_cut(false);",
        "fuzz-core",
    ),
}


def fuzz(program: Path, place: Path, *words: str) -> subprocess.CompletedProcess[str]:
    seeds = place / "seeds"
    seeds.mkdir()
    for number, deeds in enumerate(A_WIND):
        (seeds / str(number)).write_bytes(deeds)
    command = [str(program), "-seed=1", "-max_len=600", *words, str(seeds)]
    return subprocess.run(command, cwd=place, capture_output=True, text=True)


@pytest.mark.parametrize("name", GATE_S)
def test_nothing_is_found(name, tmp_path):
    done = fuzz(built("fuzz") / name, tmp_path, f"-max_total_time={GATE_S[name]}")
    assert done.returncode == 0, done.stderr[-4000:]
    assert int(done.stderr.split("Done ")[1].split()[0]) > 1000, done.stderr[-2000:]


@pytest.mark.parametrize("bug", PLANTED)
def test_a_planted_bug_is_found(bug, tmp_path):
    file, right, wrong, program = PLANTED[bug]
    sources = tmp_path / "firmware"
    shutil.copytree(FIRMWARE, sources, ignore=shutil.ignore_patterns("build"))
    path = sources / file
    text = path.read_text()
    assert text.count(right) == 1
    path.write_text(text.replace(right, wrong))
    done = fuzz(built("fuzz", sources) / program, tmp_path, f"-runs={RUNS_MAX}")
    assert done.returncode != 0, done.stderr[-2000:]
    assert "SUMMARY" in done.stderr
