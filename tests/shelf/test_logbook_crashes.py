"""What was committed survives: a process killed at any moment, a log torn at any byte.

SQLite's promise for write-ahead logs with ``synchronous=FULL`` (sqlite.org/wal.html,
sqlite.org/pragma.html#pragma_synchronous); killing a process tests the order of our own steps, and the
torn log stands in for the power that went.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import pytest

import winder
from winder.shelf import Logbook
from winder.wind.model import SessionEvent

ROOT = Path(winder.__file__).parent.parent
ROUNDS = 6
SEED = 20261125

# Writes bursts of one to four events for ever; reports each number once it is committed.
WRITER = """
import sys
from winder.shelf import Logbook
from winder.wind.model import SessionEvent
logbook, run, number = Logbook.open(sys.argv[1]), int(sys.argv[2]), 0
while True:
    burst = [SessionEvent("count", n, f"turn {n}", n) for n in range(number + 1, number + 2 + number % 4)]
    logbook.write(run, burst)
    number += len(burst)
    print(number, flush=True)
"""


def counts_on_record(file: Path) -> list[int | None]:
    with Logbook.open(file) as logbook:
        (row,) = logbook.coils()
        assert row.under_way
        (record,) = logbook.coil(row.coil_id).runs
        return [line.counts for line in record.lines]


@pytest.mark.parametrize("round_number", range(ROUNDS))
def test_all_that_was_reported_before_a_kill_is_there(file, made, round_number):
    chance = random.Random(SEED + round_number)
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, file, str(run_id)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as writer:
        reported = [int(writer.stdout.readline())]
        # The moment is random in itself; the seed only spreads the rounds.
        killing = threading.Timer(chance.uniform(0.0, 0.15), writer.kill)
        killing.start()
        reported += [int(text) for text in writer.stdout if text.endswith("\n")]
        killing.join()
    found = counts_on_record(file)
    assert len(found) >= reported[-1]
    assert found == list(range(1, len(found) + 1))
    assert len(found) - reported[-1] <= 4  # nothing but the burst that was under way


def test_a_torn_log_recovers_as_an_exact_prefix(file, made, tmp_path):
    chance = random.Random(SEED)
    committed = 0
    ends = {0}
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
        for _ in range(60):
            size = chance.randrange(1, 5)
            logbook.write(
                run_id,
                [
                    SessionEvent("count", n, "x" * 200, n)
                    for n in range(committed + 1, committed + size + 1)
                ],
            )
            committed += size
            ends.add(committed)
        log = file.with_name(file.name + "-wal").read_bytes()
        shutil.copy(file, tmp_path / "kept")
    lengths = set()
    for round_number in range(40):
        torn = tmp_path / f"torn{round_number}.sqlite"
        shutil.copy(tmp_path / "kept", torn)
        torn.with_name(torn.name + "-wal").write_bytes(log[: chance.randrange(len(log) + 1)])
        with Logbook.open(torn) as logbook:
            coils = logbook.coils()
            lines = logbook.coil(coils[0].coil_id).runs[0].lines if coils and coils[0].runs else ()
        found = [line.counts for line in lines]
        assert found == list(range(1, len(found) + 1))
        assert len(found) in ends  # whole commits only
        lengths.add(len(found))
    assert len(lengths) > 10  # the cuts fell all over the log


def test_a_logbook_left_by_a_killed_program_can_be_read_without_writing(file, made, tmp_path):
    copy = tmp_path / "copy.sqlite"
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
        logbook.write(run_id, [SessionEvent("count", 1, "turn 1", 20)])
        shutil.copy(file, copy)
        shutil.copy(file.with_name(file.name + "-wal"), copy.with_name(copy.name + "-wal"))
    with Logbook.open(copy, read_only=True) as logbook:
        assert len(logbook.coil(1).runs[0].lines) == 1
