"""What calls the eyes back to the screen: bell patterns, and for the few things that matter most a page of its own.

A call is made once for each event, from what is newly so in the views as they come. The terminal's bell is rung in the
rhythm of the event, or a command that the person named is run with the event's word. Each call can be turned off.
"""

from __future__ import annotations

import enum
from collections.abc import Callable

from firmware_protocol.records import dataclass
from winder.clock import NS_PER_MS, NS_PER_S
from winder.screens.words import TURNING
from winder.wind.model import Phase, WindView

LAST_TURNS = 20  # before the end
TICK = "tick"  # the seconds before a start; a bell each
PAGE_NS = 3 * NS_PER_S  # how long a call keeps the whole screen


class Call(enum.Enum):
    """The events, in the order in which the more pressing silences the other. Beside each its bells, ms apart."""

    ALARM = "alarm", (0, 150, 150, 150, 150, 150)
    TRIP = "trip", (0, 150, 150, 150)
    WIRE_ENDS = "wire", (0, 600, 600)
    STOP = "stop", (0, 200, 200)
    PAUSE = "pause", (0, 500)
    LAST = "last", (0, 200)
    EDGE = "edge", (0,)

    bells_ms: tuple[int, ...]

    def __new__(cls, word: str, bells_ms: tuple[int, ...]) -> Call:
        call = object.__new__(cls)
        call._value_, call.bells_ms = word, bells_ms
        return call


FILLS = {Call.STOP: "stop", Call.WIRE_ENDS: "wire ends"}  # trip and alarm have pages of their own


@dataclass(frozen=True, slots=True)
class Calling:
    """``off``: words of the calls that are not made. ``sound``: run with an event's word in place of the bell."""

    off: frozenset[str] = frozenset()
    sound: Callable[[str], None] | None = None


RINGS = Calling()


def events(before: WindView, now: WindView) -> set[Call]:
    """What is newly so. The end of the wire is called where the spool's account says that it comes."""
    return _so(now) - _so(before)


def _so(view: WindView) -> set[Call]:
    phase, left, so = view.phase, view.count.remaining_turns, set()
    turning = phase in TURNING
    if phase is Phase.ALARM:
        so.add(Call.ALARM)
    if phase is Phase.TRIPPED:
        so.add(Call.TRIP)
    reached = left <= (0 if view.board_stops else view.motion.early_turns)
    if phase in (Phase.COMPLETE, Phase.TAKING_OFF) or (turning and reached):
        so |= {Call.STOP, Call.LAST}
    if phase is Phase.PAUSED and view.motion.pauses_here is not None:
        so.add(Call.PAUSE)
    if turning and view.motion.pauses_here is not None and not view.board_stops:
        so.add(Call.PAUSE)
    if turning and left <= LAST_TURNS:
        so.add(Call.LAST)
    until = None if view.wire is None else view.wire.until_turns
    if turning and until is not None and until <= LAST_TURNS:
        so.add(Call.WIRE_ENDS)
    lane = view.lay.lane
    if turning and lane is not None and lane.turns_to_edge <= 1:
        so.add(Call.EDGE)
    return so


class Caller:
    """Rings what is newly so, one pattern at a time, on the screen's ticks."""

    def __init__(self, calling: Calling, bell: Callable[[], None]) -> None:
        self._calling, self._bell = calling, bell
        self._before: WindView | None = None
        self._due_ns: list[int] = []
        self._page: Call | None = None
        self._page_until_ns = 0

    def look(self, view: WindView, now_ns: int) -> None:
        """The newest view; the first one calls nothing."""
        before, self._before = self._before, view
        found = set() if before is None else events(before, view)
        made = [call for call in Call if call in found and call.value not in self._calling.off]
        if made:
            self._make(made[0], now_ns)
        while self._due_ns and self._due_ns[0] <= now_ns:
            self._due_ns.pop(0)
            self._bell()

    def tick(self) -> None:
        if TICK not in self._calling.off:
            self._bell()

    def page(self, now_ns: int) -> Call | None:
        """The call that has the whole screen now."""
        return self._page if now_ns < self._page_until_ns else None

    def _make(self, call: Call, now_ns: int) -> None:
        if call in FILLS:
            self._page, self._page_until_ns = call, now_ns + PAGE_NS
        if self._calling.sound is not None:
            self._calling.sound(call.value)
            return
        at_ns, self._due_ns = now_ns, []
        for apart_ms in call.bells_ms:
            at_ns += apart_ms * NS_PER_MS
            self._due_ns.append(at_ns)
