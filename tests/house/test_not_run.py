"""The end of a run says what was not run, for want of what, and the line that installs it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from source_tree import ROOT

TESTS = """
import pytest

chip = pytest.mark.skipif(
    True, reason="NOT RUN, the chip was not tested: avr-gcc, make missing (apt-get install gcc-avr make)"
)

@chip
def test_one(): pass

@chip
def test_two(): pass

def test_three(): pytest.skip("NOT RUN, nothing was fuzzed: clang missing (apt-get install clang make)")

def test_four(): pytest.skip("the moon is full")

def test_five(): pass
"""


@pytest.mark.parametrize("spread", [[], ["-n", "2"]], ids=["one process", "two"])
@pytest.mark.parametrize("under_ci", [False, True])
def test_the_end_of_the_run_says_what_was_not_run(tmp_path: Path, under_ci, spread):
    (tmp_path / "conftest.py").write_bytes((ROOT / "tests" / "conftest.py").read_bytes())
    (tmp_path / "test_some.py").write_text(TESTS)
    environment = {name: value for name, value in os.environ.items() if name != "CI"}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *spread, "test_some.py"],
        cwd=tmp_path, capture_output=True, text=True, timeout=120,
        env=environment | ({"CI": "true"} if under_ci else {}),
    )  # fmt: skip
    end = done.stdout[done.stdout.index("4 tests were NOT RUN") :].splitlines()
    assert end[1:5] == [
        "    2 for want of avr-gcc, make: the chip was not tested",
        "    1 for another reason: the moon is full",
        "    1 for want of clang: nothing was fuzzed",
        "to run them: apt-get install clang gcc-avr make",
    ]
    assert done.returncode == (1 if under_ci else 0)
