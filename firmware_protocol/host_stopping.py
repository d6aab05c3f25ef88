"""The stop that a host has under way: what is repeated until a status shows rest.

A cut is a stop that takes the drive away at once: its message goes out in the stop's place. A board without
a motor, or one that answers that it does not know the message, is sent the stop.
"""

from __future__ import annotations

from .framing import encode_message
from .messages import STOP_REPEAT_MS, Cut, State, Status, Stop, Welcome
from .pedal import PedalStatus
from .vocabulary import PedalFlag
from .wire import Group

NS_PER_MS = 1_000_000
IN_MOTION = frozenset((State.WINDING, State.SLOWING, State.SETTING_UP))
# The lone zero byte ends a frame that was broken off, so that it cannot swallow what follows.
_STOP_BYTES = b"\0" + encode_message(Stop())
_CUT_BYTES = b"\0" + encode_message(Cut())


class Stopping:
    """Times in nanoseconds of the caller's clock."""

    def __init__(self) -> None:
        self.due_ns: int | None = None  # None: no stop to be repeated
        self.sent = False  # since it was last asked for
        self._rested = False  # by the newest status; a pedal may still be armed
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

    def hear(
        self, status: Status, before: Status | None, welcome: Welcome | None, *, in_doubt: bool
    ) -> None:
        """It has worked by a status newer than any before, heard after it went out, with no number in doubt."""
        self._rested = False
        if (
            before is not None
            and before.boot == status.boot
            and not 0 < (status.uptime_ms - before.uptime_ms) & 0xFFFF_FFFF < 1 << 31
        ):
            return
        self._rested = self.sent and not in_doubt and status.state not in IN_MOTION
        has_pedal = welcome is not None and welcome.groups[Group.PEDAL - 1] > 0
        if self._rested and not has_pedal:
            self.end()

    def hear_pedal(self, pedal: PedalStatus) -> None:
        """At rest with the pedal armed a stop may have been lost, and a foot would set it going again."""
        if self._rested and not pedal.flags & PedalFlag.ARMED:
            self.end()

    def take_refusal(self, now_ns: int) -> None:
        """The board does not know the cut: a stop goes out at once."""
        self._knows_no_cut = True
        if self.due_ns is not None:
            self.due_ns = now_ns

    def end(self) -> None:
        """A status showed rest."""
        self.due_ns = None
        self._cutting = self._rested = False
