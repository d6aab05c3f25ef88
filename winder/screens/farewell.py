"""When the terminal is closed or the system asks the program to end.

The toolkit's own shutdown may hang then, because nobody takes what it writes. So a thread of its own
asks for the stop, closes the wind (which commits the journal), tells the app to go, and a second
later ends the process by force. A further watchdog bounds closing itself. The real protection of
people is none of this: without a sign of life the board comes to rest by itself.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from winder.clock import SystemClock
from winder.screens.app import CLOSE_WAIT_S, Farewell, WinderApp
from winder.wind.model import Asked, Intent

GRACE_S = 1.0  # for the app to go by itself
SIGNALS = tuple(
    getattr(signal, name)
    for name in ("SIGHUP", "SIGTERM", "SIGINT", "SIGQUIT")
    if hasattr(signal, name)
)


def say_farewell(
    app: WinderApp,
    end_process: Callable[[int], None] = os._exit,
    sleep_s: Callable[[float], None] | None = None,
) -> None:
    """Stop, journal, go; ends the process if it is still there after the grace."""
    sleep = sleep_s or SystemClock().sleep_s
    run = app.run_under_way
    if run is not None:
        try:
            run.ask(Asked(Intent.PAUSE))
            run.close(CLOSE_WAIT_S)
        except Exception:
            # Whatever failed, the process must still go: a hung one is the greater danger.
            app.log.error("closing the wind failed")
    if app.lesson is not None:
        app.lesson.lesson.close(CLOSE_WAIT_S)
    app.post_message(Farewell())
    sleep(GRACE_S)
    end_process(1)


@contextmanager
def guarded_against_hangup(app: WinderApp) -> Iterator[None]:
    """While inside, SIGHUP, SIGTERM, SIGINT and SIGQUIT close the wind and end the program."""

    def hear(_number: int, _frame: FrameType | None) -> None:
        threading.Thread(target=say_farewell, args=(app,), daemon=True).start()
        threading.Thread(target=_end_after, args=(CLOSE_WAIT_S + 2 * GRACE_S,), daemon=True).start()

    before = {number: signal.signal(number, hear) for number in SIGNALS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _end_after(wait_s: float) -> None:
    SystemClock().sleep_s(wait_s)
    os._exit(1)
