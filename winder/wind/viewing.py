"""What a glance must tell, made from the wind's parts: one frozen view, cheap to make.

The advice is one sentence: what happens next and when, or what to do.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from firmware_protocol.messages import Flag
from firmware_protocol.records import dataclass
from winder.clock import NS_PER_S

from .advice import advice_of
from .model import (
    CoilView,
    CountView,
    LayView,
    MotionView,
    Ohms,
    OhmView,
    Phase,
    SetUpLine,
    TroubleView,
    WindView,
    WireView,
)
from .wording import HEADLINES, alarm_advice

if TYPE_CHECKING:
    from .laying import Laying
    from .model import LanePlace
    from .schedule import Ahead
    from .session import WindSession

WIRE_RUNS = (Phase.WINDING, Phase.PAUSED)
WARNED_TURNS = 100  # before the low end of where the wire may end: some seconds at full speed
PAST_THE_PLAN = (Phase.TAKING_OFF, Phase.COMPLETE, Phase.ENDED)
NOT_LED = (Phase.CONNECTING, Phase.SETTING_UP, Phase.PREPARING, Phase.LOST, Phase.ENDED)
_RIGHTWARD = int(Flag.TRAVERSE_RIGHTWARD)


@dataclass(frozen=True, slots=True)
class Supply:
    """The wire on the spool. ``left_m(turns)``: what is left with so many turns on the coil."""

    left_m: Callable[[float], float]
    ends_from_turns: float | None = None  # the wire may end from here on; None: it lasts for sure


@dataclass(frozen=True, slots=True)
class Shown:
    """What a view says of the coil and the session does not need. ``resistance(turns)``: ohms at 20 C."""

    name: str
    direction: str
    layers: float
    resistance: Callable[[float], Ohms] | None = None
    window_mm: tuple[float, float, float] | None = None
    early_turns: float = 0.0  # by which a hand drill is called to stop
    supply: Supply | None = None  # None: nobody told of a spool


class Viewer:
    """Makes the views of one session; keeps what rarely changes."""

    def __init__(self, session: WindSession, shown: Shown, laying: Laying | None) -> None:
        self._session, self._shown, self._laying = session, shown, laying
        self._whole_layers = -int(-shown.layers // 1)  # 0: not known
        self._ohm_end: Ohms | None = None
        self._ohm_now: tuple[float, Ohms | None] = (-1.0, None)
        self._calculate_ohms()

    def _calculate_ohms(self) -> None:
        resistance = self._shown.resistance
        self._ohm_end = resistance(float(self._target_turns())) if resistance else None
        self._ohm_now = (-1.0, self._ohm_end)
        self._session.course.view_is_stale = False

    def _target_turns(self) -> int:
        """The plan's, or what a coil that was wound long shall keep, once that is known."""
        course = self._session.course
        left = self._session.readings.left_counts if course.phase in PAST_THE_PLAN else None
        return course.plan.target_turns if left is None else left // course.per_turn

    def make(self, now_ns: int) -> WindView:
        session, course, shown = self._session, self._session.course, self._shown
        course.now_ns = now_ns
        if course.view_is_stale:
            self._calculate_ohms()
        target, turns = self._target_turns(), course.turns
        ahead = course.ahead(session.motion.pace_permille)
        return WindView(
            phase=course.phase,
            headline=self._headline(),
            advice=self._wire_ends(turns) or advice_of(session, ahead),
            coil=CoilView(
                shown.name,
                shown.direction,
                course.per_turn,
                target,
                self._whole_layers,
                shown.window_mm,
            ),
            count=CountView(
                truth=course.truth,
                turns=turns,
                remaining_turns=max(0.0, target - turns),
                off_turns=session.wire.off_turns(session.readings.left_counts),
                wire_broke_at=session.wire.broke_at,
            ),
            motion=self._motion(ahead),
            ohm=OhmView(
                self._ohms(turns),
                self._ohm_end,
                session.readings.measured,
                session.readings.finding,
                session.readings.offered_turns,
            ),
            lay=self._lay(turns),
            trouble=self._trouble(now_ns),
            may=session.may(),
            lines=course.log.lines(),
            set_up=self._set_up_lines(),
            board_stops=course.board.motor,
            wire=self._wire(turns),
        )

    def _headline(self) -> str:
        if self._session.wire.unwinding:
            return "turning back"
        homes = self._session.set_up.home.under_way
        return "finding home" if homes else HEADLINES[self._session.phase]

    def _wire(self, turns: float) -> WireView | None:
        supply = self._shown.supply
        if supply is None:
            return None
        ends = supply.ends_from_turns
        until = None if ends is None else max(0.0, ends - turns)
        return WireView(max(0.0, supply.left_m(max(0.0, turns))), until)

    def _wire_ends(self, turns: float) -> str:
        """What to do before the wire ends; "" where it is far, or lasts."""
        supply = self._shown.supply
        if supply is None or supply.ends_from_turns is None or self._session.phase not in WIRE_RUNS:
            return ""
        until = supply.ends_from_turns - turns
        if until > WARNED_TURNS:
            return ""
        when = "now" if until <= 0 else f"in {until:.0f} turns"
        return f"the spool may be empty from {when} on: pause, and join a fuller one"

    def _motion(self, ahead: Ahead | None) -> MotionView:
        session, course = self._session, self._session.course
        status, leg, pace = course.board.status, course.loaded_leg, session.motion.pace_permille
        planned = leg is not None and course.board.motor  # no plan of ours drives a hand
        rate_mcps = status.rate_mcps if status is not None else 0
        return MotionView(
            speed_rpm=rate_mcps * 0.06 / course.per_turn,
            planned_rpm=leg.leg.speed_rpm * pace / 1000 if planned and leg is not None else 0.0,
            pace_permille=pace,
            seconds_to_go=ahead.to_end_s if ahead else None,
            next_stop_turns=max(0, ahead.stop_count - course.count) / course.per_turn
            if ahead
            else None,
            next_stop_is=ahead.stop_is if ahead else "",
            early_turns=0.0 if course.board.motor else self._shown.early_turns,
            pauses_here=course.plan.pause_at(course.turns),
            unwinds=session.wire.unwinding,
            guide_moves=session.set_up.stepping,
            guide_homes=session.set_up.home.under_way,
        )

    def _trouble(self, now_ns: int) -> TroubleView:
        course, status = self._session.course, self._session.course.board.status
        heard_ns = course.board.heard_ns
        age_s = None if heard_ns is None else max(0, now_ns - heard_ns) / NS_PER_S
        alarm = self._session.watch.alarm if course.phase is Phase.ALARM else ""
        if alarm:
            return TroubleView(alarm=alarm, advice=alarm_advice(alarm), link_age_s=age_s)
        if course.phase is Phase.TRIPPED and status is not None:
            trip, advice = self._session.set_up.home.trip_words(status.trip)
            return TroubleView(trip=trip, advice=advice, link_age_s=age_s)
        return TroubleView(link_age_s=age_s)

    def _set_up_lines(self) -> tuple[SetUpLine, ...]:
        setting_up = self._session.course.phase is Phase.SETTING_UP
        return self._session.set_up.lines() if setting_up else ()

    def _ohms(self, turns: float) -> Ohms | None:
        resistance = self._shown.resistance
        if resistance is None:
            return None
        if self._ohm_now[0] != turns:
            self._ohm_now = (turns, resistance(max(0.0, turns)))
        return self._ohm_now[1]

    # --- where the wire is ------------------------------------------------------------------

    def _lay(self, turns: float) -> LayView:
        status, laying = self._session.course.board.status, self._laying
        place = None if self._session.phase.moves else self._session.set_up.wire_place()
        return LayView(
            layer=self._layer(turns),
            guide_share=self._guide_share(),
            guide_rightward=bool(status.flags & _RIGHTWARD) if status is not None else True,
            guide_mm=self._guide_mm(),
            heights=self._heights(turns),
            span=laying.span if laying is not None else (0.0, 1.0),
            lane=self._lane(turns),
            wire_mm=None if place is None else place.place_um / 1000,
            wire_rightward=place is None or place.rightward,
            wire_open=self._session.set_up.wire_open and place is not None,
        )

    def _layer(self, turns: float) -> int:
        share = turns / self._session.course.plan.target_turns
        return min(self._whole_layers, max(1, int(share * self._shown.layers) + 1))

    def _guide_mm(self) -> float | None:
        todo, status = self._session.set_up.list, self._session.course.board.status
        if status is None or todo is None or not todo.has_guide:
            return None
        return status.traverse_um / 1000

    def _guide_share(self) -> float | None:
        leg, status = self._session.course.loaded_leg, self._session.course.board.status
        if leg is None or status is None or leg.leg.pitch_m <= 0:
            return None
        left, right = leg.leg.left_m, leg.leg.right_m
        if right <= left:
            return None
        return min(1.0, max(0.0, (status.traverse_um * 1e-6 - left) / (right - left)))

    def _heights(self, turns: float) -> tuple[float, ...]:
        course, laying = self._session.course, self._laying
        if laying is None:
            return ()
        status, leg = course.board.status, course.loaded_leg
        driven = status is not None and leg is not None and leg.leg.pitch_m > 0
        place_m = status.traverse_um * 1e-6 if driven and status is not None else None
        before = turns - course.count / course.per_turn
        return laying.lay(max(0.0, turns), before, place_m)

    def _lane(self, turns: float) -> LanePlace | None:
        session, laying = self._session, self._laying
        if laying is None or session.course.phase in NOT_LED or session.course.phase.over:
            return None
        back = session.wire.unwinding or session.course.phase is Phase.TAKING_OFF
        return laying.lane(turns, back=back)
