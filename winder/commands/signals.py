"""What reaches a wind without a screen from outside: Ctrl-C, and being asked to end.

A handler only counts; the loop of the wind acts on it, because a handler runs in the middle of anything. Being asked
to end a second time ends the process at once: what was counted is on the disk, and the board was asked to stop.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

ENDS = tuple(
    getattr(signal, name) for name in ("SIGTERM", "SIGHUP", "SIGQUIT") if hasattr(signal, name)
)


class Signals:
    """``stops``: how often Ctrl-C was pressed. ``end``: the name of what asks the program to end, or ""."""

    def __init__(self) -> None:
        self.stops = 0
        self.end = ""

    def hear_stop(self, _number: int, _frame: FrameType | None) -> None:
        self.stops += 1

    def hear_end(self, number: int, _frame: FrameType | None) -> None:
        if self.end:
            os._exit(1)
        self.end = signal.Signals(number).name


@contextmanager
def heard_signals() -> Iterator[Signals]:
    """While inside, signals are counted and end nothing by themselves."""
    heard = Signals()
    before = {number: signal.signal(number, heard.hear_end) for number in ENDS}
    before[signal.SIGINT] = signal.signal(signal.SIGINT, heard.hear_stop)
    try:
        yield heard
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
