"""What a person measures of the coil: learnt by the estimate that came with the wind, and what follows for the target.

What follows is only offered: the plan changes, at rest, when a person adopts it.
"""

from __future__ import annotations

from dataclasses import replace

from winder.recipe.observations import OhmReading

from .course import Course
from .model import Asked, Estimate, Phase, Reading

FINISHED = (Phase.TAKING_OFF, Phase.COMPLETE, Phase.ENDED)


class Readings:
    """``measured``: ohms and degrees C of the finished coil; ``offered_turns``: the target that follows, not adopted."""

    def __init__(self, course: Course, estimate: Estimate | None) -> None:
        self._course = course
        self.estimate = estimate
        self.measured: tuple[float, float | None] | None = None
        self.finding = ""
        self.read_at: float | None = None  # the turns at the newest reading
        self.offered_turns: int | None = None
        if estimate is not None:
            self._offer_before(estimate.wanted_turns())

    @property
    def left_counts(self) -> int | None:
        """Counts of the coil that shall be left; None: not known before it is measured."""
        plan = self._course.plan
        if not plan.measure_at_end:
            return plan.target_turns * plan.counts_per_turn
        left = self.estimate.turns_left() if self.estimate is not None else None
        return None if left is None else left * plan.counts_per_turn

    def take(self, asked: Asked) -> None:
        reading, course = asked.value, self._course
        assert isinstance(reading, Reading)
        finished = course.phase in FINISHED
        if self.estimate is None or not course.truth.is_sharp:
            self._only_noted(reading, asked.by, finished=finished)
            return
        found = self.estimate.read(reading, course.truth.low / course.per_turn, finished=finished)
        self.finding, self.read_at = found.words, course.turns
        ohm, at_c = found.ohm if found.ohm is not None else (None, None)
        if found.ohm is not None and finished:
            self.measured = found.ohm
        self._offer(found.wanted_turns)
        facts = {"reading": found.reading, "learnt": found.learnt, "ohm": ohm, "at_c": at_c}
        course.tell("measured", f"{found.reading}: {found.words}", by=asked.by, **facts)
        left = self.estimate.turns_left()
        if course.phase is Phase.TAKING_OFF and left is not None:
            course.tell("plan", f"keep {left} turns", target_turns=left)
        course.view_is_stale = True

    def set_tension(self, tension_cn: float) -> None:
        """Said in the list before the wind: how far the wire may stretch follows, and with it the turns of a target in ohms."""
        if self.estimate is None:
            return
        self.estimate.set_tension(tension_cn / 100 or None)
        self._offer_before(self.estimate.wanted_turns())
        self._course.view_is_stale = True

    def _offer_before(self, wanted: int | None) -> None:
        """Turns that are wanted by what is known before this wind goes on."""
        course = self._course
        other = wanted is not None and wanted != course.plan.target_turns
        self.offered_turns = wanted if other else None
        self.finding = f"by all that is known the target takes {wanted} turns" if other else ""

    def _only_noted(self, reading: Reading, by: str, *, finished: bool) -> None:
        course, made = self._course, reading.observation
        text, facts = f"measured {reading.text}", {}
        if isinstance(made, OhmReading):
            facts = {"ohm": made.ohm, "at_c": made.temperature_c}
            if finished and made.ohm is not None:
                self.measured = (made.ohm, made.temperature_c)
        if self.estimate is not None:
            text += ", not used: the count is in doubt"
            self.finding = text
        course.tell("measured", text, by=by, reading=reading.text, learnt=False, **facts)

    def _offer(self, wanted: int | None) -> None:
        course = self._course
        self.offered_turns = None
        at_pause = course.phase in (Phase.READY, Phase.PAUSED)
        if wanted is None or wanted == course.plan.target_turns or not at_pause:
            return
        if wanted > course.turns:
            self.offered_turns = wanted
        else:
            self.finding += "; there are more on the coil already: end here, or take them off"

    def adopt(self, asked: Asked) -> None:
        """The turns that follow from the readings become the target; the legs are loaded anew."""
        course = self._course
        assert self.estimate is not None and self.offered_turns is not None
        turns, self.offered_turns = self.offered_turns, None
        course.plan = replace(self.estimate.replan(turns), spindle=course.plan.spindle)
        course.preparation.turn(course.plan)
        course.preparation.in_force = False  # the next status leads to PREPARING
        course.tell("plan", f"the target is {turns} turns now", target_turns=turns, by=asked.by)
        course.view_is_stale = True
