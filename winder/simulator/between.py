"""Somebody between an honest board and its link: reads every message, may alter it, keep it back, or make one up.

It is a machine to the link, as the honest one would be. What a wrong board does is said here message by message, so
that the board below stays the reference it is; only miscounting reaches into the body, for a board that counts wrong
also stops wrong. Commands of its own making use up numbers of the session; those of the host are counted on from
there, and the answers counted back. The line to the honest board loses nothing, so every frame is whole.
"""

from __future__ import annotations

import dataclasses
import random
from typing import Any

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.framing import Frame, FrameReader, encode_frame
from firmware_protocol.messages import (
    Alive,
    Answer,
    Hello,
    Move,
    Start,
    Status,
    Stop,
    TraverseStep,
    Welcome,
)
from firmware_protocol.wire import LAYOUT_OF, REGISTER, PayloadError, pack, unpack

from .machine import SimulatedMachine

MOVING = (Start, Move, TraverseStep, TraverseHome, TraverseMove)
NUMBERS = 255  # a session's numbers go round
_ANSWER_KIND = LAYOUT_OF[Answer].kind


class Between:
    """Hands everything on as it is, and remembers what a judge wants to know of the host's words."""

    def __init__(self, machine: SimulatedMachine, seed: int = 0) -> None:
        self.machine = machine
        self.status: Status | None = None  # the newest, as the honest board told it
        self.stop_ns: int | None = None  # when the host last said stop
        self.alive_ns: int | None = None  # when it last gave a sign of life
        self.moves_ns: list[int] = []  # when it sent something that moves
        self.struck = False  # what is wrong with this board has taken effect
        self.silent = False  # the line carries nothing, and nobody notices but by that
        self.deaf = self.mute = False  # the same one way: to the board, to the host
        self.doubled = False  # every message comes twice, both ways
        self.loses = 0.0  # chance of a message to be lost, both ways
        self._chance = random.Random(f"between {seed}")
        self.token = 0
        self._from_board = FrameReader()
        self._from_host = FrameReader()
        self._to_host = bytearray()
        self._made_up = 0  # commands of our own in this session
        self._own: set[int] = set()  # their numbers, not answered yet
        self._last_number = 0  # of the session, on the board's side
        self._alive_number = 0

    # --- a machine to the link ---------------------------------------------------------------

    @property
    def now_ns(self) -> int:
        return self.machine.now_ns

    def run_until(self, time_ns: int) -> None:
        self.live()
        if not self._to_host:
            self.machine.run_until(time_ns)

    def receive(self, data: bytes) -> None:
        for frame in () if self.silent else self._from_host.feed(data):
            for _ in range(2 if self.doubled else 1):
                self._take_from_host(frame)

    def take_bytes(self) -> bytes:
        if said := self.machine.take_bytes():
            for frame in self._from_board.feed(said):
                self._take_from_board(frame)
        if not self._to_host:
            return b""
        data = b"" if self.silent or self.mute else bytes(self._to_host)
        self._to_host.clear()
        return data

    def reset(self, watchdog: bool = False) -> None:
        self.machine.reset(watchdog)

    # --- what a wrong board does otherwise ---------------------------------------------------

    def live(self) -> None:
        """Something of its own accord, between two of the board's messages."""

    def hears(self, message: Any) -> Any:
        """What of a host's message reaches the board: it, another, or None."""
        return message

    def tells(self, status: Status) -> Status | None:
        """What the host is told of a status."""
        return status

    def welcomes(self, welcome: Welcome) -> Welcome:
        return welcome

    # --- what it can do ----------------------------------------------------------------------

    def command(self, message: Any) -> None:
        """Have the board carry out a command that nobody sent; the newest status' words go with it."""
        status = self.status
        assert status is not None
        believed = {"token": self.token, "boot": status.boot, "wind": status.wind}
        believed["revision"] = status.revision
        message = dataclasses.replace(message, **believed)
        self._made_up += 1
        self._last_number = self._last_number % NUMBERS + 1
        self._own.add(self._last_number)
        self._hand_on(message, self._last_number)

    def keep_alive(self) -> None:
        """A sign of life that no host gave."""
        if self.token:
            self._alive_number += 1
            self._hand_on(Alive(self.token, self._alive_number), 0)

    def miscount(self, counts: int) -> None:
        """The board's count is so much other than it was; where it winds to a count, it stops by that."""
        control = self.machine.body.control
        control.count += counts
        control.to_stop -= counts
        control.to_cut -= counts

    def say(self, message: Any, number: int = 0) -> None:
        """Tell the host something."""
        self._to_host += encode_frame(LAYOUT_OF[type(message)].kind, number, pack(message))

    # --- messages ----------------------------------------------------------------------------

    def _lost(self) -> bool:
        return self.loses > 0.0 and self._chance.random() < self.loses

    def _take_from_board(self, frame: Frame) -> None:
        told = message = unpack(frame.kind, frame.payload)
        number = frame.sequence
        if isinstance(message, Status):
            self.status = message
            message = self.tells(message)
        elif isinstance(message, Welcome):
            message = self.welcomes(message)
        elif number in self._own:
            self._own.discard(number)
            return
        elif number:
            number = (number - 1 - self._made_up) % NUMBERS + 1
        if message is None or self._lost():
            return
        payload = frame.payload if message is told else pack(message)
        data = encode_frame(frame.kind, number, payload)
        self._to_host += data + data if self.doubled else data

    def _take_from_host(self, frame: Frame) -> None:
        if self._lost():
            return
        layout = REGISTER.get(frame.kind)
        try:
            message = None if layout is None else unpack(frame.kind, frame.payload)
        except PayloadError:
            message = None
        if layout is None or message is None:
            self.machine.receive(encode_frame(frame.kind, frame.sequence, frame.payload))
            return
        self._note(message)
        if self.deaf:
            return
        number = frame.sequence
        if layout.numbered:
            number = (number - 1 + self._made_up) % NUMBERS + 1
            self._last_number = number
        message = self.hears(message)
        if message is not None:
            self._hand_on(message, number)

    def _note(self, message: Any) -> None:
        now_ns = self.machine.now_ns
        if isinstance(message, Hello) and message.token != self.token:
            self.token, self._made_up, self._last_number, self._alive_number = (
                message.token,
                0,
                0,
                0,
            )
            self._own.clear()
        elif isinstance(message, Alive):
            self.alive_ns = now_ns
        elif is_stop(message):
            self.stop_ns = now_ns
        elif isinstance(message, MOVING):
            self.moves_ns.append(now_ns)

    def _hand_on(self, message: Any, number: int) -> None:
        if isinstance(message, Alive):
            self._alive_number = max(self._alive_number + 1, message.number)
            if message.number != self._alive_number:
                message = Alive(message.token, self._alive_number)
        kind = LAYOUT_OF[type(message)].kind
        self.machine.receive(encode_frame(kind, number, pack(message)))


def is_stop(message: Any) -> bool:
    """A stop of whatever kind: what a host may say without a number besides hello and its sign of life."""
    return isinstance(message, Stop) or (
        not LAYOUT_OF[type(message)].numbered and not isinstance(message, Hello | Alive)
    )
