"""From an erased chip to a wound coil, by the commands of ``docs/build_a_board.md`` and no others."""

from __future__ import annotations

import json
import os
import re
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from emulator.builds import needs_cross_tools
from emulator.loaders import needs_loaders

from tests.commands.running import short_recipe_file

HERE = Path(__file__).parent
PAGE = (HERE.parents[1] / "docs" / "build_a_board.md").read_text(encoding="utf-8")
COUNTS, TURNS, WAIT_S = 4, 5, 120.0
CHIP_TIME = (
    "chip-time"  # every command lives by the emulated chip's clock, however busy the computer
)
# Without a terminal what only a person knows is said on the command line.
NO_TERMINAL = ["--plain", "--start", "--top", "operator", "--tension", "12 cN"]

pytestmark = [
    needs_cross_tools,
    needs_loaders,
    pytest.mark.skipif(
        not shutil.which("avrdude"),
        reason="NOT RUN, no image was loaded: avrdude missing (apt-get install avrdude)",
    ),
]


class Talk:
    """A process that is read as it speaks and answered as a person would."""

    def __init__(self, words: list[str], folder: Path, **more: str) -> None:
        path = f"{HERE}{os.pathsep}{HERE.parents[1]}"
        own = {"XDG_DATA_HOME": str(folder / "data"), "XDG_RUNTIME_DIR": str(folder / "run")}
        self.process = subprocess.Popen(
            words,
            cwd=folder,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, **own, "PYTHONPATH": path, "COLUMNS": "100"} | more,
        )
        self.told = ""

    def until(self, pattern: str) -> re.Match[str]:
        """Read on until this was said; what came before it is done with."""
        end = time.monotonic() + WAIT_S
        while not (found := re.search(pattern, self.told)):
            assert time.monotonic() < end, f"{pattern!r} was not said:\n{self.told}"
            assert self.process.stdout is not None
            if select.select([self.process.stdout], [], [], 0.5)[0]:
                data = os.read(self.process.stdout.fileno(), 4096)
                assert data, f"{pattern!r} was not said before the end:\n{self.told}"
                self.told += data.decode()
        self.told = self.told[found.end() :]
        return found

    def answer(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line.encode() + b"\n")
        self.process.stdin.flush()

    def end(self) -> tuple[int, str]:
        out, _ = self.process.communicate(timeout=WAIT_S)
        return self.process.returncode, self.told + out.decode()


@pytest.fixture
def chip(tmp_path):
    (tmp_path / "run").mkdir(mode=0o700)
    words = [sys.executable, "-m", "emulator.erased", "small", "--board", "smallest"]
    more = ["--counts", str(COUNTS), "--sensor", "1", "--time", str(tmp_path / CHIP_TIME)]
    made = Talk([*words, *more], tmp_path)
    made.port = made.until(r"(/dev/pts/\d+)\n")[1]
    yield made
    made.process.kill()
    made.process.communicate()


def counts_of(chip: Talk) -> int:
    """How far the spindle has truly turned."""
    chip.answer("facts")
    return int(json.loads(chip.until(r"(\{.*\})\n")[1])["count"])


def turn(chip: Talk, turns: float) -> None:
    """By hand, four fifths of a turn a second."""
    counts = round(turns * COUNTS)
    there = counts_of(chip) + counts
    chip.answer(f"force {COUNTS * 0.8:.2f} {counts}")
    end = time.monotonic() + WAIT_S
    while counts_of(chip) < there:
        assert time.monotonic() < end, "the spindle does not get there"
        time.sleep(0.2)


def commands_of_the_page(port: str, recipe: Path) -> list[list[str]]:
    """Those of the first evening, in their order."""
    first = PAGE[PAGE.index("## a.") : PAGE.index("## b.")]
    lines = re.findall(r"^    (winder .*)$", first, re.MULTILINE)
    here = {"PORT": port, "RECIPE": str(recipe)}
    by_chip = [sys.executable, "-m", "emulator.chip_time", CHIP_TIME]
    return [[*by_chip, *(here.get(word, word) for word in line.split())] for line in lines]


def test_an_erased_chip_becomes_a_counter_and_winds_a_coil(tmp_path, chip):
    recipe = short_recipe_file(tmp_path, turns=TURNS)
    listing, load, check, teach, wind = commands_of_the_page(chip.port, recipe)
    assert Talk(listing, tmp_path).end()[0] == 0
    loading = Talk(load, tmp_path)
    loading.answer("yes")
    code, told = loading.end()
    assert code == 0 and "Loaded and verified" in told, told
    chip.answer("pace 4")  # the loader's patience is over: what follows lives in the chip's time
    code, told = Talk(check, tmp_path).end()
    assert " clauses passed, " in told, told
    assert code == 0 and ", 0 failed," in told, told
    teaching = Talk(teach, tmp_path)
    teaching.until("What do you call")
    teaching.answer("drill of the tests")
    teaching.until("printed on the sensor")
    teaching.answer("")
    for _ in range(2):
        turns = int(teaching.until(r"slowly, (\d+) whole turns.*press Enter:")[1])
        turn(chip, turns)
        teaching.answer("")
    teaching.until("clockwise")
    teaching.answer("yes")
    code, told = teaching.end()
    assert code == 0 and "finds this machine." in told, told
    winding = Talk([*wind, *NO_TERMINAL, "--logbook", "book"], tmp_path)
    winding.until(r"of 5 turns")
    turn(chip, TURNS)
    code, told = winding.end()
    assert code == 0, told
    assert "5.00 of 5 turns" in told or "5 of 5 turns" in told, told
