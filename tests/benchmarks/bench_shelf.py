"""How long the shelf takes with many coils: ``python tests/benchmarks/bench_shelf.py [coils]``.

Each coil has a run, 40 lines of journal and a reading. Told is the best of five, imports done.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.commands.shelf_of_coils import enter  # noqa: E402
from winder.clock import wall_seconds  # noqa: E402
from winder.commands.shelf_list import chosen  # noqa: E402
from winder.service.workbench import LocalWorkbench  # noqa: E402
from winder.shelf import Logbook  # noqa: E402
from winder.wind.model import How, SessionEvent  # noqa: E402

COILS, LINES, ROUNDS = 2000, 40, 5


def fill(file: Path, coils: int) -> None:
    """A logbook of so many coils: one made as a wind would, and the rest its copies by SQL."""
    with Logbook.open(file) as logbook:
        run = enter(logbook, "drone", turns=1200)
        logbook.write(run, [SessionEvent("count", n, f"turn {n}", 20 * n) for n in range(LINES)])
        logbook.end_run(run, How.COMPLETE, measured_ohm=225.0, measured_at_c=21.0)
        with logbook.book.transaction() as execute:
            for number in range(2, coils + 1):
                for table, change in (
                    ("coils", {"id": number, "name": f"drone {number}"}),
                    ("runs", {"id": number, "coil": number}),
                    ("journal", {"run": number}),
                    ("readings", {"id": number, "coil": number}),
                ):
                    names = [row["name"] for row in execute(f"PRAGMA table_info({table})")]
                    chosen_ = ", ".join("?" if name in change else name for name in names)
                    one = {"coils": "id", "runs": "id", "journal": "run", "readings": "id"}[table]
                    values = [change[name] for name in names if name in change]
                    sql = f"INSERT INTO {table} SELECT {chosen_} FROM {table} WHERE {one} = 1"
                    execute(sql, values)


def best_ms(what) -> float:
    times = []
    for _ in range(ROUNDS):
        begun = wall_seconds()
        what()
        times.append(wall_seconds() - begun)
    return 1e3 * min(times)


def main() -> int:
    coils = int(sys.argv[1]) if len(sys.argv) > 1 else COILS
    asked = argparse.Namespace(
        name="199", wire=None, spool=None, state=None, since=None, ohms="200..230", turns=None,
        hidden=False, simulated=False, json=False,
    )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "logbook.sqlite"
        fill(file, coils)

        def rows():
            with Logbook.open(file, read_only=True) as logbook:
                return logbook.coils()

        print(f"{coils} coils, {file.stat().st_size / 1e6:.1f} MB")
        print(f"list          {best_ms(rows):6.0f} ms")
        print(f"search        {best_ms(lambda: chosen(rows(), asked)):6.0f} ms")
        print(f"start screen  {best_ms(LocalWorkbench(str(file)).shelf):6.0f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
