"""The one command that a host has on its way, and the question that can take its number away from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from .framing import encode_message
from .messages import SettleNumber


@dataclass(slots=True)
class Outstanding:
    """A numbered command that waits for its answer. Times in nanoseconds."""

    command: Any
    kind: int
    sequence: int
    frame: bytes
    due_ns: int | None  # None: given up, and asleep until there is a reason to settle the number
    sendings: int = 0
    withdrawn: bool = False  # ``frame`` is the harmless question under the same number
    reported: bool = False

    def is_due(self, now_ns: int) -> bool:
        return self.due_ns is not None and now_ns >= self.due_ns

    def withdraw(self, now_ns: int) -> None:
        """From now on only the harmless question goes out under this number."""
        self.withdrawn = True
        self.frame = encode_message(SettleNumber(self.command.token), self.sequence)
        self.sendings = 0
        self.due_ns = now_ns
