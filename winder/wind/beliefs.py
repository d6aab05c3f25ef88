"""What the host believes of a wind: everything that is known, and what a status means in its light.

``Beliefs`` holds the state that ``WindSession`` acts on. It answers questions and takes doubts; it sends
nothing. ``seen_in`` is the one place where a status becomes a happening for the transition table.
"""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import NO_LEG, Flag, State, Status, Trip, Welcome
from winder.machine.model import MachineProfile
from winder.plan.model import Plan

from .diary import Diary
from .errands import Errands
from .judge import Judge
from .loading import LoadedLeg, rate_mcps
from .model import CountTruth, Estimate, Phase
from .preparing import BoardWord, Preparation
from .schedule import Ahead
from .sense import SenseWatch
from .setting_up import SetUp
from .table import Seen
from .tally import Tally
from .truth import (
    COMMIT_GAP_S,
    LEASE_S,
    RESET_IN_MOTION,
    TOUCH_TURNS,
    TURNED_MEANWHILE,
    by_hand,
    is_sharp,
    kept_count,
    run_on_counts,
    widened,
)

PACE_STEP, PACE_LEAST, PACE_FULL = 100, 100, 1000
HAND_DRILL_RPM = (
    6000.0  # nobody turns a bobbin faster by hand or drill (common practice, no source)
)
AT_REST = frozenset((State.STILL, State.ARMED, State.PAUSED, State.COMPLETE))
IN_MOTION = frozenset((State.WINDING, State.SLOWING, State.SETTING_UP))
MOVING_PHASES = frozenset((Phase.STARTING, Phase.WINDING, Phase.SLOWING))
RESTING_PHASES = frozenset(
    (
        Phase.SETTING_UP,
        Phase.PREPARING,
        Phase.READY,
        Phase.PAUSED,
        Phase.TAKING_OFF,
        Phase.TRIPPED,
    )
)
_DRIVEN = int(Flag.DRIVEN)
_SEEN_AT_REST = {State.PAUSED: Seen.PAUSED, State.ARMED: Seen.ARMED}


def stands(status: Status) -> bool:
    """Whether this status shows a spindle that stands and nothing that drives it."""
    if status.state in AT_REST:
        return not status.flags & _DRIVEN
    return status.state == State.TRIPPED and not status.flags & _DRIVEN and status.rate_mcps == 0


class Beliefs:
    """All that is known of one wind. ``WindSession`` documents the arguments."""

    def __init__(
        self,
        plan: Plan,
        machine: MachineProfile,
        wind: int,
        earlier: CountTruth | None,
        last_kept: tuple[int, int] | None,
        set_up: SetUp | None = None,
        estimate: Estimate | None = None,
    ) -> None:
        assert wind != 0 and plan.legs
        self.plan = plan
        self.set_up = set_up  # None: nobody is asked to go through a list
        self.sense = SenseWatch(plan.counts_per_turn)
        self.stepping = False  # a step of the guide was asked for and has not ended
        self.measured: tuple[float, float | None] | None = None
        self.estimate = estimate
        self.finding = ""  # what follows from the newest reading
        self.offered_turns: int | None = None  # the target that follows, not adopted yet
        self.wire_broke_at: float | None = None  # turns, until it is joined or found whole
        self.whole_until = 0  # count of this wind up to which somebody saw the wire whole
        self.broke_count: int | None = None  # of this wind, while it comes to rest after a break
        self.view_is_stale = False  # what is shown of ohms and target has changed
        self.unwinding = False  # the motor was asked to turn back, and has not come to rest since
        self.machine = machine
        self.wind = wind
        self.phase = Phase.CONNECTING
        self.status: Status | None = None
        self.welcome: Welcome | None = None
        self.heard_ns: int | None = None
        self.finished = False
        self.cautions_accepted = False
        self.counter_only = not machine.motor
        self.pace_permille = PACE_FULL
        self.advice = ""  # said instead of the phase's own, until the phase changes
        self.opened = False  # our wind is open on the board
        self.closing = ""  # "complete" or "here" once our wind is being closed
        self.asked = False  # a person asked for motion, and it has not ended since
        self.set_off = False  # a start was made, and no status showed rest after it was settled
        self.stopping = False  # stops are repeated until the board rests
        self.leaving = False
        self.edge_uptime_ms = 0  # when the count last rose
        self.tally = Tally(plan, machine, earlier, last_kept)
        speed_rpm = max(leg.speed_rpm for leg in plan.legs) if machine.motor else HAND_DRILL_RPM
        top_cps = rate_mcps(speed_rpm, plan.counts_per_turn) / 1000
        self.judge = Judge(top_cps, plan.counts_per_turn)
        self.board = BoardWord()
        self.preparation = Preparation(
            plan, wind, self.board, motor=machine.motor, goes_on=earlier is not None
        )
        self.errands = Errands()
        self.diary = Diary()

    # --- questions --------------------------------------------------------------------------

    @property
    def count(self) -> int:
        """Of this wind, as the board last counted it; 0 until our wind is open."""
        status = self.status
        if status is None or not self.opened:
            return 0
        if self.counter_only and not self.tally.direction_sense:
            return status.count + status.unattributed  # a hand drives, in one direction
        return status.count

    @property
    def rocks(self) -> int:
        """Edges of this wind that nothing drove and nobody can tell the direction of."""
        if self.status is None or not self.opened or self.counter_only:
            return 0
        return self.status.unattributed

    @property
    def truth(self) -> CountTruth:
        """The coil's count and how sure it is, now."""
        truth = self.tally.truth(self.count, self.rocks)
        if self.status is not None and self.counter_only and not self.tally.direction_sense:
            truth = by_hand(truth, self.count, self.status.unattributed)
        return self._unheard(truth) if self.phase is Phase.UNHEARD and self.opened else truth

    def _unheard(self, truth: CountTruth) -> CountTruth:
        """What may have come since the board was last heard."""
        run_on = self._run_on(COMMIT_GAP_S + LEASE_S)
        down, up, why = 0, run_on, "the board is not heard"
        if self.unwinding:
            down, up = run_on, 0
        elif not self.was_moving:
            down = up = TOUCH_TURNS * self.plan.counts_per_turn
        sure = truth.low if is_sharp(truth) else None
        return replace(widened(truth, down, up, why), by=truth.by, last_sure=sure)

    @property
    def was_moving(self) -> bool:
        """Whether the spindle turned, or may have been about to, when the board was last heard."""
        if self.set_off:
            return True
        return self.status is not None and self.opened and not self.rests(self.status)

    def rests(self, status: Status) -> bool:
        """Whether the spindle stands; a hand that turns it is seen by the rate alone."""
        return status.rate_mcps == 0 if self.counter_only else stands(status)

    @property
    def loaded_leg(self) -> LoadedLeg | None:
        """The leg the wind is in, the last one beyond the end; None before the plan is loaded."""
        loaded, status = self.preparation.loaded, self.status
        if status is None or not loaded:
            return None
        if status.leg < len(loaded) and not self.counter_only:
            return loaded[status.leg]
        return next((leg for leg in loaded if self.count < leg.end_count), loaded[-1])

    def ahead(self) -> Ahead | None:
        """Times to the next stop and to the end; None before the plan is loaded."""
        leg = self.status.leg if self.status is not None and self.opened else NO_LEG
        return self.preparation.schedule.ahead(leg, self.count, self.pace_permille)

    def lines(self) -> tuple[str, ...]:
        return self.diary.lines()

    @property
    def setting_up(self) -> bool:
        """The list before the wind is still to be gone through."""
        return self.set_up is not None and not self.set_up.done

    def _seen_setting_up(self, status: Status) -> Seen | None:
        if status.state == State.TRIPPED:
            return Seen.TRIPPED
        if self.counter_only or stands(status):
            return Seen.UNSET
        return None if self.stepping or self.errands.step_outstanding else Seen.UNASKED

    def seen_in(self, status: Status) -> Seen | None:
        """What a status means for the phase; None: nothing yet."""
        state = status.state
        if self.setting_up and not self.opened:
            return self._seen_setting_up(status)
        if status.wind != self.wind:
            if self.closing:
                return Seen.CLOSED
            if self.opened:
                return Seen.TAKEN
            return Seen.TRIPPED if state == State.TRIPPED else Seen.UNOPENED
        if state == State.TRIPPED:
            return Seen.TRIPPED
        if self.counter_only:
            return self._seen_by_counter(status)
        if self.unwinding and (
            state in (State.SETTING_UP, State.SLOWING) or self.errands.move_outstanding
        ):
            return None
        if state == State.WINDING:
            return Seen.WINDING if self.asked else Seen.UNASKED
        if state == State.SLOWING:
            return Seen.UNASKED if self.phase in RESTING_PHASES else Seen.SLOWING
        if state == State.SETTING_UP:
            return Seen.UNASKED
        if self.errands.start_outstanding:
            return None  # not yet
        if state == State.COMPLETE:
            return self._seen_at_end()
        prepared = self.preparation
        if not prepared.in_force or status.generation != prepared.generation:
            return Seen.STILL
        return _SEEN_AT_REST.get(State(state), Seen.STILL)

    def _seen_at_end(self) -> Seen:
        """The plan's end is reached: the coil is done, or turns have to come off first."""
        left = self.left_counts
        if left is None:
            return Seen.BEYOND
        part_of_a_turn = self.plan.counts_per_turn - 1  # is no turn, where a hand drives
        spare = part_of_a_turn if self.counter_only else 0
        if not (self.plan.measure_at_end or self.counter_only):
            return Seen.COMPLETE  # a motor's overrun is told, and does not come off
        return Seen.BEYOND if self.truth.high > left + spare else Seen.COMPLETE

    @property
    def left_counts(self) -> int | None:
        """Counts of the coil that shall be left; None: not known before it is measured."""
        if not self.plan.measure_at_end:
            return self.plan.target_turns * self.plan.counts_per_turn
        left = self.estimate.turns_left() if self.estimate is not None else None
        return None if left is None else left * self.plan.counts_per_turn

    def _seen_by_counter(self, status: Status) -> Seen | None:
        """A board without a motor: whoever turns the spindle decides; we only watch the count."""
        if not self.preparation.in_force:
            return Seen.STILL
        if self.count >= self.preparation.target_count:
            if status.rate_mcps == 0:
                return self._seen_at_end()
            return Seen.WINDING if self.asked else None
        if self.phase is Phase.TAKING_OFF and status.rate_mcps != 0:
            return None
        if self.asked:
            return Seen.WINDING
        if status.rate_mcps != 0 and self.phase in MOVING_PHASES:
            return None  # asked to stop, and the hand has not laid it down yet
        return Seen.PAUSED if self.count else Seen.ARMED

    # --- doubts -----------------------------------------------------------------------------

    def _run_on(self, unseen_s: float) -> int:
        return run_on_counts(self.plan, self.machine, self.count, unseen_s)

    def doubt_reset(self, welcome: Welcome | None) -> None:
        """The board lost its memory: what may have happened since it was last heard."""
        if self.was_moving:
            self._doubt_motion(RESET_IN_MOTION)
        else:
            kept = kept_count(welcome, self.wind, self.count) == self.count
            self._doubt_a_turn(TURNED_MEANWHILE, unmoved=kept)

    def doubt_unheard(self, why: str) -> None:
        """The wind ends without the board's last word, which may be had when the coil goes on."""
        if self.was_moving:
            self._doubt_motion(why)
        elif self.opened:
            self._doubt_a_turn(TURNED_MEANWHILE, unmoved=True)

    def doubt_settings(self) -> None:
        """The board counts by other settings than before: nobody knows what that did."""
        self._doubt_a_turn("the board's settings for counting have changed", unmoved=False)

    def _doubt_motion(self, why: str) -> None:
        """Nobody counted while it moved: on, or back where the motor was asked to turn back."""
        run_on = self._run_on(COMMIT_GAP_S + LEASE_S)
        down, up = (run_on, 0) if self.unwinding else (0, run_on)
        self.tally.doubt(self.count, self.rocks, down=down, up=up, why=why, broke=True)

    def _doubt_a_turn(self, why: str, *, unmoved: bool) -> None:
        touch = TOUCH_TURNS * self.plan.counts_per_turn
        self.tally.doubt(
            self.count, self.rocks, down=touch, up=touch, why=why, broke=True, unmoved=unmoved
        )

    def doubt_trip(self, status: Status, before: Status | None) -> bool:
        """Whether the trip that just came, or edges after it, throw doubt on the count."""
        risen = 0 if before is None else max(0, status.count - before.count)
        first = before is None or before.state != State.TRIPPED
        trip = status.trip
        count, rocks = self.count, self.rocks
        if trip == Trip.WIRE_LOST and risen:
            why = "turns since the wire was lost are not on the coil"
            self.tally.doubt(count, rocks, down=risen, up=0, why=why, of_wire=True)
        elif trip == Trip.SENSOR_IMPLAUSIBLE and first:
            why = "the turn sensor was implausible"
            self.tally.doubt(count, rocks, down=risen, up=self._run_on(COMMIT_GAP_S), why=why)
        elif trip == Trip.STALLED and first:
            quiet_s = ((status.uptime_ms - self.edge_uptime_ms) & 0xFFFF_FFFF) / 1000
            why = "no edge came while driven: the spindle stood, or the sensor failed"
            self.tally.doubt(count, rocks, down=0, up=self._run_on(quiet_s), why=why, unmoved=True)
        else:
            return False
        return True
