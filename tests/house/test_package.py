"""The wheel holds what a user needs: both packages, tables, examples and the C sources."""

from __future__ import annotations

import subprocess
import sys
import zipfile

import pytest
from source_tree import ROOT, tracked_files


@pytest.fixture(scope="module")
def wheel_names(tmp_path_factory) -> set[str]:
    folder = tmp_path_factory.mktemp("wheel")
    done = subprocess.run(
        [
            sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation",
            "--wheel-dir", str(folder), str(ROOT),
        ],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    (wheel,) = folder.glob("exact_turns-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


def test_every_file_of_both_packages_is_in_the_wheel(wheel_names):
    wanted = {
        name for name in tracked_files() if name.startswith(("winder/", "firmware_protocol/"))
    }
    assert len(wanted) > 100
    assert wanted <= wheel_names, sorted(wanted - wheel_names)


def test_nothing_else_is_in_the_wheel(wheel_names):
    for name in wheel_names:
        assert name.startswith(("winder/", "firmware_protocol/", "exact_turns-")), name
        assert "/build/" not in name and "__pycache__" not in name, name
