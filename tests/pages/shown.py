"""The real program in a real terminal, with an invented wind: F12 goes to the next moment.

python -m tests.pages.shown wind      # every moment of ``scenes``, in the order of their names
python -m tests.pages.shown start     # the workbench, with invented recipes and coils
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from textual import events

from tests.commands.shelf_of_coils import shelf_with
from tests.pages.list_scenes import LIST_SCENES
from tests.pages.scenes import SCENES
from tests.pages.still import StillBench, StillRun
from winder.commands.main import build_parser
from winder.commands.said import said
from winder.screens.app import WinderApp
from winder.screens.calls import Call, Calling
from winder.service.workbench import LocalWorkbench

MOMENTS = SCENES | LIST_SCENES
NEXT_KEY = "f12"


class ShelfBench(StillBench):
    """Invented recipes; the shelf and the spools are a real logbook with invented coils."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        book = folder / "book.sqlite"
        shelf_with(book, ("kalimba bass coil", 1200, 281.4), ("kalimba treble coil", 900, None))
        self._real = LocalWorkbench(str(book), None, partial(said, build_parser()))
        self.say(["spool", "new", "--wire=42 AWG single", "--length=1500 m", "--", "red"])

    def say(self, words: Sequence[str]) -> str:
        return self._real.say(words)


class ShownApp(WinderApp):
    """Steps through the moments; all else is the program's own."""

    def __init__(self) -> None:
        self._moments = [MOMENTS[name] for name in sorted(MOMENTS)]
        self._still = StillRun(self._moments[0])
        silent = Calling(
            frozenset(call.value for call in Call)
        )  # a call fills the screen for a while
        super().__init__(self._still, cautions_accepted=True, calling=silent)

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and event.key == NEXT_KEY:
            place = self._moments.index(self._still.view) + 1
            self._still.view = self._moments[place % len(self._moments)]
            return
        await super().on_event(event)


def main(words: list[str]) -> int:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_DATA_HOME"] = folder  # no shelf but the invented one
        app = WinderApp(workbench=ShelfBench(Path(folder))) if words == ["start"] else ShownApp()
        app.run()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
