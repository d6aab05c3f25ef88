"""How a run ends: the wind is closed, left, or lost; and how long the board's last word is waited for."""

from __future__ import annotations

from firmware_protocol.messages import LEASE_MS, CloseWind
from winder.clock import NS_PER_S

from .course import Course
from .loading import LEAST_RPM_S
from .model import How, Phase

LAST_WORD_NS = 3 * NS_PER_S  # wait for the board's last word: closing, leaving, a lost session
FRESH_WORD_NS = NS_PER_S // 2  # ten statuses: one of them will come
GIVE_UP_NS = 120 * NS_PER_S  # a board that is not heard for so long ends the run
FOREVER_NS = 1 << 62


class Ending:
    """``closing``: how it will have ended, once our wind is being closed."""

    def __init__(self, course: Course) -> None:
        self._course = course
        self.closing: How | None = None
        self.leaving = False
        self.how: How | None = None
        self.next_words = (
            ""  # what to type to go on with this coil; whoever opens the wind knows it
        )
        self.by_ns = FOREVER_NS  # end the run then, whatever the board says
        self._leave_by_ns = FOREVER_NS

    def close(self, how: How) -> None:
        self.closing = how
        self._course.ask_board(CloseWind)

    def leave(self, *, moving: bool) -> None:
        course = self._course
        self.leaving = True
        if moving:
            self._leave_by_ns = course.now_ns + self.rest_wait_ns()
            self.wait_until(self._leave_by_ns)
        elif (
            self.closing is None
        ):  # one status more, if one can come: the last count is the newest one
            deaf = course.board.status is None or course.phase is Phase.UNHEARD
            self.wait_until(course.now_ns + (0 if deaf else FRESH_WORD_NS))

    def wait_until(self, time_ns: int) -> None:
        self.by_ns = min(self.by_ns, time_ns)

    def heard_again(self) -> None:
        self.by_ns = self._leave_by_ns

    def rest_wait_ns(self) -> int:
        """Longest time to rest: the lease, slowing down from the fastest leg or what the board tells, and a margin."""
        course = self._course
        rest_s = course.board.rest_s
        if not rest_s:
            slowing = (
                leg.speed_rpm / max(leg.acceleration_rpm_s, LEAST_RPM_S) for leg in course.plan.legs
            )
            rest_s = 1.5 * max(slowing)
        return round((rest_s + LEASE_MS / 1000) * NS_PER_S) + LAST_WORD_NS

    def finish(self, how: How) -> None:
        """The run is over: the last event, and no request after it but a stop."""
        course = self._course
        if course.finished:
            return
        self.how = how
        course.commands.clear()
        course.finished = True
        course.tell("ended", f"run over, {how.value}; {course.words()}", how=how.value)
