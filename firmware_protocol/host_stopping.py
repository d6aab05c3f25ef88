"""The stop that a host has under way: what is repeated until a status shows rest.

A cut is a stop that takes the drive away at once: its message goes out in the stop's place. A board without
a motor, or one that answers that it does not know the message, is sent the stop.
"""

from __future__ import annotations

from .framing import encode_message
from .messages import STOP_REPEAT_MS, Cut, Stop, Welcome
from .wire import Group

NS_PER_MS = 1_000_000
# The lone zero byte ends a frame that was broken off, so that it cannot swallow what follows.
_STOP_BYTES = b"\0" + encode_message(Stop())
_CUT_BYTES = b"\0" + encode_message(Cut())


class Stopping:
    """Times in nanoseconds of the caller's clock."""

    def __init__(self) -> None:
        self.due_ns: int | None = None  # None: no stop to be repeated
        self.sent = False  # since it was last asked for
        self._cutting = False
        self._knows_no_cut = False  # the board said so

    def ask(self, now_ns: int, *, cutting: bool) -> None:
        """A stop, or a cut; a cut that is not yet confirmed goes on as a cut."""
        self.due_ns = now_ns
        self.sent = False
        self._cutting = self._cutting or cutting

    def bytes_due(self, now_ns: int, welcome: Welcome | None) -> bytes:
        """What is to be sent now; taken as sent."""
        if self.due_ns is None or now_ns < self.due_ns:
            return b""
        self.due_ns = now_ns + STOP_REPEAT_MS * NS_PER_MS
        self.sent = True
        has_motor = welcome is None or welcome.groups[Group.MOTOR - 1] > 0
        cuts = self._cutting and has_motor and not self._knows_no_cut
        return _CUT_BYTES if cuts else _STOP_BYTES

    def take_refusal(self, now_ns: int) -> None:
        """The board does not know the cut: a stop goes out at once."""
        self._knows_no_cut = True
        if self.due_ns is not None:
            self.due_ns = now_ns

    def end(self) -> None:
        """A status showed rest."""
        self.due_ns = None
        self._cutting = False
