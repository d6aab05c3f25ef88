"""How much of the C core the core's tests reach: ``python -m tests.campaigns.core_coverage``.

Builds the core for this computer with gcov's counters, runs ``tests/firmware/test_core_*`` and the dialogues of
``test_same_answers`` over it, and prints for each file of the core the share of lines and branches that ran and
the lines that did not. gcov is the compiler's own (GCC manual, chapter 11). Returns 1 if a line was not reached.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
FIRMWARE = ROOT / "firmware_protocol" / "firmware"
TESTS = ("tests/firmware/test_same_answers.py",)
LIMIT_S = 3600


def run_tests(folder: Path) -> None:
    """The core's tests over libraries that count, built into this folder."""
    core = sorted(
        str(p.relative_to(ROOT)) for p in (ROOT / "tests/firmware").glob("test_core_*.py")
    )
    chosen = [name for name in core if "sanitized" not in name and "fuzz" not in name]
    command = [sys.executable, "-m", "pytest", "-q", "-n", "0", *chosen, *TESTS]
    environment = os.environ | {"CORE_COVERAGE_FOLDER": str(folder)}
    subprocess.run(command, cwd=ROOT, env=environment, check=True, timeout=LIMIT_S)


def merged(folder: Path) -> dict[str, tuple[dict[int, int], dict[tuple[int, int], int]]]:
    """By file: how often each line ran, and each branch, over all libraries."""
    found: dict[str, tuple[dict[int, int], dict[tuple[int, int], int]]] = {}
    notes = [str(path) for path in folder.glob("*.gcda")]
    text = subprocess.run(
        ["gcov", "-t", "-b", "-c", *notes], cwd=FIRMWARE, capture_output=True, text=True, check=True
    ).stdout
    name, line, branch = "", 0, 0
    for row in text.splitlines():
        if source := re.match(r" +-: +0:Source:(.*)", row):
            name = source[1]
        elif counted := re.match(r" +([#=\d-]+)\*?: +(\d+):", row):
            line, branch = int(counted[2]), 0
            if counted[1] != "-" and name.startswith("core/"):
                ran = 0 if counted[1][0] in "#=" else int(counted[1])
                lines = found.setdefault(name, ({}, {}))[0]
                lines[line] = lines.get(line, 0) + ran
        elif taken := re.match(r"branch +\d+ (?:taken (\d+)|never executed)", row):
            if name.startswith("core/"):
                branches = found.setdefault(name, ({}, {}))[1]
                key = (line, branch)
                branches[key] = branches.get(key, 0) + int(taken[1] or 0)
            branch += 1
    return found


def share_of(reached: int, all_of_them: int) -> str:
    return f"{100 * reached / all_of_them:.1f} %" if all_of_them else "-"


def main() -> int:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        run_tests(folder)
        found = merged(folder)
    sums = [0, 0, 0, 0]  # lines reached, lines, branches taken, branches
    print("| file | lines | reached | branches | taken | lines not reached |")
    print("|---|---|---|---|---|---|")
    for name, (lines, branches) in sorted(found.items()):
        missed = [line for line, ran in sorted(lines.items()) if not ran]
        taken = sum(1 for ran in branches.values() if ran)
        row = (len(lines) - len(missed), len(lines), taken, len(branches))
        sums = [before + more for before, more in zip(sums, row, strict=True)]
        reached, shares = share_of(*row[:2]), share_of(*row[2:])
        told = ", ".join(str(line) for line in missed)
        print(f"| {name} | {row[1]} | {reached} | {row[3]} | {shares} | {told} |")
    print(f"| all | {sums[1]} | {share_of(*sums[:2])} | {sums[3]} | {share_of(*sums[2:])} | |")
    if sums[0] < sums[1]:
        print(f"{sums[1] - sums[0]} lines of the core are reached by no test", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
