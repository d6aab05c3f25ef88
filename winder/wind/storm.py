"""Edges that are not believed, one close behind another: on one channel they put the counted ones in doubt.

To a board of one channel a false pulse that comes as late as a true one is true. What it tells of a single
disturbance settles the count, give or take the edge that is told. Of a *storm* it tells only those that came too soon
or were too short, and counts the rest without a word; how many, nobody can say. So all that was counted in a storm
is in doubt, and a little on either side: until the first edge is told, and behind the last one, several may have
passed. How long that is, the storm itself shows: some of the times from one told edge to the next.

Of one disturbance two edges may be told: both at once, or the second at the next true one. More of them near to each
other are a storm, and so is a trip that questions the sensor or the speed; behind such a trip it lasts until the
spindle stands. What was counted in it may be fewer by as much as it rose, and more by as much as it fell.
"""

from __future__ import annotations

import dataclasses
from collections import deque

from firmware_protocol.messages import State, Status, Trip
from firmware_protocol.records import dataclass

from .course import Course
from .deeds import Doubt, Place

NEAR_MS = 2000  # edges told so near to each other belong to one storm
REACH_GAPS = 3  # so many mean gaps between told edges pass before the first and behind the last
REACH_MS = 100  # and no less: two statuses
TRIP_REACH_MS = 300  # before a trip: it takes some edges to question a speed
KEEP_MS = REACH_GAPS * NEAR_MS + 2 * REACH_MS
OF_ONE, ONE_SPANS = 2, 2  # edges told of one disturbance, and the counts between them
QUESTIONS = (Trip.SENSOR_IMPLAUSIBLE, Trip.OVERSPEED)
QUESTIONS_WITH_EDGES = (Trip.STALLED, Trip.NOT_STOPPED, Trip.TURNED_UNDRIVEN)

STORM = "false edges may be among those that were counted"


@dataclass(frozen=True, slots=True)
class _Past:
    """A status: its time since the first, and all that the count rose and fell until then."""

    at_ms: int
    place: Place
    rose: int
    fell: int

    @property
    def passed(self) -> int:
        return self.rose + self.fell


@dataclasses.dataclass(slots=True)
class _Storm:
    past: tuple[_Past, ...]  # before its first edge was told
    first: _Past  # the status that told it
    last_ms: int
    told: int = 0
    spans: int = 0  # counts from the first told edge to the newest
    trip_reach_ms: int | None = None  # a trip came with it

    @property
    def is_one(self) -> bool:
        several = self.told > OF_ONE or (self.told == OF_ONE and self.spans > ONE_SPANS)
        return several or self.trip_reach_ms is not None

    @property
    def mean_gap_ms(self) -> int:
        return (self.last_ms - self.first.at_ms) // max(self.told - 1, 1)

    @property
    def reach_ms(self) -> int:
        if self.trip_reach_ms is not None:
            return self.trip_reach_ms
        return max(REACH_MS, REACH_GAPS * self.mean_gap_ms)

    @property
    def begin(self) -> _Past:
        """The newest status that lies before it."""
        until_ms = self.first.at_ms - self.reach_ms
        return next((one for one in reversed(self.past) if one.at_ms < until_ms), self.past[0])


class Storms:
    """Those of one wind."""

    def __init__(self, course: Course) -> None:
        self._course = course
        self._past: deque[_Past] = deque()
        self._storm: _Storm | None = None

    def look(self, status: Status, before: Status | None, *, rests: bool) -> None:
        """At every status of our wind, when its word is in the account."""
        if self._course.sense:
            return
        if before is None or not self._past:
            self._storm = None
            self._past = deque([_Past(0, self._course.place_now, 0, 0)])
            return
        now = self._note(status, before)
        storm = self._storm
        if storm is not None and now.at_ms - storm.last_ms > max(NEAR_MS, storm.reach_ms):
            storm = self._storm = None
        told = status.implausible - before.implausible
        asks = self._questions(status, before)
        if storm is None and (told > 0 or asks):
            storm = self._storm = _Storm(tuple(self._past)[:-1], now, now.at_ms)
        if storm is not None:
            self._follow(storm, now, told, asks=asks, rests=rests)
        elif rests:  # what was counted until here is not doubted by what comes
            self._past = deque([now])

    def _note(self, status: Status, before: Status) -> _Past:
        newest, change = self._past[-1], status.count - before.count
        now = _Past(
            newest.at_ms + ((status.uptime_ms - before.uptime_ms) & 0xFFFF_FFFF),
            self._course.place_now,
            newest.rose + max(change, 0),
            newest.fell + max(-change, 0),
        )
        self._past.append(now)
        while len(self._past) > 1 and self._past[1].at_ms < now.at_ms - KEEP_MS:
            self._past.popleft()
        return now

    def _questions(self, status: Status, before: Status) -> bool:
        """Whether a trip came now that questions what was counted."""
        if status.state != State.TRIPPED or before.state == State.TRIPPED:
            return False
        return status.trip in QUESTIONS or (
            self._storm is not None and status.trip in QUESTIONS_WITH_EDGES
        )

    def _follow(self, storm: _Storm, now: _Past, told: int, *, asks: bool, rests: bool) -> None:
        storm.told += max(told, 0)
        if told > 0:
            storm.spans = now.passed - storm.first.passed
        tripped = storm.trip_reach_ms is not None
        if told > 0 or asks or (tripped and not rests):
            storm.last_ms = now.at_ms
        if asks and not tripped:
            storm.trip_reach_ms = max(TRIP_REACH_MS, REACH_GAPS * storm.mean_gap_ms)
        if not storm.is_one or now.at_ms - storm.last_ms > storm.reach_ms:
            return
        begin, start = storm.begin, storm.past[-1].place
        down, up = now.rose - begin.rose, now.fell - begin.fell
        self._course.take(Doubt(STORM, start, now.place, down, up, key=str(storm.first.at_ms)))
