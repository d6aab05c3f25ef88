"""Where the sources are, for the house tests."""

from __future__ import annotations

import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("winder", "firmware_protocol")


def python_files(*folders: str) -> list[Path]:
    """All Python files below the folders, in a steady order."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def tracked_files() -> list[str]:
    """Every file under version control that is there, as paths from the root."""
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [name for name in done.stdout.split("\n")[:-1] if (ROOT / name).is_file()]
