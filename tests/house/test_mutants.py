"""Planted mistakes must turn tests red: the gate is worth what it notices.

Each mutant is one small, plausible mistake in a copy of the tree, with the tests that ought to see it.
A mutant whose line is gone from the source is a failure too: it has to be written anew.
"""

from __future__ import annotations

import compileall
import os
import py_compile
import shutil
import subprocess
import sys

import pytest
from planted import ACCOUNT, LOGBOOK, MUTANTS, SCREENS, SESSION
from source_tree import PACKAGES, ROOT


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
    # Compiled once; by the hash of the source, so that a planted line is never run from an older file.
    checked = py_compile.PycInvalidationMode.CHECKED_HASH
    compileall.compile_dir(folder, quiet=2, invalidation_mode=checked)
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
            env={
                **os.environ,
                "PYTHONPATH": str(copied_tree),
                "PYTHONDONTWRITEBYTECODE": "1",
                "CORE_QUICKLY_BUILT": "1",
            },
        )  # fmt: skip
    finally:
        path.write_text(text)
    assert "make: ***" not in done.stdout, f"it cannot be built:\n{done.stdout[-2000:]}"
    assert done.returncode == 1, f"no test noticed:\n{done.stdout[-2000:]}{done.stderr[-500:]}"


def test_there_are_enough_of_them():
    assert len((*SESSION, *ACCOUNT, *LOGBOOK, *SCREENS)) >= 25
    assert len({mutant.what for mutant in MUTANTS}) == len(MUTANTS)
