"""What moves and what is remembered: the board between its state table and its body.

``look`` compares the body's facts with the state and lets happen what must: arrival, rest, trips, the
end of the lease. The methods below it are the commands' effects, already judged. Every state change
goes through ``BOARD_TABLE``; orders to the body are given here and nowhere else. Before anything is set
in motion the AT_REST bit of the kept record is taken back, so that a reset in motion shows.

A rest after winding is COMPLETE only when no leg's end lies beyond the count, however the rest came
about: the board never calls a short coil complete. In motion an open guard trips whatever moves; lost
wire trips winding only, for moves at the bench are made without wire.

Every way to rest is bounded by the two times that the board tells: at the first the drive is cut whatever
the body thinks of it, at the second a spindle that does not rest trips NOT_STOPPED. That trip, and motion
with the drive off, open the contactor of the motor's supply and let the brake go, for a shorted switch and
a brake together short the supply. That something was set in motion is remembered beyond a reset.
"""

from __future__ import annotations

import dataclasses

from .body import DeviceBody, Drive, Identity, KeptRecord, Order
from .device_pedal import Pedal
from .device_plan import PlanLoading, leg_at, stop_leg_from
from .device_table import BACK_TO, BOARD_TABLE, IN_MOTION, Happening
from .far import TraverseHome, TraverseMove
from .messages import (
    NO_LEG,
    NO_WIND,
    Move,
    PlanLeg,
    Reason,
    Side,
    State,
    TraverseMark,
    Trip,
)
from .settings import Settings
from .wire import Group

PACE_FULL_PERMILLE = 1000
ISOLATING = (Trip.NOT_STOPPED, Trip.TURNED_UNDRIVEN)  # the drive itself is not to be trusted
UNSURE = (Trip.SENSOR_IMPLAUSIBLE, Trip.TURNED_UNDRIVEN)  # a count that a rest does not vouch for


class Board:
    """One boot of one board. Times in milliseconds of the caller's clock."""

    def __init__(
        self, body: DeviceBody, identity: Identity, now_ms: int, by_watchdog: bool
    ) -> None:
        self.body = body
        self.booted_ms = self.now_ms = now_ms
        self._cut_ms, self._rest_ms = identity.cut_ms, identity.rest_ms
        self.trip = Trip.NONE
        self._has_motor = identity.groups[Group.MOTOR - 1] > 0
        if self._has_motor:  # what drives nothing has nothing to latch
            if by_watchdog:
                self.trip = Trip.WATCHDOG
            elif body.kept_motion():
                self.trip = Trip.RESET_IN_MOTION
        tripped = self.trip != Trip.NONE
        self.state = State.TRIPPED if tripped else State.STILL
        self.reason = Reason.TRIP if tripped else Reason.NONE
        self.revision = 0
        self.wind = NO_WIND
        self.plan: tuple[PlanLeg, ...] = ()
        self.generation = 0
        self.begun = False  # this wind was started by a plan
        self.loading: PlanLoading | None = None
        self.referenced = False
        self._has_limit_switch = identity.groups[Group.TRAVERSE - 1] > 1
        self._far: TraverseHome | TraverseMove | None = None  # under way; its rest vouches again
        self.pace_permille = PACE_FULL_PERMILLE
        self.target = 0  # 0: none, or already called out
        self.warn_before = 0
        self.pedal = Pedal(now_ms)
        self.renews: Settings | None = None  # to be kept, and to boot anew with
        self._back_to: State | None = None  # where the move under way began; None: winding
        self._move: Move | None = None
        self._stop_leg = NO_LEG
        self._rest_seen = True  # since the newest motion began
        self._slow_ms = now_ms  # since then it is on its way to rest
        self._drive_cut = True  # on this way
        body.obey(Drive(Order.OFF))
        self.facts = body.facts()  # as of the newest look

    # --- what is so -------------------------------------------------------------------------

    @property
    def uptime_ms(self) -> int:
        return (self.now_ms - self.booted_ms) & 0xFFFF_FFFF

    @property
    def in_motion(self) -> bool:
        return self.state in IN_MOTION

    @property
    def leg(self) -> int:
        return leg_at(self.plan, self.facts.count)

    def raise_revision(self) -> None:
        self.revision = (self.revision + 1) & 0xFFFF

    def _happen(self, happening: Happening) -> None:
        self.state = BOARD_TABLE[self.state, happening]
        self.raise_revision()

    # --- looking at the body ----------------------------------------------------------------

    def look(self, now_ms: int, lease_live: bool) -> None:
        """Let happen what the facts, the time and the lease bring about."""
        self.now_ms = now_ms
        self.facts = self.body.facts()
        self.pedal.see(self.facts.pedal_pressed, now_ms)
        if not lease_live or self.facts.stop_pressed:
            self.pedal.disarm()
        if self.state in IN_MOTION:
            self._look_in_motion(lease_live)
        else:
            self._look_at_rest()
        if self.target and not self.plan and self.facts.count >= self.target:
            self.target = 0

    def _look_in_motion(self, lease_live: bool) -> None:
        cause = self._cause()
        if cause:
            self._trip(cause)
            return
        if self.state is not State.SLOWING:
            if self.facts.arrived:
                self._slow(Happening.ARRIVED, self._reason_of_arrival())
            elif not lease_live:
                self._slow(Happening.LEASE_ENDED, Reason.LEASE_LOST)
            elif self.pedal.let_go:
                self._slow(Happening.STOPPED, Reason.PEDAL_RELEASED)
        if self.state is State.SLOWING:
            self._look_at_slowing()

    def _look_at_slowing(self) -> None:
        slowing_ms = self.now_ms - self._slow_ms
        if self.facts.at_rest:
            self._rest()
        elif 0 < self._rest_ms <= slowing_ms:
            self._trip(Trip.NOT_STOPPED)
        elif 0 < self._cut_ms <= slowing_ms and not self._drive_cut:
            self._drive_cut = True
            self._far = None
            self.body.obey(Drive(Order.CUT))

    def _cause(self) -> int:
        if self.facts.guard_open:
            return Trip.GUARD_OPENED
        if self.facts.stop_pressed:
            return Trip.STOP_PRESSED
        if self.facts.trip == Trip.WIRE_LOST and self._back_to is not None:
            return Trip.NONE
        return self.facts.trip

    def _reason_of_arrival(self) -> Reason:
        if self._back_to is not None:
            return Reason.MOVE_DONE
        return Reason.TARGET if self._stop_leg == len(self.plan) - 1 else Reason.LEG_PAUSE

    def _look_at_rest(self) -> None:
        if not self._has_motor:
            return
        if self.trip not in ISOLATING and self.facts.trip in ISOLATING:
            self._trip(self.facts.trip)
        elif self.state is State.TRIPPED and not self._rest_seen:
            if self.facts.at_rest:
                self._keep()
            elif self.trip not in ISOLATING and 0 < self._rest_ms <= self.now_ms - self._slow_ms:
                self._trip(Trip.NOT_STOPPED)
        elif self.pedal.goes(hindered=self._nothing_may_start()):
            self.start(by_pedal=True)

    def _nothing_may_start(self) -> bool:
        facts = self.facts
        return facts.guard_open or not facts.wire_present or self.leg == NO_LEG

    def _slow(self, happening: Happening, reason: Reason) -> None:
        self.reason = reason
        self._end_pedal(reason)
        self._happen(happening)
        self._slow_ms = self.now_ms
        self._drive_cut = happening is Happening.ARRIVED
        if happening is not Happening.ARRIVED:  # then the body has ended its order by itself
            self.body.obey(Drive(Order.REST, self._wound_plan(), self.pace_permille, self._move))

    def _end_pedal(self, reason: Reason) -> None:
        """It stays armed over a rest that it brought about itself, and over no other."""
        self.pedal.winds = False
        if reason is not Reason.PEDAL_RELEASED:
            self.pedal.disarm()

    def _wound_plan(self) -> tuple[PlanLeg, ...]:
        return self.plan if self._back_to is None else ()

    def _rest(self) -> None:
        if self._back_to is not None:
            happening = BACK_TO[self._back_to]
        else:
            happening = Happening.RESTED_AT_END if self.leg == NO_LEG else Happening.RESTED_SHORT
        self._happen(happening)
        if self.state is not State.PAUSED:
            self.pedal.disarm()
        self.body.obey(Drive(Order.OFF))
        self._keep()
        self._know_place()

    def _know_place(self) -> None:
        """A far move came to rest by its ramp, or homing to its end: no step is lost."""
        far, self._far = self._far, None
        done = self.reason is Reason.MOVE_DONE
        self.referenced = (
            self.referenced or isinstance(far, TraverseMove) or (far is not None and done)
        )

    def _trip(self, cause: int) -> None:
        order = Order.ISOLATE if cause in ISOLATING else Order.CUT
        self.body.obey(Drive(order))  # first of all
        self.pedal.disarm()
        self._far = None
        if cause == Trip.TRAVERSE_LIMIT and self._has_limit_switch:
            self.referenced = False  # it met the switch where none should be
        self.trip = cause  # type: ignore[assignment]
        self.reason = Reason.TRIP
        self._slow_ms = self.now_ms
        self._rest_seen = False
        self._happen(Happening.TRIP)

    def _keep(self) -> None:
        """A rest was seen."""
        self._rest_seen = True
        self.body.keep_motion(False)
        if self.wind != NO_WIND:
            # A count that the sensor made doubtful must not look like one vouched for by a rest.
            sure = self.trip not in UNSURE
            self.body.keep(KeptRecord(self.wind, self.facts.count, valid=True, at_rest=sure))

    # --- effects of commands that were found good ---------------------------------------------

    def stop(self) -> None:
        self.pedal.disarm()
        if self.state in (State.WINDING, State.SETTING_UP):
            self._slow(Happening.STOPPED, Reason.STOP)

    def cut(self) -> None:
        """The drive goes off now; a motion that was slowing goes on with its reason."""
        self.pedal.disarm()
        if self.state in IN_MOTION:
            self._far = None
            self._drive_cut = True
            self.body.obey(Drive(Order.CUT))
        if self.state in (State.WINDING, State.SETTING_UP):
            self.reason = Reason.STOP
            self._slow_ms = self.now_ms
            self._happen(Happening.STOPPED)

    def open_wind(self, wind: int) -> None:
        self.body.zero_count()
        self.facts = self.body.facts()
        self._forget_plan()
        self.wind = wind
        self.pace_permille = PACE_FULL_PERMILLE
        self._happen(Happening.WIND_OPENED)

    def close_wind(self) -> None:
        self._forget_plan()
        self.wind = NO_WIND
        self._happen(Happening.WIND_CLOSED)

    def _forget_plan(self) -> None:
        self.pedal.disarm()
        self.plan = ()
        self.generation = 0
        self.begun = False
        self.loading = None
        self.target = 0

    def put_plan_in_force(self, loading: PlanLoading) -> None:
        self.pedal.disarm()
        self.plan = loading.legs
        self.generation = loading.generation
        self.loading = None
        self._happen(Happening.PLAN_IN_FORCE)

    def start(self, by_pedal: bool = False) -> None:
        self._stop_leg = stop_leg_from(self.plan, self.leg)
        self._depart(Happening.STARTED, None, None)
        self.begun = True
        if by_pedal:
            self.pedal.begin()
        self.body.obey(Drive(Order.WIND, self.plan, self.pace_permille))

    def set_pace(self, permille: int) -> None:
        self.pace_permille = permille
        if self.state is State.WINDING:
            self.body.obey(Drive(Order.WIND, self.plan, permille))

    def begin_move(self, move: Move) -> None:
        self._depart(Happening.MOVE_BEGUN, self.state, move)
        self.body.obey(Drive(Order.MOVE, move=move))

    def begin_traverse_step(self, distance_um: int) -> None:
        self._depart(Happening.MOVE_BEGUN, self.state, None)
        self.body.step_traverse(distance_um)

    def begin_far(self, ask: TraverseHome | TraverseMove) -> None:
        self._depart(Happening.MOVE_BEGUN, self.state, None)
        self.referenced = False
        self._far = ask
        self.body.lead_far(ask)

    def mark_traverse(self, mark: TraverseMark) -> None:
        self.body.mark_traverse(mark.side, mark.at_um)
        if mark.side == Side.LEFT:
            self.referenced = True

    def clear_trip(self) -> None:
        if not self.plan:
            happening = Happening.CLEARED_WITHOUT_PLAN
        elif not self.begun:
            happening = Happening.CLEARED_UNBEGUN
        else:
            at_end = self.leg == NO_LEG
            happening = Happening.CLEARED_AT_END if at_end else Happening.CLEARED_SHORT
        self._happen(happening)
        self.trip = Trip.NONE
        self.reason = Reason.CLEARED
        self.body.keep_motion(False)
        self.body.obey(Drive(Order.OFF))

    def _depart(self, happening: Happening, back_to: State | None, move: Move | None) -> None:
        self.pedal.disarm()
        kept = self.body.kept()
        if kept.valid and kept.at_rest:
            self.body.keep(dataclasses.replace(kept, at_rest=False))
        self.body.keep_motion(True)
        self._back_to = back_to
        self._move = move
        self._rest_seen = False
        self._happen(happening)
