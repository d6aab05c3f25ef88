"""Reads the tour in ``docs/tour_pair.md`` and does what it says, command by command.

In its blocks a line ``$ winder ...`` is a command, a line ``> ...`` is typed into the wind once it waits, and any
other line stands in what the command prints. A block headed ``toml`` is the file named in its first line.

python -m tests.pages.tour FOLDER            does the tour in an empty folder and shows it
python -m tests.pages.tour FOLDER --write    and puts what is printed now into the page, where a line of it is near
"""

from __future__ import annotations

import codecs
import difflib
import os
import re
import select
import shlex
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

from winder.clock import wall_seconds

RERUN = "python -m tests.pages.tour FOLDER --write"
PAGE = Path(__file__).resolve().parents[2] / "docs" / "tour_pair.md"
PATIENCE_S = 90.0  # so that a wind that never waits ends the test
WAITS = re.compile(r"^type: (.*)$", re.MULTILINE)  # what the wind says can be typed now
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass
class Step:
    """One command, what is typed into it, and lines that it prints."""

    words: list[str]
    typed: list[str] = field(default_factory=list)
    prints: list[str] = field(default_factory=list)


def read_tour(page: str) -> tuple[dict[str, str], list[Step]]:
    """Files of the tour by name, and its steps in order."""
    files, steps = {}, []
    for kind, body in BLOCK.findall(page):
        if kind == "toml":
            first, _, rest = body.partition("\n")
            files[first.removeprefix("# ").strip()] = rest
            continue
        for line in body.replace("\\\n", "").splitlines():
            if line.startswith("$ winder "):
                steps.append(Step(shlex.split(line[len("$ winder ") :])))
            elif line.startswith("> "):
                steps[-1].typed.append(line[2:])
            elif line.strip() and line.strip() != "...":
                steps[-1].prints.append(line.rstrip())
    return files, steps


def do_step(step: Step, folder: Path) -> tuple[int, str]:
    """Exit code and all that was printed; what is typed comes when the wind says that it can."""
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "winder", *step.words],
        cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        env={**os.environ, "XDG_DATA_HOME": str(folder / "data"), "COLUMNS": "80"},
    ) as process:  # fmt: skip
        assert process.stdin is not None and process.stdout is not None
        try:
            seen, left = "", list(step.typed)
            decoder = codecs.getincrementaldecoder("utf-8")()
            until_s = wall_seconds() + PATIENCE_S
            while True:
                assert wall_seconds() < until_s, f"{step.words}: nothing more came\n{seen}"
                if not select.select([process.stdout], [], [], 0.2)[0]:
                    continue
                data = os.read(process.stdout.fileno(), 65536)
                if not data:
                    break
                seen += decoder.decode(data)
                possible = WAITS.findall(seen)
                if left and possible and left[0].split()[0] in possible[-1]:
                    process.stdin.write(f"{left.pop(0)}\n".encode())
                    process.stdin.flush()
        finally:
            process.kill()
    return process.returncode, seen


def main() -> int:
    folder, page = Path(sys.argv[1]), PAGE.read_text()
    files, steps = read_tour(page)
    for name, text in files.items():
        (folder / name).write_text(text)
    for step in steps:
        code, seen = do_step(step, folder)
        print(f"$ winder {shlex.join(step.words)}\n{seen}[{code}]\n")
        lines = [line.rstrip() for line in seen.splitlines()]
        for line in (each for each in step.prints if each not in lines):
            near = difflib.get_close_matches(line, lines, 1, 0.5)
            print(f"not printed: {line}\nnow: {near}\n")
            page = page.replace(f"\n{line}\n", f"\n{near[0]}\n", 1) if near else page
    if "--write" in sys.argv[2:]:
        PAGE.write_text(page)
    return 0


if __name__ == "__main__":
    sys.exit(main())
