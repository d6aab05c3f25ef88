"""The real program in a real terminal, with an invented wind: F12 goes to the next moment.

python -m tests.pages.shown wind      # every moment of ``scenes``, in the order of their names
python -m tests.pages.shown start     # the workbench, with invented recipes and coils
"""

from __future__ import annotations

import sys

from textual import events

from tests.pages.scenes import LIST_SCENES, SCENES
from tests.pages.still import StillBench, StillRun
from winder.screens.app import WinderApp

MOMENTS = SCENES | LIST_SCENES
NEXT_KEY = "f12"


class ShownApp(WinderApp):
    """Steps through the moments; all else is the program's own."""

    def __init__(self) -> None:
        self._moments = [MOMENTS[name] for name in sorted(MOMENTS)]
        self._still = StillRun(self._moments[0])
        super().__init__(self._still, cautions_accepted=True)

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and event.key == NEXT_KEY:
            place = self._moments.index(self._still.view) + 1
            self._still.view = self._moments[place % len(self._moments)]
            return
        await super().on_event(event)


def main(words: list[str]) -> int:
    app = WinderApp(workbench=StillBench()) if words == ["start"] else ShownApp()
    app.run()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
