"""The command queue, one at a time: each is built when its turn comes, from what the board last said.

A command carries the board's revision and every command may change it, so the next one is built only
after the answer. A command that moves nothing and was refused as stale is built and sent once more;
a start never is.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Any

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import Move, Start, TraverseStep
from firmware_protocol.pedal import ArmPedal

Build = Callable[[], Any]
STARTS = (Start, ArmPedal)
LEADS_GUIDE = (TraverseStep, TraverseHome, TraverseMove)
MOVING = (*STARTS, Move, *LEADS_GUIDE)


class CommandQueue:
    """A queue of commands to build, and the one that waits for its answer."""

    def __init__(self) -> None:
        self.outstanding: Any = None
        self._build: Build | None = None
        self._queue: deque[Build] = deque()
        self._start: Build | None = None  # a start that waits in the queue
        self._tried_again = False
        self._again: Build | None = None

    @property
    def idle(self) -> bool:
        return self.outstanding is None and not self._queue and self._again is None

    def is_outstanding(self, kind: type) -> bool:
        """Sent and not answered; a start, by the pedal too, already when it waits to be sent."""
        if kind is Start:
            return type(self.outstanding) in STARTS or self._start is not None
        return type(self.outstanding) is kind

    @property
    def leads_guide(self) -> bool:
        """A move of the guide is sent and not answered."""
        return type(self.outstanding) in LEADS_GUIDE

    def put(self, *builds: Build, kind: type | None = None) -> None:
        self._queue.extend(builds)
        if kind in STARTS:
            (self._start,) = builds

    def clear(self) -> None:
        """Forget what is not sent yet."""
        self._queue.clear()
        self._again = self._start = None

    def drop_start(self) -> bool:
        """A start that waits behind another command is not sent any more; whether there was one."""
        dropped, self._start = self._start, None
        if dropped is not None:
            self._queue.remove(dropped)
        return dropped is not None

    def give_up(self) -> Any:
        """The outstanding command will not be answered any more; returns it."""
        command, self.outstanding = self.outstanding, None
        return command

    def next(self) -> Any:
        """The next command to send, or None."""
        if self.outstanding is not None or self._again is not None or not self._queue:
            return None
        self._build = self._queue.popleft()
        if self._build is self._start:
            self._start = None
        self._tried_again = False
        self.outstanding = self._build()
        return self.outstanding

    def answered(self, command: Any) -> Any:
        """The command of ours that this is the answer to; None for a stray one."""
        if self.outstanding is None or type(command) is not type(self.outstanding):
            return None
        return self.give_up()

    def again_later(self, command: Any) -> bool:
        """A stale command is sent once more after the next status, unless it moves something."""
        if type(command) in MOVING or self._tried_again or self._build is None:
            return False
        self._again = self._build
        return True

    def refreshed(self) -> Any:
        """A status came: the command to send again, or None."""
        if self._again is None or self.outstanding is not None:
            return None
        build, self._again = self._again, None
        self._build, self._tried_again = build, True
        self.outstanding = build()
        return self.outstanding
