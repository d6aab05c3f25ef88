"""Writing a reference page from the code, or comparing it with the one in the tree.

A page holds no date and no machine, so that the same code always gives the same page.
"""

from __future__ import annotations

import argparse
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs" / "reference"


def main(page: Path, text: str, words: list[str] | None = None) -> int:
    """Writes the page, or with ``--check`` tells whether it is up to date. An exit code."""
    parser = argparse.ArgumentParser(description=f"Write {page.name} from the code.")
    parser.add_argument("--check", action="store_true", help="compare only; exit 1 when it differs")
    if parser.parse_args(words).check:
        found = page.read_text(encoding="utf-8") if page.exists() else ""
        if found == text:
            return 0
        print(f"{page} is not what the code says; write it again without --check")
        return 1
    page.parent.mkdir(parents=True, exist_ok=True)
    page.write_text(text, encoding="utf-8", newline="\n")
    return 0
