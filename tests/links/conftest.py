"""Machines and links that the tests of this room share."""

from __future__ import annotations

import os
import tty
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from pulled_adapter import Adapter

from winder.clock import NS_PER_S, HandClock
from winder.links.reopening import ReopeningLink

NS_PER_MS = 1_000_000


class ScriptedMachine:
    """A body of the tests: says what it was told to at given times, and notes what it hears.

    ``say`` may be called from another thread than the one that runs the machine.
    """

    def __init__(self, now_ns: int = 0) -> None:
        self.now_ns = now_ns
        self.heard = bytearray()
        self.heard_at: list[int] = []
        self.resets = 0
        self._told: deque[tuple[int, bytes]] = deque()  # times rise
        self._bytes = b""

    def say(self, data: bytes, at_ns: int = 0) -> None:
        self._told.append((at_ns, data))

    def run_until(self, time_ns: int) -> None:
        assert time_ns >= self.now_ns
        if not self._bytes:
            if self._told:
                time_ns = max(self.now_ns, min(time_ns, self._told[0][0]))
            self.now_ns = time_ns

    def receive(self, data: bytes) -> None:
        self.heard += data
        self.heard_at.append(self.now_ns)

    def take_bytes(self) -> bytes:
        while self._told and self._told[0][0] <= self.now_ns:
            self._bytes += self._told.popleft()[1]
        data, self._bytes = self._bytes, b""
        return data

    def reset(self, watchdog: bool = False) -> None:
        self.resets += 1
        self._bytes += b"boot"


@dataclass
class Pty:
    master: int
    path: str

    def hang_up(self) -> None:
        if self.master >= 0:
            os.close(self.master)
            self.master = -1


@pytest.fixture
def pty() -> Iterator[Pty]:
    master, other_end = os.openpty()
    tty.setraw(other_end)
    made = Pty(master, os.ttyname(other_end))
    yield made
    os.close(other_end)
    made.hang_up()


@pytest.fixture
def adapter(tmp_path: Path) -> Iterator[Adapter]:
    made = Adapter(tmp_path / "usb-board")
    yield made
    made.unplug()


@pytest.fixture
def clock() -> HandClock:
    return HandClock(7 * NS_PER_S)


@pytest.fixture
def link(adapter: Adapter, clock: HandClock, lock_folder: Path) -> Iterator[ReopeningLink]:
    made = ReopeningLink(str(adapter.name), clock, lock_folder=lock_folder)
    yield made
    made.close()


@pytest.fixture
def machine() -> ScriptedMachine:
    return ScriptedMachine()


@pytest.fixture
def new_machine() -> Callable[[], ScriptedMachine]:
    return ScriptedMachine


@pytest.fixture
def lock_folder(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "locks"
    folder.mkdir(mode=0o700)
    yield folder
