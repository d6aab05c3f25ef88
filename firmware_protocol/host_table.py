"""The life of a session as the host sees it: one table. What it lacks is the caller's illegal move."""

from __future__ import annotations

import enum


class LocalProtocolError(Exception):
    """Our own caller broke the rules; nothing has changed."""


class RemoteProtocolError(Exception):
    """A whole frame that is no message of ours. Counted, never raised out of ``receive``."""


class HostState(enum.Enum):
    NEW = "new"
    ASKING = "asking"  # hello sent, no welcome yet
    UNANSWERED = "unanswered"  # nobody answered in time, or another version did
    OPEN = "open"
    LOST = "lost"  # the board forgot this session: a new end with a new token is needed


class HostStep(enum.Enum):
    OPEN = "open"
    WELCOMED = "welcomed"
    GIVEN_UP = "given up"
    FORGOTTEN = "forgotten"
    SEND = "send"


HOST_TABLE: dict[tuple[HostState, HostStep], HostState] = {
    (HostState.NEW, HostStep.OPEN): HostState.ASKING,
    (HostState.UNANSWERED, HostStep.OPEN): HostState.ASKING,
    (HostState.ASKING, HostStep.WELCOMED): HostState.OPEN,
    (HostState.ASKING, HostStep.GIVEN_UP): HostState.UNANSWERED,
    (HostState.OPEN, HostStep.SEND): HostState.OPEN,
    (HostState.OPEN, HostStep.FORGOTTEN): HostState.LOST,
}
