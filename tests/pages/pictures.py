"""Draws the real screen at an invented moment into an SVG file, for the documentation.

    python -m tests.pages.pictures OUT.svg --size 120x40 --scene winding
    python -m tests.pages.pictures --all docs

The second writes every picture that the documentation shows. The same scene and size always give the same
bytes: no date, no clock, no machine.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
from pathlib import Path

from tests.pages.list_scenes import LIST_SCENES, OTHER_SCENES
from tests.pages.scenes import SCENES, WINDING
from tests.pages.still import StillBench, StillRun
from winder.clock import HandClock
from winder.screens.app import WinderApp

# What the documentation shows: file name, scene, columns and rows.
PICTURES = (
    ("wind_screen.svg", "winding", 120, 40),
    ("wind_screen_by_hand.svg", "edge near", 100, 30),
    ("wind_screen_taking_off.svg", "taking off", 100, 30),
    ("wind_screen_small.svg", "winding", 60, 18),
    ("wind_screen_alarm.svg", "alarm", 100, 30),
)


async def draw_scene(scene: str, width: int, height: int) -> str:
    """The screen of a scene as SVG text."""
    if scene == "start":
        app = WinderApp(workbench=StillBench(), clock=HandClock())
    else:
        others = LIST_SCENES | {"cautions": SCENES["unread"], "note": SCENES["paused"]}
        view = SCENES.get(scene) or others.get(scene, WINDING)
        accepted = scene != "cautions"
        app = WinderApp(StillRun(view), clock=HandClock(), cautions_accepted=accepted)
    async with app.run_test(size=(width, height)) as pilot:
        await pilot.pause()
        app.tick()
        await pilot.pause()
        if scene == "note":
            await pilot.press("n", *"laidwell")
            await pilot.pause()
        app.tick()
        await pilot.pause()
        return app.export_screenshot(title="winder")


def read_size(text: str) -> tuple[int, int]:
    """Columns and rows from a text such as ``120x40``."""
    columns, _, rows = text.partition("x")
    if not (columns.isdigit() and rows.isdigit() and int(columns) >= 20 and int(rows) >= 6):
        raise argparse.ArgumentTypeError("write columns x rows, for example 120x40")
    return int(columns), int(rows)


def write_all(folder: Path) -> None:
    """Every picture of the documentation, into a folder that exists."""
    for name, scene, width, height in PICTURES:
        svg = asyncio.run(draw_scene(scene, width, height))
        (folder / name).write_text(svg, encoding="utf-8")


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Draw a screen with an invented wind into an SVG.")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("out", type=Path, nargs="?", metavar="OUT.svg")
    what.add_argument("--all", type=Path, metavar="FOLDER", help="every picture of the docs")
    parser.add_argument("--size", type=read_size, default=(120, 40), metavar="COLUMNSxROWS")
    parser.add_argument("--scene", choices=(*SCENES, *OTHER_SCENES), default="winding")
    arguments = parser.parse_args(words)
    if arguments.all is not None:
        if not arguments.all.is_dir():
            parser.error(f"{arguments.all} is no folder; name one that exists, such as docs")
        write_all(arguments.all)
        return 0
    svg = asyncio.run(draw_scene(arguments.scene, *arguments.size))
    arguments.out.write_text(svg, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
