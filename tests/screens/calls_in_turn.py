"""Shows one event after the other on a real terminal, for recording its bells: ``python -m tests.screens.calls_in_turn``."""

from __future__ import annotations

import sys
import threading
import time

from tests.pages.scenes import SCENES, WINDING, moment
from tests.pages.still import StillRun
from winder.screens.app import WinderApp
from winder.screens.calls import Call, Calling
from winder.wind.model import WireView

_LED, _NEAR = SCENES["by hand"], SCENES["edge near"]
_DRILL = moment(WINDING, board_stops=False, remaining_turns=30.0)
IN_TURN = (
    (SCENES["landing"], moment(SCENES["landing"], remaining_turns=20.0)),
    (WINDING, moment(SCENES["paused"], pauses_here="measure")),
    (_LED, moment(_LED, lane=_NEAR.lay.lane.__class__(0.97, 0.02, 0.98, True, 0.5, 23))),
    (_DRILL, moment(_DRILL, remaining_turns=2.0, early_turns=2.4)),
    (WINDING, moment(WINDING, wire=WireView(0.8, 14.0))),
    (WINDING, SCENES["trip"]),
    (WINDING, SCENES["alarm"]),
)
SHOWN_S = 0.5, 1.8


def main() -> int:
    run = StillRun(IN_TURN[0][0])
    off = frozenset(call.value for call in Call) if "quiet" in sys.argv else frozenset()
    app = WinderApp(run, cautions_accepted=True, calling=Calling(off))

    def play() -> None:
        time.sleep(1.5)
        for before, after in IN_TURN:
            for view, seconds in zip((before, after), SHOWN_S, strict=True):
                run.view = view
                time.sleep(seconds)
        run.finished = True
        app.call_from_thread(app.exit)

    threading.Thread(target=play, daemon=True).start()
    app.run()
    return 0


if __name__ == "__main__":
    sys.exit(main())
