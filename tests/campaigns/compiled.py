"""Campaigns on a compiled copy: ``python -m tests.campaigns.compiled FOLDER [--check N]``.

A campaign of 100,000 winds spends its time in the board, the link and the session, a little in each of hundreds of
functions. Here the same source is copied to FOLDER and these rooms are compiled there by mypyc (it comes with mypy) and
the C compiler; nothing of it is installed. A campaign then runs in that folder:

    cd FOLDER && python -m winder rehearse --faults all --runs 100000 --seed 1

``--check N`` plays N faulty scenes with the plain program and with the copy, and compares all that each came to.
What fails in the copy names its kind and seed: the plain program plays the same again.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("firmware_protocol", "winder")
ENDS = [
    "connection",
    "device",
    "device_board",
    "device_commands",
    "device_plan",
    "framing",
    "host_command",
    "host_stopping",
]
ROOMS = ("winder/simulator", "winder/wind")
BESIDE = (
    "winder/clock",
    "winder/laboratory/cable",
    "winder/laboratory/judge",
    "winder/laboratory/scene_person",
    "winder/laboratory/underway",
    "winder/links/line",
    "winder/links/simulated_link",
)
# What mypyc cannot compile (a number that is now whole, now not; names set in the body of a class), and what runs seldom.
LEFT_AS_IT_IS = {
    *("advice", "draw", "goal", "guide", "hands", "host_stop", "instruments", "model"),
    *("set_up_list", "shop", "viewing", "wording"),
}
SETUP = """
from setuptools import setup
from mypyc.build import mypycify
FILES = {files!r}
setup(name="campaigns", packages=[], ext_modules=mypycify(FILES, opt_level="1", debug_level="0", multi_file=True))
"""
PLAY = """
import dataclasses, json, sys
from winder.laboratory import judge
from winder.laboratory.faulty import names_of, rehearse_scene
from winder.simulator.scene import draw_kind, draw_scene
names = names_of("all,clean")
for seed in range(1, int(sys.argv[1]) + 1):
    outcome = rehearse_scene(draw_scene(draw_kind(names, seed), seed))
    print(json.dumps(dataclasses.asdict(outcome)))
print(judge.__file__)
"""


def files() -> list[str]:
    """What is compiled, from the root."""
    rooms = [path for room in ROOMS for path in sorted((ROOT / room).glob("*.py"))]
    named = [str(path.relative_to(ROOT)) for path in rooms if path.stem not in LEFT_AS_IT_IS]
    chosen = [f"firmware_protocol/{name}.py" for name in ENDS] + named
    return [*chosen, *(f"{name}.py" for name in BESIDE)]


def compile_into(folder: Path) -> None:
    ignored = shutil.ignore_patterns("__pycache__")
    for package in PACKAGES:
        shutil.copytree(ROOT / package, folder / package, ignore=ignored, dirs_exist_ok=True)
    chosen = [name for name in files() if not name.endswith("__init__.py")]
    setup = folder / "compile.py"
    setup.write_text(SETUP.format(files=chosen))
    jobs = str(os.cpu_count() or 1)
    words = [sys.executable, str(setup), "-q", "build_ext", "--inplace", "-j", jobs]
    with (folder / "compile.log").open("w") as log:
        subprocess.run(words, cwd=folder, check=True, timeout=3600, stdout=log, stderr=log)


def played(folder: Path, runs: int) -> tuple[list[str], str]:
    """What scenes came to, and which file the judge was loaded from."""
    words = [sys.executable, "-c", PLAY, str(runs)]
    done = subprocess.run(
        words, cwd=folder, check=True, timeout=3600, capture_output=True, text=True
    )
    *outcomes, where = done.stdout.splitlines()
    return outcomes, where


def check(folder: Path, runs: int) -> int:
    plain, _ = played(ROOT, runs)
    compiled, where = played(folder, runs)
    if where.endswith(".py"):
        print("the copy is not compiled; see compile.log in its folder")
        return 1
    other = [
        json.loads(one)["seed"] for one, two in zip(plain, compiled, strict=True) if one != two
    ]
    print(f"{runs} scenes, {len(other)} came to something else: {other[:20]}")
    return 1 if other else 0


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.compiled")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--check", type=int, default=0, metavar="N", help="scenes to compare")
    asked = parser.parse_args()
    folder = asked.folder.resolve()
    if not (folder / "compile.py").exists():
        folder.mkdir(parents=True, exist_ok=True)
        compile_into(folder)
    return check(folder, asked.check) if asked.check else 0


if __name__ == "__main__":
    sys.exit(main())
