"""What a person says of the coil itself: the wire broke, turns came off, something was measured.

A break stops whatever moves and must be answered, by a splice or by a look that found the wire whole, before
anything winds on. Turns that come off are counted by the board where it can (the motor turns back by a finite
move, or a hand does under a sensor that knows the direction); else a person says how many, and vouches for it.
Readings are learnt by the estimate that came with the wind. What follows for the target is only offered: the
plan changes, at rest, when a person adopts it.
"""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import Has, Move, Reason, Status
from winder.files.quantities import copper_factor

from .asking import reading_text
from .beliefs import MOVING_PHASES
from .loading import rate_mcps
from .model import Asked, Intent, Phase
from .orders import RELOADED
from .set_up_orders import SetUpOrders
from .truth import LEAST_RPM_S, is_sharp, turns_words

UNWIND_RPM = 60.0  # a turn a second: a hand can take the wire up (common practice, no source)
FINISHED = (Phase.TAKING_OFF, Phase.COMPLETE, Phase.ENDED)
SINCE_BROKEN = "turns since the wire broke are not on the coil"


class CoilOrders(SetUpOrders):
    """Takes the intents about the wire and the coil."""

    def _obey(self, asked: Asked, now_ns: int) -> None:
        intent = asked.intent
        if intent is Intent.WIRE_BROKE:
            self._break_wire(now_ns)
        elif intent in (Intent.WIRE_JOINED, Intent.WIRE_WHOLE):
            self._mend_wire(asked, now_ns)
        elif intent is Intent.TURNS_OFF:
            self._turns_off(asked, now_ns)
        elif intent is Intent.TAKE_OFF:
            self._unwind(asked)
        elif intent is Intent.MEASURED:
            self._take_reading(asked, now_ns)
        elif intent is Intent.ADOPT_TURNS:
            self._adopt(asked, now_ns)
        elif intent is Intent.END_HERE and self.phase is Phase.TAKING_OFF:
            self._tell("note", now_ns, f"kept as it is; {self._words()}", by=asked.by)
        else:
            super()._obey(asked, now_ns)

    # --- the wire ---------------------------------------------------------------------------

    def _break_wire(self, now_ns: int) -> None:
        """Stop, and doubt the turns that may have gone round without wire.

        While it moves those are the turns of the last moments. At rest it may have broken at any time since somebody
        last looked: the moments before a person stopped it, else all of the last motion; unless the board has a sensor
        on the wire, which would have tripped.
        """
        self.wire_broke_at = self._turns_now
        in_motion = self.phase in MOVING_PHASES
        sensor = self.welcome is not None and bool(self.welcome.has & Has.WIRE_SENSOR)
        if in_motion:
            self.broke_count = self._reacted_count()
        elif not sensor:
            self.broke_count = self.whole_until
        if in_motion:
            self._stop(now_ns)
        self._tell("wire", now_ns, f"wire broke at about turn {self.wire_broke_at:.0f}")
        if not in_motion:
            self._rest_after_break(now_ns)

    def _rest_after_break(self, now_ns: int) -> None:
        """At rest: all that came since the wire broke may not be on the coil."""
        if self.broke_count is None:
            return
        down, self.broke_count = max(0, self.count - self.broke_count), None
        if not down:
            return
        self.tally.doubt(self.count, self.rocks, down=down, up=0, why=SINCE_BROKEN, of_wire=True)
        self._tell("doubt", now_ns, f"count {self._words()}")

    def _mend_wire(self, asked: Asked, now_ns: int) -> None:
        self.wire_broke_at = None
        text = "the wire is whole"
        if asked.intent is Intent.WIRE_JOINED:
            truth, cpt = self.truth, self.plan.counts_per_turn
            low, high = turns_words(truth.low, cpt), turns_words(truth.high, cpt)
            text = f"splice at turn {low}"
            if low != high:
                text = f"splice between turn {low} and {high}"
        else:
            self.broke_count = None
            self.tally.wire_was_whole()
            text += f"; {self._words()}"
        self._tell("wire", now_ns, text, by=asked.by)

    # --- turns that come off ----------------------------------------------------------------

    def _turns_off(self, asked: Asked, now_ns: int) -> None:
        """Taken off without being counted: on the person's word."""
        assert asked.value is not None
        counts = round(asked.value * self.plan.counts_per_turn)
        self.tally.take_off(counts, asked.by, self.count, self.rocks)
        text = f"{asked.value:g} turns taken off; {self._words()}"
        self._tell("turns off", now_ns, text, by=asked.by, turns=asked.value)
        if self.phase in RELOADED:
            self._reload(in_doubt=True)
            self.whole_until = self.count

    def _unwind(self, asked: Asked) -> None:
        """The motor turns back, slowly and so far; the board comes to rest by itself."""
        assert asked.value is not None
        self.unwinding = True
        plan, board = self.plan, self.board
        counts = -round(asked.value * plan.counts_per_turn)
        speed_rpm = min(UNWIND_RPM, *(leg.speed_rpm for leg in plan.legs))
        rate = max(1, rate_mcps(speed_rpm, plan.counts_per_turn))
        slowing_rpm_s = max(plan.legs[0].acceleration_rpm_s, LEAST_RPM_S)
        slowing = max(1, rate_mcps(slowing_rpm_s, plan.counts_per_turn))
        self._do(lambda: Move(0, board.boot, self.wind, board.revision, counts, rate, slowing))

    def _tell_unwound(self, status: Status, now_ns: int) -> None:
        """A move that was asked for has ended, or was stopped."""
        self.unwinding = False
        ended = "turned back" if status.reason == Reason.MOVE_DONE else "turning back was stopped"
        self._tell("turns off", now_ns, f"{ended}; {self._words()}", by="board")

    def off_turns(self) -> float | None:
        """Turns still to be taken off; None where there is nothing of the kind, or it is not known."""
        left = self.left_counts
        if self.phase is not Phase.TAKING_OFF or left is None:
            return None
        return (self.truth.high - left) / self.plan.counts_per_turn

    # --- readings ---------------------------------------------------------------------------

    @property
    def _turns_now(self) -> float:
        return (self.tally.offset + self.count) / self.plan.counts_per_turn

    def _take_reading(self, asked: Asked, now_ns: int) -> None:
        """Ohms as they were shown, or any reading as one writes it; learnt where there is an estimate."""
        ohm, at_c = asked.value, asked.at_c
        if self.estimate is None or not is_sharp(self.truth):
            assert ohm is not None
            if self.phase in FINISHED:
                self.measured = (ohm, at_c)
            words = f"measured {ohm:g} ohm"
            if self.estimate is not None:
                words += ", and nothing learnt from it: the count is in doubt"
                self.finding = words
            if at_c is not None:
                words += f" at {at_c:g} C, {ohm / copper_factor(at_c):.4g} ohm at 20 C"
            self._tell("measured", now_ns, words, ohm=ohm, at_c=at_c, by=asked.by)
            return
        finished = self.phase in FINISHED
        found = self.estimate.read(reading_text(asked), self._turns_of_truth, finished=finished)
        self.finding = found.words
        if found.ohm is not None:
            ohm, at_c = found.ohm[0], found.ohm[1] if asked.value is None else at_c
            if finished:
                self.measured = (ohm, at_c)
        self.offered_turns = None
        wanted = found.wanted_turns
        at_pause = self.phase in (Phase.READY, Phase.PAUSED)
        if wanted is not None and wanted != self.plan.target_turns and at_pause:
            if wanted > self._turns_now:
                self.offered_turns = wanted
            else:
                self.finding += "; there are more on the coil already: end here, or take them off"
        facts = {"reading": found.reading, "learnt": found.learnt, "ohm": ohm, "at_c": at_c}
        self._tell("measured", now_ns, f"{found.reading}: {found.words}", by=asked.by, **facts)
        left = self.estimate.turns_left()
        if self.phase is Phase.TAKING_OFF and left is not None:
            self._tell("plan", now_ns, f"the coil shall keep {left} turns", target_turns=left)
        self.view_is_stale = True

    @property
    def _turns_of_truth(self) -> float:
        return self.truth.low / self.plan.counts_per_turn

    def _adopt(self, asked: Asked, now_ns: int) -> None:
        """The turns that follow from the readings become the target; the legs are loaded anew."""
        assert self.estimate is not None and self.offered_turns is not None
        turns, self.offered_turns = self.offered_turns, None
        plan = self.estimate.replan(turns)
        self.plan = replace(plan, spindle=self.plan.spindle)
        self.preparation.turn(self.plan)
        self.preparation.in_force = False  # the next status leads to PREPARING
        text = f"the target is {turns} turns now"
        self._tell("plan", now_ns, text, target_turns=turns, by=asked.by)
        self.view_is_stale = True
