"""What a glance must tell, made from the session's beliefs: one frozen view, cheap to make.

The advice is one sentence: what happens next and when, or what to do.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from firmware_protocol.messages import Flag
from winder.clock import NS_PER_S

from .asking import WRONG_WAY
from .model import Certainty, LanePlace, Ohms, Phase, WindView
from .truth import turns_words, words
from .wording import ADVICE, HEADLINES, seconds_words, trip_words

if TYPE_CHECKING:
    from .laying import Laying
    from .schedule import Ahead
    from .session import WindSession
    from .setting_up import SetUpLine

PAST_THE_PLAN = frozenset((Phase.TAKING_OFF, Phase.COMPLETE, Phase.ENDED))
LED_PHASES = frozenset(
    (
        Phase.READY,
        Phase.STARTING,
        Phase.WINDING,
        Phase.SLOWING,
        Phase.PAUSED,
        Phase.TAKING_OFF,
        Phase.UNHEARD,
    )
)
_RIGHTWARD = int(Flag.TRAVERSE_RIGHTWARD)


class Viewer:
    """Makes the views of one session; keeps what rarely changes."""

    def __init__(
        self,
        session: WindSession,
        *,
        recipe_name: str,
        direction: str,
        layers: float,
        resistance: Callable[[float], Ohms] | None,
        window_mm: tuple[float, float, float] | None,
        laying: Laying | None = None,
    ) -> None:
        self._session = session
        self._recipe_name = recipe_name
        self._direction = direction
        self._layers = layers
        self._window_mm = window_mm
        self._laying = laying
        self._resistance = resistance
        self._whole_layers = max(1, -int(-layers // 1))
        self._figure_ohms()

    def _figure_ohms(self) -> None:
        target = self._target_turns()
        self._ohm_end = self._resistance(float(target)) if self._resistance else None
        self._ohm_now = (-1.0, self._ohm_end)
        self._session.view_is_stale = False

    def _target_turns(self) -> int:
        """The plan's, or what a coil that was wound long shall keep, once that is known."""
        session = self._session
        left = session.left_counts if session.phase in PAST_THE_PLAN else None
        if left is None:
            return session.plan.target_turns
        return left // session.plan.counts_per_turn

    def make(self, now_ns: int) -> WindView:
        session, plan = self._session, self._session.plan
        if session.view_is_stale:
            self._figure_ohms()
        cpt, status, target = plan.counts_per_turn, session.status, self._target_turns()
        count = session.count
        turns = (session.tally.offset + count) / cpt
        ahead = session.ahead()
        rate_mcps = status.rate_mcps if status is not None else 0
        trip = status.trip if status is not None and session.phase is Phase.TRIPPED else 0
        tripped, trip_advice = trip_words(trip) if trip else ("", "")
        heard_ns = session.heard_ns
        return WindView(
            phase=session.phase,
            headline="turning back" if session.unwinding else HEADLINES[session.phase],
            advice=self._advice(ahead, count),
            recipe_name=self._recipe_name,
            direction=self._direction,
            truth=session.truth,
            counts_per_turn=cpt,
            turns=turns,
            target_turns=target,
            remaining_turns=max(0.0, target - turns),
            speed_rpm=rate_mcps * 0.06 / cpt,
            planned_rpm=self._planned_rpm(),
            seconds_to_go=ahead.to_end_s if ahead else None,
            next_stop_turns=max(0, ahead.stop_count - count) / cpt if ahead else None,
            next_stop_is=ahead.stop_is if ahead else "",
            ohm_now=self._ohms(turns),
            ohm_end=self._ohm_end,
            layer=self._layer(turns),
            layers=self._whole_layers,
            guide_share=self._guide_share(),
            guide_rightward=bool(status.flags & _RIGHTWARD) if status is not None else True,
            link_age_s=None if heard_ns is None else max(0, now_ns - heard_ns) / NS_PER_S,
            pace_permille=session.pace_permille,
            trip=tripped,
            trip_advice=trip_advice,
            may=session.may(),
            lines=session.lines(),
            window_mm=self._window_mm,
            set_up=self._set_up_lines(),
            guide_mm=self._guide_mm(),
            guide_moves=session.stepping,
            measured=session.measured,
            lay=self._lay(turns),
            lay_span=self._laying.span if self._laying is not None else (0.0, 1.0),
            lane=self._lane(turns),
            wire_broke_at=session.wire_broke_at,
            off_turns=session.off_turns(),
            unwinds=session.unwinding,
            finding=session.finding,
            offered_turns=session.offered_turns,
        )

    def _planned_rpm(self) -> float:
        leg, session = self._session.loaded_leg, self._session
        if leg is None or session.counter_only:
            return 0.0  # no plan of ours drives a hand
        return leg.leg.speed_rpm * session.pace_permille / 1000

    def _set_up_lines(self) -> tuple[SetUpLine, ...]:
        session = self._session
        if session.set_up is None or session.phase is not Phase.SETTING_UP:
            return ()
        return session.set_up.lines(session.status, session.welcome)

    def _guide_mm(self) -> float | None:
        session = self._session
        if session.status is None or session.set_up is None or not session.set_up.has_guide:
            return None
        return session.status.traverse_um / 1000

    def _layer(self, turns: float) -> int:
        share = turns / self._session.plan.target_turns
        return min(self._whole_layers, max(1, int(share * self._layers) + 1))

    def _ohms(self, turns: float) -> Ohms | None:
        if self._resistance is None:
            return None
        if self._ohm_now[0] != turns:
            self._ohm_now = (turns, self._resistance(max(0.0, turns)))
        return self._ohm_now[1]

    def _guide_share(self) -> float | None:
        leg, status = self._session.loaded_leg, self._session.status
        if leg is None or status is None or leg.leg.pitch_m <= 0:
            return None
        left, right = leg.leg.left_m, leg.leg.right_m
        if right <= left:
            return None
        return min(1.0, max(0.0, (status.traverse_um * 1e-6 - left) / (right - left)))

    def _lay(self, turns: float) -> tuple[float, ...]:
        session, laying = self._session, self._laying
        if laying is None:
            return ()
        status, leg = session.status, session.loaded_leg
        driven = status is not None and leg is not None and leg.leg.pitch_m > 0
        place_m = status.traverse_um * 1e-6 if driven and status is not None else None
        before = session.tally.offset / session.plan.counts_per_turn
        return laying.lay(max(0.0, turns), before, place_m)

    def _lane(self, turns: float) -> LanePlace | None:
        session, laying = self._session, self._laying
        if laying is None or session.phase not in LED_PHASES:
            return None
        return laying.lane(turns, back=session.unwinding or session.phase is Phase.TAKING_OFF)

    def _advice(self, ahead: Ahead | None, count: int) -> str:
        session = self._session
        phase = session.phase
        if session.advice:
            return session.advice
        if phase is Phase.WINDING and session.counter_only:
            return "turn the spindle by hand or drill; the count is watched"
        if phase is Phase.WINDING and ahead is not None:
            left = max(0, ahead.stop_count - count) / session.plan.counts_per_turn
            what = "complete" if ahead.stop_is == "end" else "pauses to measure"
            return f"{what} in {left:.0f} turns, about {seconds_words(ahead.to_stop_s)}"
        if phase is Phase.SETTING_UP:
            return self._set_up_advice()
        if phase is Phase.READY:
            return self._ready_advice()
        if session.unwinding:
            return "the spindle turns back slowly: take the wire up by hand"
        if phase is Phase.TAKING_OFF:
            return self._off_advice()
        if phase is Phase.PAUSED:
            return self._paused_advice(ahead)
        if phase is Phase.TRIPPED and session.status is not None:
            return trip_words(session.status.trip)[1]
        if phase in (Phase.COMPLETE, Phase.ENDED):
            return f"write down {words(session.truth, session.plan.counts_per_turn)}"
        if phase is Phase.BROKEN_OFF:
            return "this wind is over; go on with the coil in a new wind"
        return ADVICE[phase]

    def _set_up_advice(self) -> str:
        first = next((line for line in self._set_up_lines() if not line.done), None)
        if not self._session.cautions_accepted:
            return "read and accept the cautions, then go through the list"
        if first is None:
            return "all of it is done: load the plan; nothing moves before the start"
        return f"{first.what}: {first.said or 'say when it is done'}"

    def _ready_advice(self) -> str:
        session = self._session
        if not session.cautions_accepted:
            return "read and accept the cautions, then start"
        if session.truth.certainty is Certainty.BETWEEN:
            return "the count is in doubt: settle it before the start, or the end is in doubt too"
        if session.status is not None and session.status.flags & Flag.GUARD_OPEN:
            return "the guard is open: close it, then start"
        if session.counter_only:
            return "start, then turn the spindle by hand or drill"
        return "keep hands clear of the spindle and start"

    def _off_advice(self) -> str:
        session = self._session
        off = session.off_turns()
        if off is None:
            return "wound long: finish the lead, measure the coil and enter the ohms"
        cpt = session.plan.counts_per_turn
        turns = turns_words(round(off * cpt), cpt)
        if session.truth.certainty is Certainty.BETWEEN:
            return f"at most {turns} turns too many; settle the count, or end here"
        if session.counter_only and not session.tally.direction_sense:
            return f"{turns} turns past the target: take them off and say so, or end here"
        how = "turn back by hand" if session.counter_only else "by hand, or let the motor turn back"
        return f"{turns} turns to take off: {how}; they are counted. Or end here"

    def _paused_advice(self, ahead: Ahead | None) -> str:
        session = self._session
        if session.sense.wrong:
            return WRONG_WAY
        if session.wire_broke_at is not None:
            at = f"the wire broke at about turn {session.wire_broke_at:.0f}"
            return f"{at}: take off what is loose and say how much, then join it and say so"
        if session.truth.certainty is Certainty.BETWEEN:
            return "the count is in doubt: settle it, then continue or end here"
        if session.offered_turns is not None:
            return f"{session.finding}. Adopt {session.offered_turns} turns, or continue as planned"
        if ahead is None:
            return "continue, or end here"
        return f"continue, or end here; about {seconds_words(ahead.to_end_s)} of winding left"
