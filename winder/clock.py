"""The only place that may read the time.

``SystemClock`` runs with the world, optionally faster or slower. ``HandClock`` stands until it is moved;
``HurriedClock`` too, but is kept from running away (a simulated machine at 20 times real time needs a
host that lives 20 times as fast).
Wall-clock dates, for the logbook, come from ``date_now``.
"""

from __future__ import annotations

import datetime
import time
from functools import lru_cache

NS_PER_S = 1_000_000_000
NS_PER_MS = 1_000_000


class SystemClock:
    """Monotonic time, ``pace`` times as fast as the world's; ``sleep_s`` is in its own seconds."""

    def __init__(self, pace: float = 1.0) -> None:
        assert pace > 0
        self.pace = pace
        self._origin_ns = time.monotonic_ns()

    def now_ns(self) -> int:
        elapsed = time.monotonic_ns() - self._origin_ns
        return elapsed if self.pace == 1.0 else round(elapsed * self.pace)

    def sleep_s(self, seconds: float) -> None:
        time.sleep(seconds / self.pace)


class HandClock:
    """Virtual time: moved by hand, never backwards."""

    def __init__(self, start_ns: int = 0) -> None:
        self._now_ns = start_ns

    def now_ns(self) -> int:
        return self._now_ns

    def move_to(self, time_ns: int) -> None:
        assert time_ns >= self._now_ns, "time does not run backwards"
        self._now_ns = time_ns

    def sleep_s(self, seconds: float) -> None:
        self._now_ns += round(seconds * NS_PER_S)


class HurriedClock(HandClock):
    """Moved by hand too, but never further than ``pace`` times the world's time.

    For a simulated machine that lives faster than the world: whoever is held up for a moment finds
    that no time has passed, instead of a lease that ran out in five milliseconds.
    """

    def __init__(self, pace: float) -> None:
        super().__init__()
        self.pace = pace
        self._world_ns = time.monotonic_ns()
        self._since_ns = 0

    def keep_pace(self) -> None:
        """Sleep until the world has come as far; if it is already ahead, count from here."""
        world_ns = time.monotonic_ns()
        due_ns = self._world_ns + round((self.now_ns() - self._since_ns) / self.pace)
        if due_ns > world_ns:
            time.sleep((due_ns - world_ns) / NS_PER_S)
        else:
            self._world_ns, self._since_ns = world_ns, self.now_ns()

    def sleep_s(self, seconds: float) -> None:
        super().sleep_s(seconds)
        self.keep_pace()


def wall_seconds() -> float:
    """Seconds of the process's performance counter, for telling how long something took."""
    return time.perf_counter()


def date_now() -> str:
    """The date and time in UTC, ISO 8601 with seconds, for records."""
    return _date(int(time.time()))


@lru_cache(1)
def _date(seconds: int) -> str:
    return datetime.datetime.fromtimestamp(seconds, datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def seconds_since(date: str) -> float:
    """Since a date of ``date_now``; very long for a text that is none."""
    try:
        then = datetime.datetime.strptime(date, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=datetime.UTC)
    except ValueError:
        return float("inf")
    return (datetime.datetime.now(datetime.UTC) - then).total_seconds()


def day_of(text: str) -> str:
    """A calendar day as ``2026-01-31``. ``ValueError`` for what is none."""
    return datetime.date.fromisoformat(text).isoformat()
