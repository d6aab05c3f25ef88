"""Lint, format, types and the import law are part of the gate."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from source_tree import ROOT

CHECKS = {
    "lint": ["ruff", "check", "."],
    "format": ["ruff", "format", "--check", "."],
    "types": ["mypy"],
    "import law": ["lint-imports", "--no-cache"],
}


@pytest.mark.parametrize("name", CHECKS)
def test_the_tree_is_clean(name):
    tool, *words = CHECKS[name]
    program = Path(sys.executable).with_name(tool)
    done = subprocess.run([program, *words], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
