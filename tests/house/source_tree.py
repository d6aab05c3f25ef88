"""Where the sources are, for the house tests."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("winder", "firmware_protocol")


def python_files(*folders: str) -> list[Path]:
    """All Python files below the folders, in a steady order."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))
