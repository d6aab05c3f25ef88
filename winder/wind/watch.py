"""The watch: is what the board says possible, and does it do what it was told?

Every status is judged against the one before it by the board's own uptime; the host's clock judges silence, and starts
afresh after the host itself was away. Whether a stop is obeyed is judged by both, for words may have been held up. Two levels: a *finding* leaves its doubt and sends nothing (a hand at rest,
a count that jumped, all of a board without a motor); an *alarm* says in words what the board does that it was not
told. What no host can see (a board that falsifies consistently; one turn where a turn has few counts) stays unseen.
"""

from __future__ import annotations

import enum
import math
from dataclasses import replace

from firmware_protocol.messages import State, Status, Trip
from winder.clock import NS_PER_S

from .board import AT_REST, DRIVEN, IN_MOTION
from .course import Course
from .deeds import COMMIT_GAP_S, Doubt
from .ending import Ending
from .loading import LEAST_RPM_S
from .model import Phase
from .motion import Motion
from .wire import Wire

NEAR_MS = 110  # statuses this near to each other bound the count by their speeds
SPEED_SHARE = 0.35  # by which a speed seen from few edges may be off
SLACK_TURNS, SLACK_COUNTS = 0.35, 2  # quantised uptime, an edge more or less, a speed that lags
STILL_TURNS = 0.3  # a spindle that shows no speed can have moved so far
AT_REST_WHY = "the count changed at rest: a hand turned the spindle, or the board miscounts"
SILENT_S, SILENT_EDGES = 1.2, 12  # without an edge at speed; boards trip after five edges at most
SLOW_CPS = 8.0  # below, the spindle may come to stand between two edges and be nudged on
START_S = 3.0  # from the drive going on to the first edge
HAND_AT_REST_RPM = (
    300.0  # nobody turns a spindle that is coupled to a motor faster (our judgement, no source)
)
RATE_ROOM = 1.6  # times the fastest leg: boards trip on overspeed well below
FROZEN_S = 1.0  # bytes come and the uptime stands
FROZEN_STATUSES = 10
SLOWS_S = 1.0  # after a stop was sent, until the speed must have fallen
RESTLESS_S, RESTLESS = 0.5, 3  # statuses in which it moved; a count that jumps once is a finding
OBEYS_S = 1.0  # after a stop was sent, until the board shows that it took it
STALL_S = 12.0  # driven without an edge, twice that where a turn has one; boards trip well before
RESETS_AFTER = 3  # statuses in a row with an uptime that began anew
AWAY_S = 0.5  # a host that did not look for so long was away itself
PAST_TURNS = 1.0  # past an end that stops; no plan allows as much

OFF = "switch the motor's power off"
NOT_STOPPING = "the board does not stop the spindle"
PAST_THE_END = "the spindle is running past the end"
UNASKED = "the spindle is moving and nobody asked it to"
CLOCK_STANDS = "the board repeats itself: its clock stands still"
IMPLAUSIBLE = "the turn sensor was implausible"
ENDED_SHORT = "the board says it reached the end, but its count says otherwise"
TOO_FAST = "edges came faster than the spindle was driven"
NO_EDGE_CAME = "no edge came while driven: the spindle stood, or the sensor failed"
NO_EDGES = "the drive is on but the sensor sees no turning"
DRIVES_AT_REST = "the board says it has stopped, but it drives the spindle"


class Follows(enum.Enum):
    """How a status follows the one before."""

    ON = "new"
    OLD = "said before"
    RESET = "the board's clock started over"


class Watch:
    """One wind's. ``alarm``: what the board does that it was not told, or ""."""

    def __init__(self, course: Course, motion: Motion, wire: Wire, ending: Ending) -> None:
        self._course, self._motion, self._wire, self._ending = course, motion, wire, ending
        self.alarm = ""
        self._looked_ns = 0
        self._uptime_moved_ns = 0
        self._same = 0  # statuses in a row with one uptime
        self._back = 0  # in a row with an uptime that fell
        self._back_uptime_ms = 0
        self._edge_cps = 0.0  # the speed that was told with it; 0: none since the drive went on
        self._edge_ms = 0  # uptime of the last edge, or of anything that excuses its absence
        self._odd: Doubt | None = None  # the doubt that is growing
        self._stop_rate = 0.0  # when the stop was sent, counts/s
        self._cut_rate = 0.0  # when the board had to have cut the drive, counts/s
        self._trip_ms: int | None = None
        # Uptime, count, statuses since in which it moved.
        self._rested: tuple[int, int, int] | None = None
        plan, machine = course.plan, course.machine
        self._per_turn = plan.counts_per_turn
        top_rpm = max(leg.speed_rpm for leg in plan.legs) if machine.motor else 6000.0
        self._top_cps = top_rpm * self._per_turn / 60
        most_rpm = machine.speed_rpm_max if machine.motor else top_rpm
        # A speed that is told above this tells nothing.
        self._most_cps = RATE_ROOM * most_rpm * self._per_turn / 60

    # --- time -------------------------------------------------------------------------------

    def tick(self) -> None:
        now_ns = self._course.now_ns
        if now_ns - self._looked_ns > AWAY_S * NS_PER_S:
            self._uptime_moved_ns, self._same = now_ns, 0
        self._looked_ns = now_ns

    def follows(self, status: Status, before: Status | None) -> Follows:
        """By the uptime; a clock that stands while bytes come makes the wind unheard."""
        now_ns = self._course.now_ns
        if before is None:
            self._uptime_moved_ns = now_ns
            return Follows.ON
        passed_ms = (status.uptime_ms - before.uptime_ms) & 0xFFFF_FFFF
        if 0 < passed_ms < 1 << 31:
            self._same = self._back = 0
            self._uptime_moved_ns = now_ns
            return Follows.ON
        if passed_ms == 0:
            self._same += 1
            return Follows.OLD
        rises = status.uptime_ms > self._back_uptime_ms
        self._back = self._back + 1 if rises else 1
        self._back_uptime_ms = status.uptime_ms
        return Follows.RESET if self._back >= RESETS_AFTER else Follows.OLD

    @property
    def frozen(self) -> bool:
        since_s = (self._course.now_ns - self._uptime_moved_ns) / NS_PER_S
        return self._same >= FROZEN_STATUSES and since_s >= FROZEN_S

    def clock_stands(self) -> None:
        if self._course.board.motor:
            self.alarm = CLOCK_STANDS

    # --- the count --------------------------------------------------------------------------

    def look_at_count(self, status: Status, before: Status) -> bool:
        """Whether the count moved as no spindle can; the doubt is taken into the account."""
        if self._taken_back_by_hand(status, before):
            return False
        low, high = self._possible(status, before)
        entry = self._course.account.entry(self._course.wind)
        rise = status.count - before.count
        if entry is not None and entry.by_hand:  # whichever way an edge went, it is counted
            rise += status.unattributed - before.unattributed
        if low <= rise <= high:
            self._odd = None
            return False
        if self._turned_at_rest(status, before):
            down, up, why = max(0, 2 * rise), max(0, -2 * rise), AT_REST_WHY
        else:
            down = max(0, rise - math.floor(low)) if rise > high else 0
            up = max(0, math.ceil(high) - rise) if rise < low else 0
            way = "jumped" if rise > high else "fell" if rise < 0 else "stood"
            why = f"the board's count {way} as no spindle can"
        course, odd = self._course, self._odd
        place = course.place_now
        if odd is not None and odd.why == why:
            self._odd = replace(odd, end=place, down=odd.down + down, up=odd.up + up)
        else:
            self._odd = Doubt(why, place, place, down, up, key=str(status.uptime_ms))
        course.take(self._odd)
        return odd is None

    def _turned_at_rest(self, status: Status, before: Status) -> bool:
        """At rest nothing drives: a hand turned it, whichever way, or the board miscounts."""
        rested = status.state in AT_REST and before.state in AT_REST
        return rested and self._course.board.motor

    def _taken_back_by_hand(self, status: Status, before: Status) -> bool:
        """Turns too many come off by hand under a sensor that knows the direction, as it was said: they are counted."""
        course = self._course
        back = status.count <= before.count and status.rate_mcps <= 0
        return course.phase is Phase.TAKING_OFF and course.sense and back

    def _possible(self, status: Status, before: Status) -> tuple[float, float]:
        """Least and most counts that can lie between two statuses of one boot and wind."""
        passed_ms = (status.uptime_ms - before.uptime_ms) & 0xFFFF_FFFF
        passed_s, turn = passed_ms / 1000, self._per_turn
        rates = (before.rate_mcps / 1000, status.rate_mcps / 1000)
        driven = self._course.board.motor and (
            status.state in IN_MOTION or before.state in IN_MOTION
        )
        coasts = status.state == State.TRIPPED and max(rates) > 0
        slack = max(SLACK_COUNTS, SLACK_TURNS * turn)
        back = min(rates) < 0 or self._wire.unwinding
        if not (driven or coasts) and self._course.board.motor:
            still = math.floor(STILL_TURNS * turn)
            return -still, still
        if passed_ms > NEAR_MS or max(rates) > self._most_cps:
            most = self._top_cps * RATE_ROOM * passed_s + slack
            at_rest_back = self._course.sense and not driven
            return (-most if back or at_rest_back else -slack), most
        high = max(0.0, *rates) * passed_s * (1 + SPEED_SHARE) + slack
        low = min(rates) * passed_s
        low = low * (1 + SPEED_SHARE) if low < 0 else low * (1 - SPEED_SHARE)
        least = min(low, 0.0 if back else low) - slack
        if min(rates) > SLOW_CPS / 2 and status.state == before.state == State.WINDING:
            least = max(least, 0.0)  # what turns at speed does not rock back
        return least, high

    # --- conduct ----------------------------------------------------------------------------

    def look_at_conduct(self, status: Status, before: Status | None) -> None:
        """Does the board do what it was told? Sets ``alarm``; a board without a motor raises none."""
        if not self._course.board.motor:
            return
        self._watch_edges(status, before)
        if not self._course.phase.waits:  # once it is at the end, turns may come off
            self._look_at_end(status)
        self.alarm = self.alarm or (
            self._past_the_end(status, before)
            or self._deaf(status, before)
            or self._at_rest_and_turning(status, before)
            or self._without_edges(status)
        )

    def _passed_s(self, status: Status, since_ms: int) -> float:
        passed_ms = (status.uptime_ms - since_ms) & 0xFFFF_FFFF
        return passed_ms / 1000 if passed_ms < 1 << 31 else 0.0

    def _look_at_end(self, status: Status) -> None:
        """A board that says it has reached the end and has not counted so far: one of the two is wrong."""
        course, prepared = self._course, self._course.preparation
        if status.state != State.COMPLETE or status.generation != prepared.generation:
            return
        place, short = course.place_now, prepared.target_count - course.count
        if prepared.in_force and prepared.loaded and short > 0 and status.wind == course.wind:
            up, key = short + self._per_turn, f"end {prepared.generation}"
            course.take(Doubt(ENDED_SHORT, place, place, 0, up, key=key))

    def _past_the_end(self, status: Status, before: Status | None) -> str:
        room, prepared = PAST_TURNS * self._per_turn, self._course.preparation
        ends, winds = prepared.stops, status.state == State.WINDING
        if winds and ends and prepared.in_force and status.wind == self._course.wind:
            if status.count > ends[-1] + room or self._past_a_pause(status.count - room, ends):
                return PAST_THE_END
            begun = self._motion.started_count
            # The end was reached a status ago, and the board still winds: it counts no more, or does not stop.
            was_there = before is not None and begun < before.count and before.count in ends
            if before is not None and was_there and before.state == State.WINDING:
                self._doubt_silence(status, self._passed_s(status, self._edge_ms))
                return PAST_THE_END
        goal = self._wire.goal_count
        if self._wire.unwinding and goal is not None and status.count < goal - room:
            return PAST_THE_END
        return ""

    def _past_a_pause(self, count: float, ends: tuple[int, ...]) -> bool:
        """Whether an end that this start was to reach lies behind."""
        begun = self._motion.started_count
        return count > ends[0] and begun >= 0 and any(begun < end < count for end in ends)

    def _deaf(self, status: Status, before: Status | None) -> str:
        """A stop that is not taken, or taken and not obeyed."""
        motion, rate = self._motion, abs(status.rate_mcps) / 1000
        since, now_ns = motion.stop_since, self._course.now_ns
        unheard = self._course.phase is Phase.UNHEARD  # nobody knows whether the stop was heard
        rests = self._course.board.rests(status)  # a start on its way may still set it off
        slows = motion.stopping or (
            # By itself: from the first status that says so, for nobody knows what was in a silence before.
            before is not None and before.state == status.state == State.SLOWING
        )
        if not slows or since is None or rests or unheard:
            self._stop_rate = self._cut_rate = rate
            motion.stop_since = status.uptime_ms, now_ns
            return ""
        # By both clocks: what a driver or a hub held up was said before the board could hear of it.
        passed_s = min(self._passed_s(status, since[0]), (now_ns - since[1]) / NS_PER_S)
        cut_s = passed_s - self._course.board.cut_s
        self._stop_rate = max(self._stop_rate, rate) if passed_s < OBEYS_S / 2 else self._stop_rate
        self._cut_rate = rate if cut_s < OBEYS_S / 4 else self._cut_rate
        if passed_s > self._rest_s():
            return NOT_STOPPING
        if passed_s > OBEYS_S and status.state == State.WINDING:
            return NOT_STOPPING
        then = (self._stop_rate, passed_s), (self._cut_rate, cut_s)
        return NOT_STOPPING if any(self._held(rate, *since) for since in then) else ""

    def _held(self, rate: float, rate_then: float, passed_s: float) -> bool:
        """Whether the spindle, well above a turn a second, has not slowed as it must since then."""
        slowing = self._slowest_cps2() * (passed_s - OBEYS_S / 2)
        least_fall = min(0.25 * rate_then, 0.5 * slowing)
        return passed_s > SLOWS_S and rate > max(self._per_turn, rate_then - least_fall)

    def _rest_s(self) -> float:
        told_s = self._course.board.rest_s
        return told_s + OBEYS_S if told_s else self._ending.rest_wait_ns() / NS_PER_S

    def _slowest_cps2(self) -> float:
        least = min(max(leg.acceleration_rpm_s, LEAST_RPM_S) for leg in self._course.plan.legs)
        return (
            min(least, max(self._course.machine.coasting_rpm_s, LEAST_RPM_S)) * self._per_turn / 60
        )

    def _watch_edges(self, status: Status, before: Status | None) -> None:
        """When the last edge came, and how fast the spindle was then; a guide that is led excuses their absence."""
        driven = status.state in (State.WINDING, State.SETTING_UP)
        if before is not None and status.count != before.count:
            faster = max(abs(status.rate_mcps), abs(before.rate_mcps))
            self._edge_ms, self._edge_cps = status.uptime_ms, faster / 1000
        elif before is None or not driven or self._led(status, before):
            self._edge_ms, self._edge_cps = status.uptime_ms, 0.0

    def _led(self, status: Status, before: Status) -> bool:
        """The guide is led to its place before the spindle turns."""
        return status.traverse_um != before.traverse_um and self._edge_cps == 0.0

    def _silence_s(self) -> float:
        """How long a drive that is on may show no edge; boards trip well before."""
        per_turn = self._per_turn
        # Faster than a turn a second: nothing stops so suddenly.
        if self._edge_cps > max(SLOW_CPS, per_turn):
            return max(SILENT_S, SILENT_EDGES / self._edge_cps)
        if self._edge_cps == 0.0:  # since the drive went on
            return START_S * (1 + 1 / per_turn)
        return STALL_S * (1 + 1 / per_turn)

    def _at_rest_and_turning(self, status: Status, before: Status | None) -> str:
        if status.state == State.TRIPPED:
            return self._tripped_and_turning(status)
        self._trip_ms = None
        if status.state not in AT_REST:
            return ""
        rested = before is not None and before.state in AT_REST and before.flags & DRIVEN
        if status.flags & DRIVEN and rested:  # the flag may lag behind the state once
            return DRIVES_AT_REST
        hand_cps = max(2 * HAND_AT_REST_RPM * self._per_turn / 60, 4 * SLACK_COUNTS)
        if abs(status.rate_mcps) / 1000 > hand_cps:
            return UNASKED
        return UNASKED if self._runs_at_rest(status, before, hand_cps) else ""

    def _runs_at_rest(self, status: Status, before: Status | None, hand_cps: float) -> bool:
        """Whether the count has risen or fallen as no hand turns it, again and again, whatever speed is said."""
        if before is None or before.state not in AT_REST or before.wind != status.wind:
            self._rested = None
            return False
        since_ms, count, moves = self._rested or (before.uptime_ms, before.count, 0)
        moves += status.count != before.count
        self._rested = (since_ms, count, moves)
        passed_s = self._passed_s(status, since_ms)
        if passed_s < RESTLESS_S:
            return False
        self._rested = (status.uptime_ms, status.count, 0)
        said = 0.5 if status.rate_mcps == 0 else 1.0  # a hand's turning shows a speed
        return moves >= RESTLESS and abs(status.count - count) > said * hand_cps * passed_s

    def _tripped_and_turning(self, status: Status) -> str:
        """After a trip the spindle coasts, and no longer than it can."""
        if self._trip_ms is None:
            self._trip_ms = status.uptime_ms
            return ""
        coasting_s = self._top_cps / self._slowest_cps2() + self._rest_s()
        turning = abs(status.rate_mcps) / 1000 > self._per_turn
        return UNASKED if turning and self._passed_s(status, self._trip_ms) > coasting_s else ""

    def _without_edges(self, status: Status) -> str:
        driven = status.state in (State.WINDING, State.SETTING_UP) and status.flags & DRIVEN
        silent_s = self._passed_s(status, self._edge_ms)
        if not driven or silent_s <= self._silence_s():
            return ""
        self._doubt_silence(status, silent_s)
        return NO_EDGES

    def _doubt_silence(self, status: Status, silent_s: float) -> None:
        """No edge came while driven: the spindle stood, or went on unseen, past any end."""
        course, place = self._course, self._course.place_now
        entry = course.account.entry(course.wind)
        if entry is not None:
            up = entry.drive.reach(
                status.count, entry.per_turn, silent_s + COMMIT_GAP_S, blind=True
            )
            key = str(status.uptime_ms)
            course.take(Doubt(NO_EDGE_CAME, place, place, 0, up, unmoved=True, key=key))

    # --- trips ------------------------------------------------------------------------------

    def look_at_trip(self, status: Status, before: Status | None) -> None:
        """The doubt that a trip of sensor or drive leaves, when it came."""
        course, place = self._course, self._course.place_now
        entry = course.account.entry(course.wind)
        if entry is None or (before is not None and before.state == State.TRIPPED):
            return
        risen = 0 if before is None else max(0, status.count - before.count)
        quiet_s, key = self._passed_s(status, course.board.edge_uptime_ms), str(status.uptime_ms)
        if status.trip == Trip.SENSOR_IMPLAUSIBLE:
            up = entry.drive.reach(status.count, entry.per_turn, quiet_s + COMMIT_GAP_S, blind=True)
            course.take(Doubt(IMPLAUSIBLE, place, place, risen, up, key=key))
        elif status.trip == Trip.STALLED:
            self._doubt_silence(status, quiet_s)
        elif status.trip == Trip.OVERSPEED:
            course.take(Doubt(TOO_FAST, place, place, risen, 0, key=key))
        else:
            return
        course.tell("doubt", f"count {course.words()}")
