"""What holds for the whole gate: a skip is loud, and under CI it is a failure.

A test that needs a tool of the system says so in the reason of its skip: ``NOT RUN, what was not tested: tool
missing (apt-get install package)``. The end of the run counts them for each tool, and prints the one line
that installs all of them.
"""

from __future__ import annotations

import atexit
import os
import re
import shutil
import tempfile
from collections import Counter

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "gate", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("gate")

if worker := os.environ.get("PYTEST_XDIST_WORKER"):
    # A port's lock goes by its name, and a closed pseudo-terminal's number is soon another worker's.
    locks = tempfile.mkdtemp(prefix=f"winder-{worker}-")
    atexit.register(shutil.rmtree, locks, ignore_errors=True)
    os.environ["XDG_RUNTIME_DIR"] = locks

# They mostly wait, and go first: begun last, one of them would keep everybody waiting.
LONG = frozenset((
    "test_bench_troubles", "test_conformance_on_boards", "test_erased_to_wound",
    "test_host_board_home", "test_kill_and_continue", "test_loading",
))  # fmt: skip

UNDER_CI = "skipped under CI, which counts as a failure"
MISSING = re.compile(
    r"NOT RUN, (?P<what>.+): (?P<tools>.+) missing \(apt-get install (?P<names>.+?)\)"
)


def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: item.path.stem not in LONG)


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item, call):
    outcome = yield
    report = outcome.get_result()
    if report.skipped and os.environ.get("CI") == "true" and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{UNDER_CI}: {reason_of(report)}"


def reason_of(report) -> str:
    """Why a test was skipped, also where the skip counts as a failure."""
    if isinstance(report.longrepr, tuple):  # file, line, reason
        return report.longrepr[2].removeprefix("Skipped: ")
    return str(report.longrepr).removeprefix(f"{UNDER_CI}: ")


def pytest_terminal_summary(terminalreporter):
    """Says what was not run, and the line that installs what it wants."""
    of = terminalreporter.stats
    reports = [
        *of.get("skipped", []),
        *(
            report
            for report in (*of.get("failed", []), *of.get("error", []))
            if str(report.longrepr).startswith(UNDER_CI)
        ),
    ]
    if not reports:
        return
    counts: Counter[str] = Counter()
    packages: set[str] = set()
    for report in reports:
        if (found := MISSING.search(reason := reason_of(report))) is None:
            counts[f"for another reason: {reason}"] += 1
            continue
        counts[f"for want of {found['tools']}: {found['what']}"] += 1
        packages |= set(found["names"].split())
    tests = "test was" if len(reports) == 1 else "tests were"
    terminalreporter.section(f"{len(reports)} {tests} NOT RUN", bold=True)
    for why, number in sorted(counts.items(), key=lambda each: (-each[1], each[0])):
        terminalreporter.line(f"{number:5} {why}")
    if packages:
        terminalreporter.line(f"to run them: apt-get install {' '.join(sorted(packages))}")
