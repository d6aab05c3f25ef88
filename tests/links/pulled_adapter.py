"""A board on a cable that the tests pull out and plug in again, and how a link reads on meanwhile."""

from __future__ import annotations

import os
import tty
from pathlib import Path

from winder.clock import NS_PER_S, HandClock
from winder.links.reopening import ReopeningLink


class Adapter:
    """A board on a cable: a pseudo-terminal under a lasting name, pulled and plugged in by the test."""

    def __init__(self, name: Path) -> None:
        self.name = name
        self._ends: tuple[int, int] | None = None
        self.plug()

    @property
    def device(self) -> str:
        assert self._ends is not None
        return os.ttyname(self._ends[1])

    def plug(self) -> None:
        self._ends = os.openpty()
        tty.setraw(self._ends[1])
        self.point_to(self.device)

    def point_to(self, target: str | Path) -> None:
        self.name.unlink(missing_ok=True)
        self.name.symlink_to(target)

    def unplug(self, *, name_too: bool = True) -> None:
        ends, self._ends = self._ends, None
        for end in ends or ():
            os.close(end)
        if name_too:
            self.name.unlink(missing_ok=True)

    def say(self, data: bytes) -> None:
        assert self._ends is not None
        os.write(self._ends[0], data)

    def hear(self) -> bytes:
        assert self._ends is not None
        return os.read(self._ends[0], 4096)


def heard(link: ReopeningLink, count: int) -> bytes:
    data = b""
    for _ in range(50):
        data += link.read(0.2)
        if len(data) >= count:
            break
    return data


def pass_time(link: ReopeningLink, seconds: float) -> None:
    """Read on, as the driving loop does, until the clock has moved so far or the port is open."""
    for _ in range(round(seconds / 0.05)):
        assert link.read(0.05) == b""
        if link.open:
            return


def lost(link: ReopeningLink, adapter: Adapter, **how: bool) -> None:
    adapter.unplug(**how)
    assert link.read(0.0) == b""
    assert (link.open, bool(link.why_closed)) == (False, True)


def not_before(link: ReopeningLink, clock: HandClock, seconds: float = 0.0) -> float:
    link.not_before_ns = clock.now_ns() + round(seconds * NS_PER_S)
    return link.not_before_ns / NS_PER_S
