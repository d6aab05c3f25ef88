"""A host that only talks: the protocol's own host end, kept as busy as a test wants, on a bare chip.

It lives in steps of one millisecond of the chip's time. Commands are ``SettleNumber``,
which changes nothing and has to be answered under its number.
"""

from __future__ import annotations

import dataclasses
from typing import Any

from firmware_protocol.connection import HostEnd
from firmware_protocol.heard import Answered, Heard, Troubled
from firmware_protocol.host_table import HostState
from firmware_protocol.messages import OpenWind, SettleNumber, Status, Verdict, Welcome

from .board import EmulatedBoard

STEP_NS = 1_000_000


class BusyHost:
    """One session on a board. ``commands_per_s`` are asked besides signs of life and telemetry."""

    def __init__(self, board: EmulatedBoard, token: int = 0x5EED, commands_per_s: int = 0) -> None:
        self.board = board
        self.end = HostEnd(token)
        self.period_ns = 1_000_000_000 // commands_per_s if commands_per_s else 0
        self.answered = 0
        self.statuses = 0
        self.troubles: list[Troubled] = []
        self.alive = True
        self._next_ns = board.now_ns
        self._damage = 0  # every so many bytes to the board one is lost; 0: none
        self._passed = 0

    def lose_every(self, bytes_between: int) -> None:
        self._damage = bytes_between

    def _carry(self, data: bytes) -> None:
        for byte in data:
            self._passed += 1
            if not self._damage or self._passed % self._damage:
                self.board.receive(bytes((byte,)))

    def live(self, seconds: float) -> list[Heard]:
        """So much time of the chip; returns all that was heard."""
        board, end = self.board, self.end
        heard: list[Heard] = []
        until_ns = board.now_ns + round(seconds * 1e9)
        while board.now_ns < until_ns:
            board.chip.run_until((board.now_ns + STEP_NS) * 2 // 125)
            now_ns = board.now_ns
            for item in end.receive(board.take_bytes(), now_ns):
                self.answered += isinstance(item, Answered)
                self.statuses += isinstance(item, Status)
                if isinstance(item, Troubled):
                    self.troubles.append(item)
                heard.append(item)
            if self.alive:
                end.sign_of_life(now_ns)
            if self.period_ns and end.state is HostState.OPEN and now_ns >= self._next_ns:
                self._next_ns = now_ns + self.period_ns
                end.send(SettleNumber(0), now_ns)
            self._carry(end.data_to_send(now_ns))
        return heard

    def open(self) -> Welcome:
        self.end.open(self.board.now_ns)
        self.live(0.4)
        assert self.end.welcome is not None, "no welcome"
        assert self.end.newest_status is not None
        return self.end.welcome

    @property
    def status(self) -> Status:
        assert self.end.newest_status is not None
        return self.end.newest_status

    def ask(self, command: Any) -> Verdict:
        """One command, and its verdict; boot, wind and revision are filled in from the newest status."""
        beliefs = {
            name: getattr(self.status, name)
            for name in ("boot", "wind", "revision")
            if hasattr(command, name) and not (name == "wind" and isinstance(command, OpenWind))
        }
        sent = self.end.send(dataclasses.replace(command, **beliefs), self.board.now_ns)
        for _ in range(40):
            for item in self.live(0.01):
                if isinstance(item, Answered) and item.command == sent:
                    answer = item.answer
                    self.live(0.06)  # a status with the new revision
                    return Verdict(getattr(answer, "verdict", Verdict.DONE))
        raise AssertionError(f"no answer to {sent}")
