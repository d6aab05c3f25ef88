"""How long the shelf takes with many coils: ``python tests/benchmarks/bench_shelf.py [coils]``.

Each coil has a run, 40 lines of journal and a reading. Told is the best of five, imports done: a command from its
words to all it printed, a screen until the new list is painted.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
from functools import partial
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "screens")]

from piloting import Stage, on_stage  # noqa: E402
from textual import events  # noqa: E402

from tests.commands.shelf_of_coils import enter  # noqa: E402
from winder.clock import wall_seconds  # noqa: E402
from winder.commands.main import build_parser  # noqa: E402
from winder.commands.said import said  # noqa: E402
from winder.screens.start_screen import StartScreen  # noqa: E402
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


def told(name: str, times_s: list[float]) -> None:
    print(f"{name:<15}{1e3 * min(times_s):6.0f} ms", flush=True)


def commands(file: Path) -> None:
    for name, words in (("list", ()), ("search", ("--name=199", "--ohms=200..230"))):
        times = []
        for _ in range(ROUNDS):
            begun = wall_seconds()
            said(build_parser(), ["shelf", "list", *words, "--logbook", str(file)])
            times.append(wall_seconds() - begun)
        told(name, times)


async def screens(figures: dict[str, list[float]], stage: Stage) -> None:
    """The start screen looking again, its shelf being opened, and a search there."""
    start = stage.app.screen
    assert isinstance(start, StartScreen)
    for _ in range(ROUNDS):
        begun = wall_seconds()
        start.reload()
        await stage.pilot.pause()
        figures["start screen"].append(wall_seconds() - begun)
    for _ in range(ROUNDS):
        figures["its shelf"].append(await until_painted(stage, "s", "the newest 200"))
        await stage.pilot.press("slash", *"199")
        figures["a search there"].append(await until_painted(stage, "enter", "found by: 199"))
        await stage.pilot.press("escape")


async def until_painted(stage: Stage, key: str, words: str) -> float:
    """Seconds from the key until these words stand on the screen."""
    begun = wall_seconds()
    stage.app.post_message(events.Key(key, None))
    while words not in stage.text:
        await asyncio.sleep(0.001)
    return wall_seconds() - begun


def main() -> int:
    coils = int(sys.argv[1]) if len(sys.argv) > 1 else COILS
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "logbook.sqlite"
        fill(file, coils)
        print(f"{coils} coils, {file.stat().st_size / 1e6:.1f} MB")
        commands(file)
        workbench = LocalWorkbench(str(file), None, partial(said, build_parser()))
        figures: dict[str, list[float]] = {
            "start screen": [],
            "its shelf": [],
            "a search there": [],
        }
        on_stage(partial(screens, figures), workbench=workbench)
        for name, times in figures.items():
            told(name, times)
    return 0


if __name__ == "__main__":
    sys.exit(main())
