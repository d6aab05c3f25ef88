"""The README is a promise: every command of its tour runs, the picture is the real screen's."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from source_tree import ROOT

README = (ROOT / "README.md").read_text()


def commands_of(section: str) -> list[str]:
    """The indented ``winder`` lines of a section, without their remarks."""
    body = README.split(f"## {section}\n", 1)[1].split("\n## ", 1)[0]
    lines = [line.strip() for line in body.splitlines() if line.startswith("    winder ")]
    return [line.split("  #")[0].strip() for line in lines]


def run(words: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", *words], cwd=folder, capture_output=True, text=True, timeout=120,
        input="", check=False,
        env={**__import__("os").environ, "XDG_DATA_HOME": str(folder / "data")},
    )  # fmt: skip


def test_the_tour_runs_from_an_empty_folder(tmp_path):
    tour = commands_of("Five minutes with it")
    assert len(tour) >= 7
    ran = []
    for command in tour:
        words = shlex.split(command)
        if "bench-port" in words or "/dev/" in command:
            continue  # the serial road has a test of its own; a device path needs the device
        if "--port" in words and "--start" not in words:
            words += [
                "--plain",
                "--start",
                "--top",
                "operator",
                "--tension",
                "12 cN",
            ]  # a screen needs a terminal; the wind is the same
            words[words.index("sim")] = "sim?pace=200"
        done = run(words, tmp_path)
        assert done.returncode == 0, f"{command}\n{done.stdout}{done.stderr}"
        ran.append(command)
    assert len(ran) >= 7


def test_the_test_command_is_the_one_ci_calls():
    (command,) = re.findall(r"^    (.*&& \.venv/bin/pytest)$", README, re.MULTILINE)
    script = (ROOT / ".ci" / "run").read_text()
    assert command in script


@pytest.mark.parametrize("page", re.findall(r"\]\(([^)]+\.(?:svg|md))\)", README))
def test_what_the_readme_points_to_is_there(page):
    assert (ROOT / page).is_file()


def test_every_page_the_readme_names_is_there():
    named = re.findall(r"`(docs/[^`]+|DEVELOPERS\.md)`", README)
    assert named
    for page in named:
        assert (ROOT / page).exists(), page
