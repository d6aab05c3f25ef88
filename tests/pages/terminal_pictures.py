"""Every screen and state in a real terminal (tmux), with colour and without, as pictures to look at.

    python -m tests.pages.terminal_pictures FOLDER

writes an SVG, and a PNG where ``rsvg-convert`` is installed, for each screen at 120x40, 100x30, 80x24 and 60x18.
What the terminal shows of a wind is compared with the page as it was drawn; the exit code is 1 if they differ. Needs
``tmux``.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

from rich.ansi import AnsiDecoder
from rich.console import Console
from rich.segment import Segment, Segments
from rich.style import Style
from rich.terminal_theme import SVG_EXPORT_THEME, TerminalTheme
from rich.text import Text

from tests.pages.shown import MOMENTS, NEXT_KEY

SIZES = ((120, 40), (100, 30), (80, 24), (60, 18))
ROOT = Path(__file__).parents[2]
SETTLED_S = 0.15  # two looks this far apart that show the same: nothing more is coming
WAIT_S = 60.0
THEME = TerminalTheme(
    (20, 18, 15), (232, 225, 213), [tuple(SVG_EXPORT_THEME.ansi_colors[n]) for n in range(16)]
)  # ground and text as the program has them
CHANGES_S = 1.5  # a screen that shows the same for so long is taken as it is
# Screens of the workbench, by the keys that lead there from the one before, each with words that say it is there: a key
# that comes before its screen goes to the one before.
WORKBENCH: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("start", (("", "kalimba bass coil"),)),
    ("form", (("f", "Recipe: my-coil.toml"),)),
    ("form choosing", (("Enter", ""), ("Enter", ""), ("Enter", ""), ("Enter", ""), ("Right", "core diameter"))),
    ("form complaint", (("Enter", ""), ("Enter", "Between the flanges"), ("9", ""), (",", ""), ("5", "decimal comma"))),
    ("form help", (("F1", "What do I measure"),)),
    ("form leaving", (("Escape", "Esc leave"), ("Escape", "Leave without saving"))),
    ("help", (("y", "t try"), ("?", "Esc goes back"))),
    ("commands", (("Escape", "t try"), ("C-p", "rehearse the chosen"))),
    ("shelf", (("Escape", "t try"), ("s", "o take off"))),
    ("shelf help", (("F1", "Esc goes back"),)),
    ("spools", (("Escape", "o take off"), ("n", "n new spool"))),
    ("pair", (("Escape", "o take off"), ("p", "and which?"), ("Down", ""), ("p", "v picture"))),
    ("pair ways", (("Down", ""), ("Right", "side by side"), ("s", "First set which pole"))),
    ("teach file", (("Escape", "o take off"), ("Escape", "t try"), ("m", "Enter takes it"))),
    ("teach cautions", (("Enter", "Before the first start"),)),
    ("teach", (("a", ""), ("a", "What do you call"))),
)  # fmt: skip


class Terminal:
    """One program in a tmux of its own."""

    def __init__(self, what: str, size: tuple[int, int], colour: bool) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="pictures-")
        self._socket = Path(
            self._folder.name
        ).name  # one of its own: an old server may still be ending
        plain = [] if colour else ["NO_COLOR=1"]
        command = ["env", f"PYTHONPATH={ROOT}", "TERM=tmux-256color", "COLORTERM=truecolor", *plain]
        command += [sys.executable, "-m", "tests.pages.shown", what]
        width, height = size
        self._run(
            "-f", "/dev/null", "new-session", "-d", "-x", str(width), "-y", str(height),
            "-c", self._folder.name, *command,
        )  # fmt: skip
        self._run("set-option", "-g", "status", "off")
        self._run("resize-window", "-x", str(width), "-y", str(height))

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        self._run("kill-server")
        self._folder.cleanup()

    def press(self, key: str, shows: str = "") -> None:
        """A key, and the wait for what it shows."""
        if key:
            self._run("send-keys", key)
        time.sleep(SETTLED_S)
        until = time.monotonic() + WAIT_S
        while shows not in " ".join((seen := self._run("capture-pane", "-p")).split()):
            if time.monotonic() > until:
                raise RuntimeError(
                    f"{key or 'the start'} did not lead to {shows!r} but to:\n{seen}"
                )
            time.sleep(SETTLED_S)

    def look(self, before: str = "") -> str:
        """What stands there with its colours, once it has settled on something other than ``before``."""
        until, same_until = time.monotonic() + WAIT_S, time.monotonic() + CHANGES_S
        seen = ""
        while time.monotonic() < until:
            time.sleep(SETTLED_S)
            now = self._run("capture-pane", "-p", "-e", "-N")
            if now == seen and now.strip() and (now != before or time.monotonic() > same_until):
                return now
            seen = now
        if not seen.strip():
            raise RuntimeError("the program shows nothing; start it by hand: tests/pages/shown.py")
        return seen

    def _run(self, *words: str) -> str:
        done = subprocess.run(
            ["tmux", "-L", self._socket, *words], capture_output=True, text=True, timeout=WAIT_S
        )
        return done.stdout


def shots(size: tuple[int, int], colour: bool) -> Iterator[tuple[str, str]]:
    """Name and picture, as the terminal's text with its colours."""
    with Terminal("wind", size, colour) as terminal:
        seen = ""
        for place, name in enumerate(sorted(MOMENTS)):
            if place:
                terminal.press(NEXT_KEY.upper())
            seen = terminal.look(seen)
            yield f"wind {name}", seen
    with Terminal("start", size, colour) as terminal:
        for name, keys in WORKBENCH:
            for key, shows in keys:
                terminal.press(key, shows)
            yield name, terminal.look()


def svg_of(text: str, title: str, size: tuple[int, int]) -> str:
    """The terminal's text as a picture."""
    width, height = size
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        console = Console(width=width, record=True, file=nowhere, color_system="truecolor")
        decoder = AnsiDecoder()  # what a line ends in the next one begins in
        for line in text.splitlines()[:height]:
            plain = decoder.decode_line(line)
            plain.pad_right(max(0, width - plain.cell_len))
            console.print(Segments([*apart(plain.render(console)), Segment.line()]), end="")
    return console.export_svg(title=title, theme=THEME)


def apart(segments: Iterable[Segment]) -> Iterator[Segment]:
    """Blanks and words apart: some viewers drop the blanks that a text begins with."""
    for segment in segments:
        for blanks, words in re.findall(r"( *)([^ \n]*)", segment.text):
            if blanks:
                yield Segment(
                    blanks, Style(bgcolor=segment.style.bgcolor if segment.style else None)
                )
            if words:
                yield Segment(words, segment.style)


def differs(name: str, text: str, size: tuple[int, int]) -> str:
    """Where the terminal shows something else than was drawn; "" where it does not."""
    sys.path.insert(0, str(ROOT / "tests" / "screens"))
    from pages import drawn

    if not name.startswith("wind "):
        return ""
    page = drawn(MOMENTS[name.removeprefix("wind ")], *size).text()
    first = [line.rstrip() for line in Text.from_ansi(text).plain.splitlines()]
    wanted = page.splitlines()
    state = wanted[0 : 5 if size[0] >= 96 else 1]  # what is not of this second: notices come and go
    return "" if state == first[: len(state)] else f"{name} at {size[0]}x{size[1]}"


def write_all(folder: Path, sizes: tuple[tuple[int, int], ...]) -> list[str]:
    """Every picture; what differed from the page as it was drawn."""
    wrong = []
    for size in sizes:
        for colour in (True, False):
            for name, text in shots(size, colour):
                ink = "colour" if colour else "plain"
                path = folder / f"{name.replace(' ', '_')}_{size[0]}x{size[1]}_{ink}.svg"
                path.write_text(svg_of(text, name, size), encoding="utf-8")
                if shutil.which("rsvg-convert"):
                    subprocess.run(["rsvg-convert", "-o", str(path.with_suffix(".png")), str(path)])
                if told := differs(name, text, size):
                    wrong.append(told)
    return wrong


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=str(__doc__).partition("\n")[0])
    parser.add_argument("folder", type=Path, help="where the pictures go; made if it is not there")
    parser.add_argument("--size", help="only this one, as in 80x24")
    arguments = parser.parse_args(words)
    if shutil.which("tmux") is None:
        parser.error("tmux is not installed: apt-get install tmux")
    arguments.folder.mkdir(parents=True, exist_ok=True)
    sizes = [s for s in SIZES if arguments.size in (None, f"{s[0]}x{s[1]}")]
    wrong = write_all(arguments.folder, tuple(sizes))
    for each in wrong:
        print(f"not as it was drawn: {each}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
