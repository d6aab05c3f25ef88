"""What is known of the coil while it is wound: readings narrow it, and the target's turns follow.

A reading is written as everywhere (``winder.recipe.readings``); the turns may be left out, for the machine knows
them. One that the model does not bear is told with its likely causes, and nothing is figured from it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from winder.coil.bands import Band
from winder.coil.knowledge import Knowledge, take_off, turns_for
from winder.coil.known import coil_as_known, knowledge_of, ohm_words, reading_remarks
from winder.coil.model import Coil
from winder.coil.winding import resistance_curve, under_tension
from winder.errors import WinderError
from winder.machine.asking import Purpose, missing
from winder.machine.model import MachineProfile
from winder.plan.model import Plan
from winder.recipe.model import ResistanceTarget
from winder.recipe.observations import (
    UNEVEN_BY_HAND,
    BuildCaliper,
    FinishedDiameter,
    Observation,
    OhmReading,
    SpoolTail,
    is_made,
)
from winder.recipe.readings import read_reading, reading_text
from winder.wind.model import Finding, Ohms, Reading

AT_TURNS = (OhmReading, BuildCaliper, FinishedDiameter)


class LiveEstimate:
    """One coil's, for the session (``winder.wind.model.Estimate``)."""

    def __init__(
        self,
        coil: Coil,
        plan_for: Callable[[Coil], Plan],
        readings: Sequence[Observation] = (),
        *,
        by_hand: bool = False,
        machine: MachineProfile | None = None,
    ) -> None:
        """``coil`` is as planned; ``plan_for`` plans this wind for the coil as it is known then; ``readings`` were made in earlier
        winds of the coil and are not in its recipe; ``by_hand``: no guide lays the wire, so that what a
        caliper touches stands further off the mean; ``machine``: what brakes the wire, and so how far its tension ripples."""
        self._plan_for = plan_for
        self._by_hand, self._machine = by_hand, machine
        self._planned = coil
        self._coil = coil
        self._left: int | None = None
        self._plan: Plan | None = None  # to the turns wanted, where they are others than planned
        if readings:
            made = [self._as_laid(reading) for reading in readings]
            self._coil = coil_as_known(coil, knowledge_of(coil, made))
            self._plan_anew()
        self._resistance = resistance_curve(self._coil)

    def resistance(self, turns: float) -> Ohms:
        return self._resistance(turns)

    def objection(self, reading: Reading, turns: float) -> str:
        if not is_made(reading.observation):
            return f"'{reading.text}' does not say what was measured; add the value with its unit"
        return ""

    def read(self, said: Reading, turns: float, *, finished: bool) -> Finding:
        observation = _at(said, turns)
        reading = reading_text(observation)
        observation = self._as_laid(observation)
        ohm = _ohm_of(observation)
        try:
            knowledge = knowledge_of(self._coil, [observation])
        except WinderError as contradiction:
            remedy = f"; {contradiction.remedy}" if contradiction.remedy else ""
            told = f"{contradiction.what}{remedy}"
            return Finding(reading, False, told, self.wanted_turns(), ohm)
        self._coil = coil_as_known(self._planned, knowledge)
        self._resistance = resistance_curve(self._coil)
        words = [self._end_words(), *self._target_words(observation, turns, finished=finished)]
        trouble = self._plan_anew()
        if trouble:
            words.append(trouble)
        if isinstance(observation, OhmReading | SpoolTail) and not observation.noted_c:
            words.append(
                f"no temperature given: assuming the wire is at {observation.temperature_c:g} C"
            )
        words += reading_remarks(observation, knowledge) + self._bench_words(observation)
        if isinstance(observation, OhmReading) and not finished:
            words.append(
                f"a spot scraped for it is a weak spot at turn {turns:.0f}: insulate it before you go on"
            )
        return Finding(reading, True, "; ".join(words), self.wanted_turns(), ohm)

    def set_tension(self, tension_n: float | None) -> None:
        self._coil = under_tension(self._coil, tension_n, self._machine)
        self._resistance = resistance_curve(self._coil)
        self._plan_anew()

    def wanted_turns(self) -> int | None:
        return None if self._plan is None else self._plan.target_turns

    def turns_left(self) -> int | None:
        return self._left

    def replan(self, target_turns: int) -> Plan:
        plan, self._plan = self._plan, None
        assert plan is not None and plan.target_turns == target_turns, "only what was offered"
        self._planned = self._coil
        return plan

    def _plan_anew(self) -> str:
        """The plan to the turns that are wanted now; words if there can be none."""
        self._plan = None
        wanted = self._coil.turns
        if (
            not isinstance(self._coil.recipe.target, ResistanceTarget)
            or wanted == self._planned.turns
        ):
            return ""
        recipe = self._coil.recipe
        stops = tuple(turn for turn in recipe.pause_at_turns if turn < wanted)
        coil = replace(self._coil, recipe=replace(recipe, pause_at_turns=stops))
        try:
            self._plan = self._plan_for(coil)
        except WinderError as trouble:
            return f"a plan to {wanted} turns is not possible: {trouble.what}"
        return ""

    def _as_laid(self, observation: Observation) -> Observation:
        if self._by_hand and isinstance(observation, BuildCaliper | FinishedDiameter):
            return replace(observation, uneven_share=UNEVEN_BY_HAND)
        return observation

    def _bench_words(self, observation: Observation) -> list[str]:
        """That a machine's file does not say by what the reading was taken."""
        by_caliper = isinstance(observation, BuildCaliper | FinishedDiameter)
        purpose = Purpose.CALIPER if by_caliper else Purpose.OHMS
        if self._machine is None or not self._machine.told or not missing(self._machine, purpose):
            return []
        what = "caliper" if by_caliper else "hand meter and thermometer"
        return [f"assuming an ordinary {what}: the machine file does not say"]

    def _end_words(self) -> str:
        turns = self._planned.turns
        return f"at {turns} turns {ohm_words(Band(*self._resistance(float(turns))))} at 20 C"

    def _target_words(self, observation: Observation, turns: float, *, finished: bool) -> list[str]:
        """What follows for a resistance target: how many turns, or how many of them to take off."""
        target, knowledge = self._coil.recipe.target, self._coil.knowledge
        if not isinstance(target, ResistanceTarget) or knowledge is None:
            return []
        if isinstance(observation, OhmReading) and finished:
            return [self._off_words(observation, turns, knowledge, target.ohm_20c)]
        wanted = turns_for(knowledge, target.ohm_20c)
        return [
            f"the target takes {wanted.nominal:.0f} turns, 95 % between {wanted.low:.0f} and {wanted.high:.0f}"
        ]

    def _off_words(
        self, reading: OhmReading, turns: float, knowledge: Knowledge, target_ohm: float
    ) -> str:
        assert reading.ohm is not None
        off = take_off(
            knowledge,
            reading.ohm,
            target_ohm,
            turns=turns,
            temperature_c=reading.temperature_c,
            rested_min=reading.rested_min,
        )
        self._left = round(turns - off.turns)
        if off.whole > 0:
            return f"take off {off.whole} turns ({off.low:.1f} to {off.high:.1f})"
        return f"{-off.whole} turns are missing" if off.whole else "it is right as it is"


def said_reading(text: str) -> Reading:
    """A reading as a person writes it, read once: one or two bare numbers are the coil's ohms and the wire's temperature.

    Raises ``UserMistake`` with what to write instead.
    """
    observation = read_reading(text, 1.0)
    return Reading(text.strip(), observation, at_turns=observation == read_reading(text, 2.0))


def _at(said: Reading, turns: float) -> Observation:
    """A reading that does not say where was made on the coil as it stands."""
    observation = said.observation
    if said.at_turns or not isinstance(observation, AT_TURNS):
        return observation
    return replace(observation, turns=turns)


def _ohm_of(observation: Observation) -> tuple[float, float | None] | None:
    if isinstance(observation, OhmReading) and observation.ohm is not None:
        return observation.ohm, observation.temperature_c
    return None
