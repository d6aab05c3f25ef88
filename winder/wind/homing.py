"""The guide finds its home: to its limit switch, and from there to where the machine file has the left flange.

Two moves of the board, asked for once by a person. The second is asked for only behind a first one that was carried
out to its end, with no stop in between, so that nothing goes on moving that somebody has stopped. Between begin and
end the guide's place is known to nobody.
"""

from __future__ import annotations

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import Flag, Reason, State, Status, Trip
from winder.clock import NS_PER_S

from .course import Course
from .motion import Motion
from .wording import reason_words, trip_words

UM_PER_MM = 1000
SPEED_MM_S = 10.0
RISE_S = 0.25  # to full speed
SEEKS_SHARE = 1.125  # a board looks for the switch so much farther than it can be
NEAR_UM = 50  # of the switch's place, as the board tells it behind a homing
LONGEST_S = 60.0  # a move of no length; beside it, twice what its way takes
UNKNOWN = "the guide's place is not known"
HANDS_OFF = "the guide goes to its limit switch, then to the flange: keep fingers and wire clear; a stop ends it"
FINDING = "on its way home"
LOOK = "look at switch, cable and guide, clear the trip, then find its home again"


def how(speed_mm_s: float = SPEED_MM_S) -> dict[str, int]:
    """Speed and ramp, as both commands carry them."""
    um_s = speed_mm_s * UM_PER_MM
    return {"rate_um_s": round(um_s), "accel_um_s2": round(um_s / RISE_S)}


class Homing:
    """``under_way``: asked for, and not ended. ``found``: the switch. ``why``: the newest one failed."""

    def __init__(self, course: Course, motion: Motion) -> None:
        self._course, self._motion = course, motion
        self.under_way = self.found = False
        self.why = ""
        self._taken = False  # the board has said that it does it
        self._stops = self._from_um = self._by_ns = 0

    @property
    def flange_um(self) -> int:
        """From the switch to the left flange."""
        return round((self._course.machine.switch_to_flange_m or 0.0) * 1e6)

    def begin(self, place_um: int) -> None:
        self.under_way, self.found, self.why, self._taken = True, False, "", False
        self._stops, self._from_um = self._motion.stops, place_um
        self._ask(TraverseHome, -self.flange_um)

    def taken(self) -> None:
        self._taken = True

    @property
    def said(self) -> str:
        """What the list says of it; "" where nothing has to be done about it."""
        if self.under_way:
            return FINDING
        return (
            f"home not found, {self.why}: find it again, or touch the left flange"
            if self.why
            else ""
        )

    def goes_on(self, status: Status) -> bool:
        """The guide stands. Whether it is led on to the flange now."""
        if not self.under_way:
            return False
        known = bool(status.flags & Flag.REFERENCED) and status.state != State.TRIPPED
        done = known and self._taken and status.reason == Reason.MOVE_DONE
        if self.found and known:
            self._end("" if done else f"stopped on its way to the flange ({_reason(status)})")
        elif done and abs(status.traverse_um + self.flange_um) <= NEAR_UM:
            self._find()
        else:
            self.fail(self._why(status))
        return self.under_way

    def fail(self, why: str) -> None:
        """It has ended otherwise; nothing to tell where none is under way."""
        if not self.under_way:
            return
        self.under_way, self.found, self.why = False, False, why
        self._tell(f"the guide's home was not found, {why}; {UNKNOWN}")

    def tick(self) -> None:
        """No move lasts for ever, whatever a board says."""
        if self.under_way and self._course.now_ns >= self._by_ns and not self._motion.stopping:
            self._tell("the guide was on its way for too long; it is stopped")
            self._motion.stop()

    def trip_words(self, trip: int) -> tuple[str, str]:
        """Of a trip: what happened, and what to do."""
        if trip != Trip.TRAVERSE_LIMIT or not self.why:
            return trip_words(trip)
        return self.why, LOOK

    # --- parts --------------------------------------------------------------------------------

    def _ask(self, kind: type, um: int) -> None:
        course = self._course
        board, wind = course.board, course.board.wind
        way_m = (course.machine.traverse_travel_m or 0.0) + self.flange_um * 1e-6
        self._by_ns = course.now_ns + round((LONGEST_S + 2e3 * way_m / SPEED_MM_S) * NS_PER_S)
        course.do(lambda: kind(0, board.boot, wind, board.revision, um, **how()))

    def _find(self) -> None:
        self.found = True
        self._tell("the guide found its home, the limit switch; its place is known")
        if self._motion.stops != self._stops:
            self._end("stopped at the limit switch")
        elif self.flange_um:
            self._ask(TraverseMove, self.flange_um)
        else:
            self._end("")

    def _end(self, short: str) -> None:
        self.under_way = False
        flange = f"the left flange, {self.flange_um / UM_PER_MM:g} mm right of the limit switch"
        self._tell(f"the guide is {short}" if short else f"the guide stands at {flange}")

    def _why(self, status: Status) -> str:
        if status.state != State.TRIPPED or status.trip != Trip.TRAVERSE_LIMIT:
            return _reason(status)
        if self._motion.stops != self._stops:
            return "it was stopped as it met its limit switch"
        went_um = self._from_um - status.traverse_um
        travel_um = (self._course.machine.traverse_travel_m or 0.0) * 1e6
        if went_um >= travel_um:
            return f"the limit switch was not met in {went_um / UM_PER_MM:.0f} mm"
        return "the limit switch is loose or stuck"

    def _tell(self, text: str) -> None:
        self._course.tell("set up", text, item="guide")
        self._course.view_is_stale = True


def _reason(status: Status) -> str:
    if status.state == State.TRIPPED:
        return trip_words(status.trip)[0].partition(" while ")[0]
    return reason_words(int(status.reason))
