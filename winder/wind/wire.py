"""The wire, and turns that come off again: what a person says of them, and what the motor turns back.

A break stops whatever moves and must be answered, by a splice or by a look that found the wire whole, before anything
winds on. Turns that come off are counted by the board where it can (the motor turns back by a finite move, or a hand
does under a sensor that knows the direction); else a person says how many, and vouches for it.
"""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import Has, Move, Reason, State, Status

from .account import whole_counts
from .course import Course
from .deeds import Doubt, TakenOff, WireWhole
from .loading import LEAST_RPM_S, rate_mcps
from .model import Asked, Intent, Phase, TurnsOff
from .motion import Motion
from .truth import bounds_words

UNWIND_RPM = 60.0  # a turn a second: a hand can take the wire up (common practice, no source)
SINCE_BROKEN = "turns since the wire broke are not on the coil"
SINCE_LOST = "turns since the wire was lost are not on the coil"


class Wire:
    """``broke_at``: turns, until it is joined or found whole. ``unwinding``: the motor was asked to turn back, and has
    not come to rest since."""

    def __init__(self, course: Course, motion: Motion) -> None:
        self._course, self._motion = course, motion
        self.broke_at: float | None = None
        self.broke_count: int | None = None  # of this wind, while it comes to rest after a break
        self.unwinding = False
        self.goal_count: int | None = None  # where the turning back was to end
        self.rested_count: int | None = None  # of this wind, when the spindle came to rest last
        self.rested_undriven = 0

    # --- the wire ---------------------------------------------------------------------------

    def broke(self) -> None:
        """Stop, and doubt the turns that may have gone round without wire.

        While it moves those are the turns of the last moments. At rest it may have broken at any time since somebody
        last looked: the moments before a person stopped it, else all of the last motion; unless the board has a sensor
        on the wire, which would have tripped.
        """
        course, motion = self._course, self._motion
        self.broke_at = course.turns
        moving = course.phase.moves
        if moving:
            self.broke_count = motion.reacted_count()
            motion.stop()
        elif not course.board.has(Has.WIRE_SENSOR):
            self.broke_count = motion.whole_until
        course.tell("wire", f"wire broke at about turn {self.broke_at:.0f}")
        if not moving:
            self.rest()

    def rest(self) -> None:
        """At rest: all that came since the wire broke may not be on the coil."""
        if self.broke_count is None:
            return
        begun, self.broke_count = self.broke_count, None
        self._doubt(begun, self._course.count, SINCE_BROKEN)

    def tripped(self, before: Status | None, status: Status) -> None:
        """The board's own sensor lost the wire: what it counted since is not on the coil."""
        first = before is None or before.state != State.TRIPPED
        if first and self.broke_at is None:
            self.broke_at = self._course.turns
            self._course.tell("wire", f"wire broke at about turn {self.broke_at:.0f}")
        if before is not None and status.count > before.count:
            self._doubt(before.count, status.count, SINCE_LOST)

    def _doubt(self, begun: int, ended: int, why: str) -> None:
        course = self._course
        down, end = ended - begun, course.place_now
        if down > 0:
            start = replace(end, count=end.count - down)
            course.take(Doubt(why, start, end, down, 0, of_wire=True, key=str(end.count)))
            course.tell("doubt", f"count {course.words()}")

    def mended(self, asked: Asked) -> None:
        course = self._course
        self.broke_at = None
        if asked.intent is Intent.WIRE_JOINED:
            text = f"splice at turn {bounds_words(course.truth, course.per_turn)}"
        else:
            self.broke_count = None
            course.take(WireWhole(course.place_now))
            text = f"the wire is whole; {course.words()}"
        course.tell("wire", text, by=asked.by)

    # --- turns that come off ----------------------------------------------------------------

    def seen_off(self) -> float:
        """Turns that the sensor saw come off since the spindle came to rest; they are in the count already."""
        course = self._course
        if self.rested_count is None or not course.sense:
            return 0.0
        return max(0, self.rested_count - course.count) / course.per_turn

    def turns_off(self, asked: Asked) -> None:
        """Taken off without being counted: on the person's word. Edges that agree with them within a turn came of it."""
        assert isinstance(asked.value, TurnsOff)
        course, turns = self._course, asked.value.turns
        counts = whole_counts(turns, course.per_turn)
        place = course.place_now
        by_hand = not (course.board.motor or course.sense)
        edges = 0 if course.sense else place.undriven - self.rested_undriven
        if by_hand:  # every edge was counted as wound: those that came of it were not
            edges = course.count - (
                course.count if self.rested_count is None else self.rested_count
            )
        explained = edges if edges and abs(edges - counts) <= course.per_turn else 0
        number = course.account.number(TakenOff)
        if by_hand:
            off = TakenOff(counts + explained, asked.by, place, 0, number)
        else:
            off = TakenOff(counts, asked.by, place, explained, number)
        course.take(off)
        self.came_to_rest()
        course.tell(
            "turns off", f"{turns:g} turns taken off; {course.words()}", by=asked.by, turns=turns
        )

    def came_to_rest(self) -> None:
        self.rested_count = self._course.count
        self.rested_undriven = self._course.place_now.undriven

    def unwind(self, asked: Asked) -> None:
        """The motor turns back, slowly and so far; the board comes to rest by itself."""
        assert isinstance(asked.value, float)
        course, plan = self._course, self._course.plan
        self.unwinding = True
        self.goal_count = course.count - whole_counts(asked.value, course.per_turn)
        counts = -whole_counts(asked.value, course.per_turn)
        speed_rpm = min(UNWIND_RPM, *(leg.speed_rpm for leg in plan.legs))
        slowing_rpm_s = max(plan.legs[0].acceleration_rpm_s, LEAST_RPM_S)
        rate = max(1, rate_mcps(speed_rpm, course.per_turn))
        course.ask_board(Move, counts, rate, max(1, rate_mcps(slowing_rpm_s, course.per_turn)))

    def unwound(self, status: Status) -> None:
        """A move that was asked for has ended, or was stopped."""
        self.unwinding = False
        ended = "turned back" if status.reason == Reason.MOVE_DONE else "turning back was stopped"
        self._course.tell("turns off", f"{ended}; {self._course.words()}", by="board")

    def off_turns(self, left_counts: int | None) -> float | None:
        """Turns still to be taken off; None where there is nothing of the kind, or it is not known."""
        course = self._course
        if course.phase is not Phase.TAKING_OFF or left_counts is None:
            return None
        return (course.truth.high - left_counts) / course.per_turn
