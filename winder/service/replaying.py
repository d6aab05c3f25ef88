"""A recorded wind told again from the board's own words: a line a second, and one for whatever changed.

The recording is a link in virtual time, so what is told comes at the times at which it came. Of what the host said
two things are taken: the target, where the plan, or the counter's target, ended; and whether the guide was sent home.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from pathlib import Path
from typing import Any, TypeVar

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.framing import FrameReader
from firmware_protocol.messages import (
    NO_WIND,
    EndAction,
    Flag,
    PlanLeg,
    SetTarget,
    State,
    Status,
    TraverseStep,
    Trip,
    Welcome,
)
from firmware_protocol.records import dataclass
from firmware_protocol.seam import LinkLost
from firmware_protocol.wire import REGISTER, PayloadError, unpack
from winder.clock import NS_PER_S, HandClock
from winder.links.recording import ReplayedLink, read_recording
from winder.wind.wording import reason_words, trip_words

READ_S = 0.05
LINE_S = 1.0  # as the wind itself is printed without a screen
HOME_MISSED = "the guide's home was not found"
SILENT_S = 1.0  # without a status; a board says twenty a second
_Said = TypeVar("_Said")


@dataclass(frozen=True, slots=True)
class Moment:
    """Something to be shown, and when it came, in seconds since the recording began."""

    at_s: float
    words: str


def moments(path: Path, counts_per_turn: int | None = None) -> Iterator[Moment]:
    """What the recording shows, in order; in turns if ``counts_per_turn`` is known, else in counts.

    ``UserMistake`` for a file that is no recording.
    """
    clock = HandClock()
    targets, ways = _asked(path)
    link, reader, shown = ReplayedLink(path, clock), FrameReader(), _Shown(counts_per_turn)
    while True:
        try:
            data = link.read(READ_S)
        except LinkLost:
            break
        at_s = clock.now_ns() / NS_PER_S
        for frame in reader.feed(data):
            message = _message(frame.kind, frame.payload)
            if message is not None:
                shown.target = _newest(targets, at_s)
                shown.homing = _newest(ways, at_s) or False
                yield from (Moment(at_s, words) for words in shown.hear(message, at_s))
    at_s = clock.now_ns() / NS_PER_S
    yield from (
        Moment(at_s, words) for words in shown.end(reader.counts.damaged + reader.counts.overlong)
    )


def _message(kind: int, payload: bytes) -> Any:
    try:
        return unpack(kind, payload) if kind in REGISTER else None
    except PayloadError:
        return None


def _asked(path: Path) -> tuple[list[tuple[float, int]], list[tuple[float, bool]]]:
    """When the host named the count at which the wind ends, and that count; when it led the guide, and whether home."""
    reader = FrameReader()
    targets: list[tuple[float, int]] = []
    ways: list[tuple[float, bool]] = []
    for passed in read_recording(path):
        if passed.from_board:
            continue
        at_s = passed.at_ms / 1000
        for frame in reader.feed(passed.data):
            message = _message(frame.kind, frame.payload)
            if isinstance(message, PlanLeg) and message.end_action == EndAction.COMPLETE:
                targets.append((at_s, message.end_count))
            elif isinstance(message, SetTarget):
                targets.append((at_s, message.count))
            elif isinstance(message, TraverseHome | TraverseMove | TraverseStep):
                ways.append((at_s, isinstance(message, TraverseHome)))
    return targets, ways


def _newest(said: list[tuple[float, _Said]], at_s: float) -> _Said | None:
    place = bisect_right(said, at_s, key=lambda one: one[0])
    return said[place - 1][1] if place else None


class _Shown:
    """What was shown so far."""

    def __init__(self, counts_per_turn: int | None) -> None:
        self._per_turn = counts_per_turn
        self.target: int | None = None
        self.homing = False  # the guide was sent home last
        self._before: Status | None = None
        self._heard_s = 0.0
        self._line_s = -LINE_S
        self._count_shown: int | None = None

    def hear(self, message: Any, at_s: float) -> Iterator[str]:
        """The lines for a message."""
        if isinstance(message, Welcome):
            yield f"the board '{message.board}' answers, boot {message.boot}"
        elif isinstance(message, Status):
            yield from self._status(message, at_s)

    def end(self, damaged: int) -> Iterator[str]:
        if self._before is not None and self._before.count != self._count_shown:
            yield self._line(self._before)
        frames = f", {damaged} frames from the board damaged" if damaged else ""
        yield f"the recording ends{frames}"

    def _status(self, status: Status, at_s: float) -> Iterator[str]:
        before, self._before = self._before, status
        silent_s, self._heard_s = at_s - self._heard_s, at_s
        if before is not None:
            if silent_s > SILENT_S:
                yield f"nothing was heard for {silent_s:.1f} s"
            yield from _changes(before, status, homing=self.homing)
        moved = before is None or status.count != before.count
        changed = before is None or status.state != before.state
        if changed or (moved and at_s - self._line_s >= LINE_S):
            self._line_s, self._count_shown = at_s, status.count
            yield self._line(status)

    def _line(self, status: Status) -> str:
        state = _name(status.state)
        if status.wind == NO_WIND:
            return f"{state}, no wind open"
        rate = status.rate_mcps / 1000
        if self._per_turn is None:
            of = "" if self.target is None else f" of {self.target}"
            return f"{state:<10} {status.count}{of} counts, {rate:.0f} counts/s"
        of = "" if self.target is None else f" of {self.target / self._per_turn:g}"
        turns = status.count / self._per_turn
        return f"{state:<10} {turns:.2f}{of} turns, {rate / self._per_turn * 60:.0f} rpm"


def _changes(before: Status, status: Status, *, homing: bool) -> Iterator[str]:
    """What a winder would be told at once, besides state and count."""
    if status.boot != before.boot or status.uptime_ms < before.uptime_ms:
        yield f"the board was reset: boot {status.boot}"
        return
    if status.trip != before.trip:
        sought = homing and status.trip == Trip.TRAVERSE_LIMIT and before.state == State.SETTING_UP
        tripped = f"trip: {HOME_MISSED if sought else trip_words(status.trip)[0]}"
        yield tripped if status.trip != Trip.NONE else "the trip is cleared"
    if status.reason != before.reason and status.state == State.SLOWING:
        yield f"slowing: {reason_words(status.reason)}"
    for flag, on, off in (
        (Flag.GUARD_OPEN, "the guard is open", "the guard is shut"),
        (Flag.WIRE_PRESENT, "the wire is seen", "the wire is gone"),
        (Flag.REFERENCED, "the guide's place is known", "the guide's place is not known"),
    ):
        if (status.flags ^ before.flags) & flag:
            yield on if status.flags & flag else off
    if status.wind != before.wind:
        return
    for fresh, words in (
        (status.unattributed - before.unattributed, "edges that nothing drove"),
        (status.implausible - before.implausible, "edges that came too soon, not counted"),
    ):
        if fresh > 0:
            yield f"{fresh} {words}"


def _name(word: Any) -> str:
    return str(getattr(word, "name", word)).lower().replace("_", " ")
