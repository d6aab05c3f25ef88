"""Commits of a wind's journal on this disk, and in memory, beside plain ``sqlite3`` with as many bytes."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.lines import Line
from tests.commands.shelf_of_coils import enter
from winder.clock import wall_seconds
from winder.shelf import Logbook
from winder.wind.model import SessionEvent

COMMITS = 300


def lines() -> Iterator[Line]:
    with tempfile.TemporaryDirectory() as folder:
        with Logbook.open(Path(folder) / "logbook.sqlite") as logbook:
            ours, hold_s = _commits(logbook)
        peer = _plain(Path(folder) / "plain.sqlite")
    yield Line("journal, commits on the disk", ours, "a second", peer, "plain sqlite3, full sync")
    yield Line("journal, longest commit", 1e3 * hold_s, "ms", 500.0, "commit gap that is borne")
    with Logbook.in_memory() as logbook:
        yield Line(
            "journal, commits in memory", _commits(logbook)[0], "a second", ours, "on the disk"
        )


def _commits(logbook: Logbook) -> tuple[float, float]:
    run, longest_s, begun = enter(logbook, "drone", turns=1200), 0.0, wall_seconds()
    for number in range(COMMITS):
        from_s = wall_seconds()
        logbook.write(run, [SessionEvent("count", number, f"{number} turns", 20 * number)])
        longest_s = max(longest_s, wall_seconds() - from_s)
    return COMMITS / (wall_seconds() - begun), longest_s


def _plain(file: Path) -> float:
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE lines (number INTEGER, text TEXT)")
    begun = wall_seconds()
    for number in range(COMMITS):
        connection.execute("INSERT INTO lines VALUES (?, ?)", (number, f"{number} turns" * 8))
    connection.close()
    return COMMITS / (wall_seconds() - begun)
