"""Motion that a person asked for: the only ``Start`` there is, stops that are repeated until the board rests, the pace.

Stops are repeated here beside the host end, because a start that was on its way may arrive after the first stop.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from firmware_protocol.messages import STOP_REPEAT_MS, ClearTrip, Cut, Pace, Start, Stop
from firmware_protocol.pedal import ArmPedal, PedalStatus
from firmware_protocol.vocabulary import PedalFlag
from winder.clock import NS_PER_MS, NS_PER_S

from .course import PACE_FULL, Course
from .deeds import Says
from .sense import SenseWatch

PACE_STEP, PACE_LEAST = 100, 100
CREEP_TURNS, CREEP_RPM = 5, 120.0  # after every rest, to see the wire run; our judgement, no source
LATE_NS = NS_PER_S // 2  # a start held up somewhere arrives with the first words that come again
REACTION_MS = 2000  # from what happens to the key; our judgement, no source


class Motion:
    """``asked``: a person asked for motion, and it has not ended since. ``set_off``: a start was made, and no status
    showed rest after it was settled. ``whole_until``: count up to which somebody saw the wire whole."""

    def __init__(self, course: Course) -> None:
        self._course = course
        self.way = SenseWatch(course.per_turn)
        self.asked = False
        self.set_off = False
        self.by_pedal = (
            False  # a person asked for the pedal, and the board has not disarmed it since
        )
        self.pedal = 0  # what the board said of it last, bits of PedalFlag
        self.stops = 0  # asked for so far
        self.stopping = False
        self.cutting = False  # the stop is a cut
        # When the stop was first sent: the uptime of the newest status, and the host's clock.
        self.stop_since: tuple[int, int] | None = None
        self.pace_permille = PACE_FULL
        self.pace_sent = PACE_FULL
        self._inherited = course.account.entry(course.wind) is not None  # another run set a pace
        self.creeping = False  # the first turns after a pause
        self.whole_until = 0
        self.started_count = -1  # of this wind, at the newest start
        self._stop_ns = 0
        self._unanswered = False  # a start may still be on its way
        self._heard_since_ns: int | None = None  # behind it
        self._passed: deque[tuple[int, int]] = deque()  # uptime and count, a reaction back

    @property
    def may_move(self) -> bool:
        """Whether the spindle turned, or may have been about to, when the board was last heard."""
        board = self._course.board
        if self.set_off:
            return True
        return board.status is not None and board.opened and not board.rests(board.status)

    def say_moving(self, *, back: bool = False) -> None:
        """Whoever reads the record from now on has to reckon with motion; before anything is sent."""
        course = self._course
        entry = course.account.entry(course.wind)
        if entry is not None:
            course.take(Says(course.wind, replace(entry.word, moving=True, back=back)))

    def hear_pedal(self, said: PedalStatus) -> None:
        """Behind every status of a board that has one."""
        self.pedal = said.flags
        armed = said.flags & PedalFlag.ARMED
        if not armed and not self._course.commands.is_outstanding(Start):
            self.by_pedal = False

    def start_by_pedal(self) -> None:
        """From now on the board starts and slows as the foot says, until it is stopped or anything else ends it."""
        self.start(ArmPedal)
        self.by_pedal = True

    def start_unanswered(self) -> None:
        """Nobody waits for its answer any more; it may arrive all the same."""
        self._unanswered, self._heard_since_ns = True, None

    def rest_by_pedal(self) -> None:
        """The foot let go, and may press again: the next turns creep as after every rest."""
        status = self._course.board.status
        self.whole_until = self._course.count
        self.started_count = -1 if status is None else status.count
        self.creeping = self._course.turns > 0

    def start(self, kind: type = Start) -> None:
        course, board = self._course, self._course.board
        self.asked = True
        self.way.begin(course.count)
        self.whole_until = course.count
        status = board.status
        self.started_count = -1 if status is None else status.count
        if board.motor:
            self.set_off = True
            self.creeping = course.turns > 0  # a new coil begins slowly by its plan
            if self._inherited:
                self._inherited, self.pace_sent = False, 0
            self.send_pace()
            course.ask_board(kind, course.preparation.generation)

    def stop(self) -> None:
        if self.asked and self._course.phase.moves:
            self.whole_until = self.reacted_count()
        self.asked = self.by_pedal = False
        self._course.commands.drop_start()
        self.stops += 1
        if not self.stopping:
            status = self._course.board.status
            now_ns = self._course.now_ns
            self.stop_since = None if status is None else (status.uptime_ms, now_ns)
        self.stopping = True
        self._send_stop()

    def cut(self) -> None:
        """A person's second stop: the drive goes off at once, and the brake on."""
        self.cutting = True
        self.stop()

    def clear_trip(self) -> None:
        course, status = self._course, self._course.board.status
        assert status is not None
        board, wind, trip = course.board, status.wind, status.trip
        course.do(lambda: ClearTrip(0, board.boot, wind, board.revision, trip))

    def tick(self) -> None:
        if self.stopping and self._course.now_ns - self._stop_ns >= STOP_REPEAT_MS * NS_PER_MS:
            self._send_stop()

    def look(self, *, rests: bool) -> None:
        """A status was believed."""
        status = self._course.board.status
        if status is not None:
            if self._passed and status.uptime_ms < self._passed[-1][0]:
                self._passed.clear()
            self._passed.append((status.uptime_ms, self._course.count))
            while len(self._passed) > 1 and status.uptime_ms - self._passed[1][0] >= REACTION_MS:
                self._passed.popleft()
        turned = self._course.count - self.started_count
        if not rests and turned >= CREEP_TURNS * self._course.per_turn:
            self.creeping = False
        if not rests or self._course.commands.is_outstanding(Start) or self._may_start_late():
            return
        self.set_off = False
        self.creeping = self.creeping and self.by_pedal
        if not self.pedal & PedalFlag.ARMED:  # else a stop may have been lost
            self.stopping = self.cutting = False
            self.stop_since = None

    def _may_start_late(self) -> bool:
        """The stop goes on being said until a start that nobody answered has had its time."""
        if self._unanswered:
            now_ns = self._course.now_ns
            self._heard_since_ns = self._heard_since_ns or now_ns
            self._unanswered = now_ns - self._heard_since_ns < LATE_NS
        return self._unanswered

    def reacted_count(self) -> int:
        """The count when a person may have seen first what they answer to now."""
        first = self._passed[0][1] if self._passed else self.whole_until
        return max(self.whole_until, min(first, self._course.count))

    def change_pace(self, by_permille: int) -> None:
        self.pace_permille += by_permille
        self.send_pace()

    @property
    def pace_now(self) -> int:
        """The person's, or less while the first turns creep."""
        course = self._course
        loaded = (leg for leg in course.preparation.loaded if course.count < leg.end_count)
        leg = next(loaded, None)
        if not self.creeping or leg is None:
            return self.pace_permille
        creep = max(PACE_LEAST, round(PACE_FULL * CREEP_RPM / max(leg.leg.speed_rpm, 1.0)))
        return min(self.pace_permille, creep)

    def send_pace(self) -> None:
        """One at a time; the newest wish goes out when the one before is answered."""
        course = self._course
        if course.commands.idle and self.pace_now != self.pace_sent and course.board.motor:
            self.pace_sent = self.pace_now
            course.ask_board(Pace, self.pace_sent)

    def pace_refused(self) -> None:
        self.pace_permille = self.pace_sent = PACE_FULL
        self.creeping = False

    def _send_stop(self) -> None:
        self._stop_ns = self._course.now_ns
        self._course.requests.append(Cut() if self.cutting else Stop())
