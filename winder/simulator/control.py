"""The board's own control loop. It sees edges and the time, nothing else.

Speed is the mean between the last edges of two ticks; the reference speed is averaged over the very same
stretch, so that few edges make the loop slow but never wrong. Duty is what the set-up learned (friction,
speed per duty, inertia) plus a proportional-integral correction. Before a stop the reference follows
``v(s) = sqrt(creep^2 + 2 a s)`` of the counts that are left, creeps over the last of them, and the drive
is cut and the brake put on by the edge itself. A leg with ``coast_counts`` is cut that early, coasts to
rest and gets one gentle nudge: a duty that rises slowly from below friction until the target edge is seen.
"""

from __future__ import annotations

import enum
import math

from firmware_protocol.body import Drive, Order
from firmware_protocol.messages import Move, PlanLeg, Trip

from .build import Build
from .goal import CREEP_LEAST_CPS, goal_of_move, goal_of_plan
from .law import held, share_kept, share_now, speed_wanted
from .suspicion import Suspicion

TICK_NS = 10_000_000
TICK_S = TICK_NS / 1e9
CUT_S = 2.0  # the first of the two times that the welcome tells
CUT_SHARE = 0.8  # of it is what slowing down may take
NEVER = 1 << 40  # counts to a stop that is not planned

CREEP_SETTLE_S = 0.25  # time allowed at creep speed before a stop
BOOST_PER_S = 0.2  # duty added while no edge comes
SILENT_S = 0.5
STALL_S = 1.0  # at full duty without an edge
REST_WAIT_LEAST_S = 0.1
REST_WAIT_MOST_S = 3.0
NUDGE_FROM = 0.6  # of the friction the board knows
NUDGE_RATE_MAX = 0.02  # duty per second
NUDGE_DUTY_MAX = 0.6


class Mode(enum.IntEnum):
    IDLE = 0  # nothing drives
    TRACK = 1  # closed loop towards a stop
    SLOW = 2  # closed loop towards rest, wherever that is
    COAST = 3  # cut early, on the way to rest
    NUDGE = 4  # open loop, looking for the target edge
    SETTLE = 5  # cut and braked, waiting for silence


class Control:
    """Count, order and duty of one board since its boot. Counts rise when winding."""

    def __init__(self, build: Build) -> None:
        known = build.board_knows
        per_rpm = build.counts_per_s(1.0)
        self.cps_per_duty = known.rpm_per_duty * per_rpm
        self.friction_duty = known.friction_duty
        self.cps2_per_duty = known.full_torque_rpm_s * per_rpm
        self.brake_duty = known.brake_duty
        self.brake_most = 0.0 if known.brake_duty is None else 1.0
        self.rate_max = build.speed_rpm_max * per_rpm
        self.suspicion = Suspicion(build)
        self.direction_sense = build.direction_sense
        self.duty, self.brake, self.sense = 0.0, 0.0, 1
        self.count, self.unattributed = 0, 0
        self.edge_s = -math.inf  # the newest edge
        self.rate = 0.0  # mean over the newest stretch between edges, counts/s, without sign
        self.mode, self.order = Mode.IDLE, Order.OFF
        self.legs: tuple[PlanLeg, ...] = ()
        self.move: Move | None = None
        self.leg, self.leg_end = 255, NEVER
        self.pace = 1.0
        self.to_cut = self.to_stop = NEVER  # edges until the cut, and the place to stand at
        self.accel, self.stop_accel, self.creep, self.top = 1.0, 1.0, CREEP_LEAST_CPS, 0.0
        self.slow_accel = 0.0  # what the time for slowing down asks of the speed at its begin
        # how it goes
        self.at_rest, self.arrived, self.nudges, self.trip = True, False, 0, Trip.NONE
        self.now_s = 0.0
        self.quiet_from_s = 0.0  # the drive is off since
        self.rest_wait_s = 1.0  # silence that means rest; a leg's or move's rate makes it sharper
        self.margin = 1.0  # counts at creep speed before a stop
        self._move_end = 0
        self.way_from_s = 0.0  # since when the reference way is not yet summed
        self._forget()

    def _forget(self) -> None:
        """A new run of the loop: nothing is known of the speed."""
        self.reference = 0.0
        self.reference_way = 0.0
        self.edge_way = 0.0  # reference way at the newest edge
        self.edges_known = 0
        self.suspicion.begin(0.0)
        self.slow_accel = 0.0
        self.proportional = self.integral = self.boost = 0.0
        self.saturated_s = 0.0
        self.nudge_duty = 0.0

    # --- orders ------------------------------------------------------------------------------

    def obey(self, drive: Drive) -> None:
        self.arrived = False
        if drive.order is Order.WIND:
            self._obey_wind(drive)
        elif drive.order is Order.MOVE:
            self._obey_move(drive)
        elif drive.order is Order.REST:
            self._obey_rest()
        elif drive.order in (Order.CUT, Order.ISOLATE):
            self._cut(self.now_s, ending=False)
            self.brake *= (
                drive.order is Order.CUT
            )  # with a shorted switch it would short the supply
        else:
            self.duty = self.brake = 0.0
            if self.mode is not Mode.IDLE:
                self.mode, self.quiet_from_s = Mode.IDLE, self.now_s
        self.order = drive.order

    def _obey_wind(self, drive: Drive) -> None:
        self.pace = drive.pace_permille / 1000
        if self.order is Order.WIND and drive.legs == self.legs and not self.at_rest:
            if self.mode is Mode.TRACK:  # only the pace is new; else the drive is cut already
                self._take_leg()
            return
        self.legs, self.move, self.sense = drive.legs, None, 1
        self._begin()

    def _obey_move(self, drive: Drive) -> None:
        assert drive.move is not None
        self.move, self.sense = drive.move, 1 if drive.move.counts > 0 else -1
        self._move_end = self.count + drive.move.counts
        self._begin()

    def _begin(self) -> None:
        carried = self.rate if not self.at_rest else 0.0
        self._forget()
        self.reference = carried
        self.suspicion.begin(carried)
        self.nudges = 0
        self.trip = Trip.NONE
        self.at_rest = False
        self.quiet_from_s = self.saturated_s = self.now_s
        self.mode = Mode.TRACK
        self.way_from_s = self.now_s
        self._take_leg()
        if self.to_stop <= 0:
            self._cut(self.now_s, ending=True)
        elif self.to_cut <= 0:
            self._begin_nudge()

    def _obey_rest(self) -> None:
        if self.mode is Mode.TRACK:
            self.mode = Mode.SLOW
            self.to_cut = self.to_stop
            if self.edges_known > 1:
                self.reference = min(self.reference, self.rate)
            self.slow_accel = max(self.reference, self.rate) / (CUT_SHARE * CUT_S)
        elif self.mode in (Mode.COAST, Mode.NUDGE):
            self._cut(self.now_s, ending=False)

    def _take_leg(self) -> None:
        """Limits and the next stop, from where the count is now."""
        if self.move is not None:
            goal = goal_of_move(self.move, (self._move_end - self.count) * self.sense)
        else:
            goal = goal_of_plan(self.legs, self.count, self.pace)
            self.leg = goal.leg
        self.leg_end, self.to_stop, self.to_cut = goal.leg_end, goal.to_stop, goal.to_cut
        self.accel, self.stop_accel = goal.accel, goal.stop_accel
        self.creep = goal.creep
        self.top = min(goal.top, self.rate_max)
        self.margin = self.creep * CREEP_SETTLE_S + 1.0
        self.rest_wait_s = min(
            max(1.3 * math.sqrt(2 / self.stop_accel), REST_WAIT_LEAST_S), REST_WAIT_MOST_S
        )

    def _cut(self, when_s: float, *, ending: bool) -> None:
        """Drive off at once, brake on where there is one."""
        self.duty, self.brake = 0.0, self.brake_most
        self.arrived = ending
        if self.mode is not Mode.SETTLE:  # said again it is no new cut: it would never rest
            self.quiet_from_s = when_s
            self.suspicion.settling.begin()
        self.mode, self.at_rest = Mode.SETTLE, False

    def _begin_nudge(self) -> None:
        self.mode = Mode.NUDGE
        self.nudges += 1
        self.brake = 0.0
        friction = max(self.friction_duty + self.integral / self.cps_per_duty, 0.0)
        self.nudge_duty = NUDGE_FROM * min(friction, self.friction_duty)
        self.edges_known = 0
        self.quiet_from_s = self.now_s
        self.to_cut = self.to_stop

    def trip_now(self, cause: Trip) -> None:
        self.trip = cause
        if self.mode not in (Mode.IDLE, Mode.SETTLE):
            self._cut(self.now_s, ending=False)

    # --- edges -------------------------------------------------------------------------------

    def reach_cut(self, when_s: float) -> None:
        """The edge came at which the drive is to be cut; called at that edge, inside the tick."""
        if self.to_cut < self.to_stop:
            self.duty, self.brake = 0.0, self.brake_most
            self.quiet_from_s = when_s
            self.mode = Mode.COAST
        else:
            self._cut(when_s, ending=True)

    def zero_count(self) -> None:
        self.count = self.unattributed = 0
        self.legs, self.leg, self.leg_end = (), 255, NEVER

    def wake(self, now_s: float) -> None:
        """A boot: whether the spindle turns is not known before the sensor was silent for a while."""
        self.now_s = self.quiet_from_s = now_s
        self.at_rest = False

    def see_undriven(self, edges: int) -> None:
        """Edges at rest with no order in force."""
        if self.direction_sense:
            self.count += edges
        else:
            self.unattributed = min(self.unattributed + abs(edges), 0xFFFF)

    def _see(self, edges: int, edge_s: float) -> None:
        """Count edges (signed by the true direction) of which the last came at ``edge_s``."""
        number = abs(edges)
        if self.order is Order.OFF:
            self.see_undriven(edges)
            self.edge_s = edge_s
            if self.at_rest and self.suspicion.settling.turns_undriven(number, edge_s):
                self.trip, self.at_rest, self.quiet_from_s = Trip.TURNED_UNDRIVEN, False, edge_s
            return
        step = edges if self.direction_sense else number * self.sense
        self.count += step
        ahead = step * self.sense
        self.to_stop -= ahead
        self.to_cut -= ahead
        way = self.reference_way + self.reference * (edge_s - self.way_from_s)
        if self.edges_known:
            stretch = edge_s - self.edge_s
            rate = number / stretch if stretch > 0.0 else self.rate
            if self.mode is Mode.SETTLE and self.suspicion.settling.does_not_fall(number, edge_s):
                self.trip_now(Trip.NOT_STOPPED)
            if self.mode in (Mode.TRACK, Mode.SLOW):
                self._correct((way - self.edge_way) / stretch - rate, stretch)
                against = 0 if ahead > 0 else number
                asked = max(self.top, self.reference)
                if cause := self.suspicion.hear(number, against, stretch, rate, asked):
                    self.trip_now(cause)
            self.rate = rate
        self.suspicion.silence.hear(self.rate)
        self.edges_known += number
        self.edge_s, self.edge_way = edge_s, way
        if self.move is None and self.legs and self.count >= self.leg_end and self.to_stop > 0:
            self._take_leg()
            if self.mode is not Mode.TRACK:
                self.to_cut = self.to_stop

    def _correct(self, error: float, stretch: float) -> None:
        """Speed error over the newest stretch, counts/s."""
        if not held(error, self.duty, self.brake, self.brake_duty):
            self.integral += error * share_kept(stretch)
        self.proportional = error * share_now(stretch)
        if self.boost:
            self.integral += self.boost * self.cps_per_duty / 2
            self.boost = 0.0

    # --- the tick ----------------------------------------------------------------------------

    def step(self, edges: int, edge_s: float, now_s: float) -> None:
        """The end of a tick: what came, and what is to be done until the next one."""
        if edges:
            self._see(edges, edge_s)
        self.now_s = now_s
        self.reference_way += self.reference * TICK_S
        self.way_from_s = now_s
        mode = self.mode
        if mode is Mode.TRACK or mode is Mode.SLOW:
            self._track(not edges)
        elif mode is Mode.NUDGE:
            self._nudge()
        elif not self.at_rest:
            self._await_rest()

    def _await_rest(self) -> None:
        if self.now_s - max(self.edge_s, self.quiet_from_s) < self.rest_wait_s:
            return
        self.rate = 0.0
        if self.mode is Mode.COAST:
            if self.to_stop > 0:
                self._begin_nudge()
            else:
                self._cut(self.now_s, ending=True)
            return
        self.mode, self.at_rest = Mode.IDLE, True
        self.suspicion.settling.begin()

    def _next_reference(self) -> float:
        reference, change = self.reference, self.accel * TICK_S
        if self.mode is Mode.SLOW:
            return reference - max(self.accel, self.slow_accel) * TICK_S
        since = self.now_s - self.edge_s if self.edges_known else 0.0
        left = self.to_cut - min(reference * since, 1.0) - self.margin
        return speed_wanted(reference, change, self.top, left, self.creep, self.stop_accel)

    def _track(self, quiet: bool) -> None:
        reference = self._next_reference()
        if self.mode is Mode.SLOW and reference <= self.creep:
            self._cut(self.now_s, ending=False)
            return
        slope = (reference - self.reference) / TICK_S
        hardest = max(self.accel, self.slow_accel)
        slope = max(-hardest, min(slope, hardest))
        self.reference = reference
        if quiet and self._hear_silence():
            return
        torque = (
            self.friction_duty
            + (slope + self.proportional) / self.cps2_per_duty
            + self.integral / self.cps_per_duty
            + self.boost
        )
        if torque < 0.0 and self.brake_duty is not None:
            self.duty, self.brake = 0.0, min(-torque / self.brake_duty, 1.0)
        else:
            most = 1.0
            if self.edges_known < 3:  # not more than the highest speed needs
                most = min(self.friction_duty + self.rate_max / self.cps_per_duty, 1.0)
            self.duty = min(max(torque + reference / self.cps_per_duty, 0.0), most)
            self.brake = 0.0

    def _hear_silence(self) -> bool:
        """No edge in this tick: push harder when one is overdue, trip when none can be explained."""
        known_s = self.edge_s if self.edges_known else self.quiet_from_s
        since = self.now_s - known_s
        late = self.reference_way - self.edge_way - 1.0
        if self.edges_known and late > 0.5:
            self.proportional = late / since * share_now(since)
        if self._is_too_silent():
            return True
        if late > 1.5 and since > SILENT_S:
            self.boost = min(self.boost + BOOST_PER_S * TICK_S, 1.0)
        if self.duty < 1.0:
            self.saturated_s = self.now_s
        elif self.now_s - self.saturated_s > STALL_S and since > STALL_S:
            self.trip_now(Trip.STALLED)
            return True
        return False

    def _is_too_silent(self) -> bool:
        """The motor model says that edges should have come: no sensor, or a spindle that is held."""
        since_s = self.now_s - self.edge_s
        cause = self.suspicion.hear_nothing(self.duty, self.brake, since_s, TICK_S)
        if cause:
            self.trip_now(cause)
        return bool(cause)

    def _nudge(self) -> None:
        """Duty rises until an edge is seen at a gentle speed; the target edge itself cuts the drive."""
        gentle = math.sqrt(0.6 * self.stop_accel)
        rise = min(0.25 * self.stop_accel / self.cps_per_duty, NUDGE_RATE_MAX)
        since = self.now_s - self.edge_s
        if self._is_too_silent():
            return
        if self.edges_known == 0:
            if self.nudge_duty > 2 * self.friction_duty:
                rise *= 10
        elif (since < 3 / gentle) and (self.edges_known == 1 or self.rate > 0.7 * gentle):
            rise = 0.0
        if self.edges_known > 1 and self.rate > 1.3 * gentle and since < 1 / gentle:
            rise = -0.5 * NUDGE_RATE_MAX
        self.nudge_duty = min(max(self.nudge_duty + rise * TICK_S, 0.0), NUDGE_DUTY_MAX)
        self.duty = self.nudge_duty
        if self.nudge_duty < NUDGE_DUTY_MAX:
            self.saturated_s = self.now_s
        elif self.now_s - self.saturated_s > STALL_S:
            self.trip_now(Trip.STALLED)

    def rate_mcps(self) -> int:
        """Speed as the sensor shows it; a silence bounds it."""
        if self.at_rest or self.rate == 0.0:
            return 0
        since = self.now_s - self.edge_s
        rate = self.rate if self.rate * since <= 1.0 else 1.0 / since
        return round(rate * 1000) * self.sense
