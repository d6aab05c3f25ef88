"""The board as it was last heard: its welcome, its newest status, and what a command has to carry."""

from __future__ import annotations

from firmware_protocol.messages import NO_WIND, Flag, Has, State, Status, Welcome

AT_REST = frozenset((State.STILL, State.ARMED, State.PAUSED, State.COMPLETE))
IN_MOTION = frozenset((State.WINDING, State.SLOWING, State.SETTING_UP))
DRIVEN = int(Flag.DRIVEN)


def stands(status: Status) -> bool:
    """Whether this status shows a spindle that stands and nothing that drives it."""
    if status.state in AT_REST:
        return not status.flags & DRIVEN
    return status.state == State.TRIPPED and not status.flags & DRIVEN and status.rate_mcps == 0


class Board:
    """What is known of the board; ``opened``: our wind is open on it."""

    def __init__(self, *, motor: bool) -> None:
        self.motor = motor  # False: a counter, which stops nothing
        self.welcome: Welcome | None = None
        self.status: Status | None = None
        self.heard_ns: int | None = None
        self.word_ns: int | None = None  # when the newest status was heard
        self.boot = 0
        self.revision = 0
        self.opened = False
        self.edge_uptime_ms = 0  # when the count last changed

    def newer_revision(self, revision: int) -> None:
        """Revisions wrap; an answer that was sent again may carry an old one."""
        if (revision - self.revision) & 0xFFFF < 1 << 15:
            self.revision = revision

    def has(self, part: Has) -> bool:
        return self.welcome is not None and bool(self.welcome.has & part)

    @property
    def wind(self) -> int:
        """Open on the board, ours or not."""
        return NO_WIND if self.status is None else self.status.wind

    def rests(self, status: Status) -> bool:
        """Whether the spindle stands; a hand that turns it is seen by the rate alone."""
        return stands(status) if self.motor else status.rate_mcps == 0

    @property
    def cut_s(self) -> float:
        """The board's own bound from a stop to the drive that is cut; 0: it tells none."""
        return self.welcome.cut_ms / 1000 if self.welcome is not None else 0.0

    @property
    def rest_s(self) -> float:
        """The board's own bound from a stop to rest; 0: it tells none."""
        return self.welcome.rest_ms / 1000 if self.welcome is not None else 0.0
