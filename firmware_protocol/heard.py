"""What a host end reports to whoever drives it, besides the board's own messages.

``Welcome`` and ``Status`` are handed on as they are; everything else that a session may have to react
to is one of these.
"""

from __future__ import annotations

import enum
from typing import Any

from .messages import Answer, Status, Welcome
from .pedal import PedalStatus
from .records import dataclass
from .settings import Settings


class Trouble(enum.Enum):
    NO_WELCOME = "no welcome"  # nothing that speaks this protocol answered the hello
    OTHER_VERSION = "other version"  # a welcome of another base version
    HELD = "held"  # another host's session is alive on this board
    SILENT = "silent"  # a command was sent SENDINGS_MAX times without an answer
    WITHDRAWN = "withdrawn"  # a stop, or the end of the session, overtook this command
    SESSION_LOST = "session lost"  # the board does not know our token any more
    LINK_LOST = "link lost"  # the link itself broke: cable, port, process


@dataclass(frozen=True, slots=True)
class Answered:
    """A numbered command and the answer to it."""

    command: Any
    answer: Answer


@dataclass(frozen=True, slots=True)
class Troubled:
    trouble: Trouble
    text: str = ""
    command: Any = None  # the command that went unanswered


Heard = Welcome | Status | PedalStatus | Settings | Answered | Troubled
