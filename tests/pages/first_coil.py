"""The page of the first coil: what its commands print is written into it by running them.

``python -m tests.pages.first_coil`` runs every command of ``docs/first_coil.md`` in an empty folder and writes what they
print below them; ``--check`` compares. Days and the time it took here differ from run to run and are not compared.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.pages.reference_page import DOCS, main

PAGE = DOCS.parent / "first_coil.md"
RECIPE = re.compile(r"```toml\n(.*?)```", re.DOTALL)
COMMANDS = re.compile(r"```console\n(.*?)```", re.DOTALL)
WAIT_S = 300
VARYING = ((r"\d{4}-\d\d-\d\d", "0000-00-00"), (r"[\d.]+ s here", "0 s here"))


def run_line(command: str, folder: Path) -> str:
    """One line, by the shell, with this program on the path. Raises where it fails."""
    here = Path(sys.executable).parent
    environment = {
        **os.environ,
        "PATH": f"{here}{os.pathsep}{os.environ.get('PATH', '')}",
        "XDG_DATA_HOME": str(folder / "data"),
        "COLUMNS": "96",
    }
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", command], cwd=folder, capture_output=True, text=True,
        timeout=WAIT_S, input="", env=environment, check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{command}\n{done.stdout}{done.stderr}"
    return done.stdout


def page_text(before: str, folder: Path) -> str:
    """The page with what its commands print now, run one after the other in the folder."""
    recipe = RECIPE.search(before)
    assert recipe is not None
    (folder / "bass.toml").write_text(recipe[1], encoding="utf-8")

    def filled(block: re.Match[str]) -> str:
        lines = []
        for line in block[1].splitlines():
            if line.startswith("$ "):
                printed = run_line(line[2:], folder).splitlines()
                lines += [line, *(each.rstrip() for each in printed)]
        return "```console\n" + "\n".join(lines) + "\n```"

    return COMMANDS.sub(filled, before)


def comparable(text: str) -> str:
    """Without what differs from day to day."""
    for pattern, same in VARYING:
        text = re.sub(pattern, same, text)
    return text


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as empty:
        text = page_text(PAGE.read_text(encoding="utf-8"), Path(empty))
        sys.exit(main(PAGE, text))
