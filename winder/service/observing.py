"""A rehearsal in which somebody measures: what is observed narrows the bands and mends the plan.

Meter and caliper are the simulated bench's (``winder/simulator/instruments.py``), with errors of their
own; what they are put on is the simulated wire as it was laid, whose physics the coil model does not share.
Readings are taken before the wind, at its pauses, or at its end, and said to the session as at the bench. Where
the target is a resistance, the turns that follow are adopted at rest by the rehearsing person; a coil wound long is
measured and the motor takes off what is too much. The report says whether the wire that was wound lies within the
narrowed band.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterator
from typing import Any

from firmware_protocol.records import dataclass
from winder.coil.diagnosis import diagnose
from winder.coil.knowledge import (
    Contradiction,
    foreseen,
    learn,
    resistance_band,
    surprise,
)
from winder.coil.known import coil_as_known, knowledge_of
from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.machine.model import MachineProfile
from winder.recipe.model import ResistanceTarget
from winder.recipe.observations import (
    UNEVEN_BY_HAND,
    UNEVEN_EVEN_LAY,
    BuildCaliper,
    EarlierCoil,
    Observation,
    OhmReading,
    SpoolTail,
)
from winder.recipe.readings import read_reading, reading_text
from winder.service.bodies import PACKING_SHARE, ohmmeter_of, simulated_machine, spread_of
from winder.service.estimating import said_reading
from winder.service.opening import Opened
from winder.service.rehearsal import Progress, Rehearsed, off_turns, rehearse, report_of
from winder.simulator.instruments import BenchCaliper, cut_tail
from winder.simulator.machine import SimulatedMachine
from winder.simulator.spool import as_delivered
from winder.wind.model import Asked, Intent, Phase, TurnsOff

TAIL_OHM = 120.0  # a tail of at least 100 ohm, or digits and leads spoil it
CALIPER_AT = 0.5
EARLIER_SEED = 7_654_321  # added to the run's: the packing of another wind of the same spool
BEFORE = ("tail", "earlier")
AT_A_PAUSE = ("ohm", "caliper")
BY = "rehearsal"
LIST = "tail, earlier, caliper@50%, ohm@50%, ohm@4000, finish"


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing to measure: what, and where if it is on the way."""

    kind: str  # "tail", "earlier", "caliper", "ohm", "finish"
    share: float | None = None  # of the turns first planned
    turns: int | None = None

    def at(self, coil: Coil) -> int:
        return self.turns if self.turns is not None else round((self.share or 0.0) * coil.turns)


FINISH = Ask("finish")


def read_asks(text: str, coil: Coil) -> tuple[Ask, ...]:
    """``tail,caliper,ohm@50%`` as asks that fit this coil. Raises ``UserMistake``."""
    asks = tuple(_read_ask(word.strip(), coil) for word in text.split(","))
    if len(set(asks)) < len(asks):
        raise UserMistake(
            f"'{text[:60]}' asks for the same thing twice",
            where="--observe",
            remedy="name everything once",
        )
    return asks


def _read_ask(word: str, coil: Coil) -> Ask:
    match = re.fullmatch(r"([a-z]+)(?:@([0-9]{1,9})(%?))?", word)
    kind, number, percent = match.groups() if match else ("", None, "")
    known = kind in (*BEFORE, *AT_A_PAUSE, "finish")
    if not known or (number is not None and kind not in AT_A_PAUSE):
        raise UserMistake(
            f"'{word[:40]}' is not something to observe",
            where="--observe",
            remedy=f"choose from {LIST}",
        )
    if kind == "ohm" and number is None:
        raise UserMistake(
            "'ohm' does not say where", where="--observe", remedy="write ohm@50% or ohm@4000"
        )
    if kind == "finish" and not isinstance(coil.recipe.target, ResistanceTarget):
        raise UserMistake(
            "'finish' winds long, measures and takes off, and this recipe asks for no resistance",
            where="--observe",
            remedy="leave it out, or give the recipe a target in ohm",
        )
    if kind not in AT_A_PAUSE:
        return Ask(kind)
    if number is None:
        return Ask(kind, share=CALIPER_AT)
    ask = Ask(kind, share=int(number) / 100) if percent else Ask(kind, turns=int(number))
    if not 0 < ask.at(coil) < coil.turns:
        raise UserMistake(
            f"'{word[:40]}' is not on the way to {coil.turns} turns",
            where="--observe",
            remedy="measure between the first turn and the last",
        )
    return ask


def rehearse_observed(
    coil: Coil,
    machine: MachineProfile,
    seed: int,
    asks: tuple[Ask, ...],
    *,
    body: SimulatedMachine | None = None,
    progress: Progress | None = None,
) -> tuple[Rehearsed, dict[str, Any]]:
    """One wind with somebody who measures, and its report with what was observed (``observed``).

    ``UserMistake`` where something shall be measured at a pause and nothing pauses: the drill runs on.
    """
    if not machine.motor and any(ask.kind in AT_A_PAUSE for ask in asks):
        raise UserMistake(
            f"'{machine.name}' has no motor, and a rehearsal by drill makes no pauses",
            where="--observe",
            remedy="measure before the wind or after it: tail, earlier, finish",
        )
    body = body or simulated_machine(machine, coil, seed)
    person = _Person(coil, machine, seed, asks, body)
    person.measure_before()
    rehearsed = rehearse(
        person.coil_to_wind(), machine, seed, body=body, progress=progress, at_rest=person.at_rest
    )
    report = report_of(rehearsed)
    report["observed"] = person.measure_after()
    return rehearsed, report


class _Person:
    """Who measures, learns and confirms in a rehearsal."""

    def __init__(
        self,
        coil: Coil,
        machine: MachineProfile,
        seed: int,
        asks: tuple[Ask, ...],
        body: SimulatedMachine,
    ) -> None:
        self._start = self.knowledge = knowledge_of(coil)
        self._long = FINISH in asks or coil.wind_long
        self._coil = _to_wind_long(coil) if self._long else coil
        self._machine, self._seed, self._asks = machine, seed, asks
        self._body = body
        told = machine.instruments
        self._meter = ohmmeter_of(told, seed)
        self._caliper = BenchCaliper(seed, told.caliper_m)
        self._told: list[dict[str, Any]] = []
        self._planned: list[int] = []
        self._made: set[Ask] = set()  # what was measured on the way
        self._taken_off = 0

    # --- before, at pauses, after ---------------------------------------------------------------

    def measure_before(self) -> None:
        for ask in self._asks:
            if ask.kind == "tail":
                tail_m = float(math.ceil(TAIL_OHM / self._coil.wound.wire.ohm_per_m.nominal))
                true_ohm = cut_tail(self._seed, tail_m) * self._body.build.ohm_per_m
                shown, celsius = self._meter.read(true_ohm)
                self._learn(SpoolTail(tail_m, shown, celsius))
            elif ask.kind == "earlier":
                self._learn(self._earlier_coil())

    def at_rest(self, opened: Opened) -> Iterator[Asked]:
        """Measure what was asked for here, and go by it: adopt, take off, or end."""
        turns = opened.wind.session.course.truth.low // opened.plan.counts_per_turn
        if opened.wind.session.phase is Phase.TAKING_OFF:
            yield from self._finish(opened, turns)
            return
        for ask in self._asks:
            if ask.kind not in AT_A_PAUSE or ask.at(self._coil) != turns or ask in self._made:
                continue
            self._made.add(ask)
            yield self._measured(
                self._ohm_words(turns) if ask.kind == "ohm" else self._built(turns)
            )
        if opened.wind.view().ohm.offered_turns is not None:
            self._planned.append(opened.wind.view().ohm.offered_turns or 0)
            yield Asked(Intent.ADOPT_TURNS, by=BY)
        elif self._enough(turns):
            yield Asked(Intent.END_HERE, by=BY)

    def _finish(self, opened: Opened, turns: int) -> Iterator[Asked]:
        """Wound long, or by hand past the target: measure where that is asked for, then take off."""
        if opened.plan.measure_at_end and FINISH not in self._made:
            self._made.add(FINISH)
            yield self._measured(self._ohm_words(turns))
        off = off_turns(opened.wind.session)
        if off is None or off <= 0:
            yield Asked(Intent.END_HERE, by=BY)
        elif self._machine.motor:
            self._taken_off += round(off)
            yield Asked(Intent.TAKE_OFF, off, by=BY)
        elif opened.plan.measure_at_end or not opened.wind.session.course.sense:
            self._taken_off += round(off)
            yield Asked(Intent.TURNS_OFF, TurnsOff(off), by=BY)

    def _measured(self, words: str) -> Asked:
        """The reading as the person writes it, learnt for the report too."""
        reading = read_reading(words)
        if isinstance(reading, BuildCaliper):
            reading = dataclasses.replace(reading, uneven_share=self._uneven_share)
        self._learn(reading)
        return Asked(Intent.MEASURED, said_reading(words), by=BY)

    def _ohm_words(self, turns: int) -> str:
        # Just wound: nobody waits at a pause.
        shown, celsius = self._meter.read(self._true_ohm(), self._body.build.warm_k)
        step = self._meter.step_ohm(shown)
        return reading_text(OhmReading(turns, shown, celsius, step_ohm=step))

    def _built(self, turns: int) -> str:
        return f"build, {turns} turns, {self._built_m(self._body) * 1e3:.6f} mm"

    def _enough(self, turns: int) -> bool:
        """By all that was measured the target takes no more turns than are on the coil."""
        if not self._made or not isinstance(self._coil.recipe.target, ResistanceTarget):
            return False
        return coil_as_known(self._coil, self.knowledge).turns <= turns

    def measure_after(self) -> dict[str, Any]:
        """The last figures, judged by the wire that lies on the bobbin."""
        turns = self._body.lay.turns
        target = self._coil.recipe.target
        wound = self._true_ohm()
        band = resistance_band(self.knowledge, turns)
        return {
            "observations": self._told,
            "turns_planned": self._planned,
            "turns": turns,
            "turns_taken_off": self._taken_off,
            "target_ohm_20c": target.ohm_20c if isinstance(target, ResistanceTarget) else None,
            "band_before_ohm_20c": resistance_band(self._start, turns).facts(),
            "band_ohm_20c": band.facts(),
            "wound_ohm_20c": wound,
            "inside": band.low <= wound <= band.high,
        }

    # --- planning ---------------------------------------------------------------------------------

    def coil_to_wind(self) -> Coil:
        """The coil with the turns that are now thought right, pausing where something is measured."""
        coil = coil_as_known(self._coil, self.knowledge)
        pauses = {ask.at(self._coil) for ask in self._asks if ask.kind in AT_A_PAUSE}
        pauses |= set(coil.recipe.pause_at_turns)
        stops = tuple(sorted(turn for turn in pauses if turn < coil.turns))
        self._planned.append(coil.turns)
        return dataclasses.replace(
            coil, recipe=dataclasses.replace(coil.recipe, pause_at_turns=stops)
        )

    # --- measuring ----------------------------------------------------------------------------------

    def _true_ohm(self) -> float:
        """At 20 C, of what lies on the bobbin and the leads, which are as stretched."""
        build, leads_m = self._body.build, self._coil.recipe.leads_m
        return self._body.wound_ohm + leads_m * build.ohm_per_m * (1 + build.stretch) ** 2

    def _earlier_coil(self) -> EarlierCoil:
        """The recipe's coil wound before, of this spool, with a packing of its own."""
        spread = spread_of(self._coil)
        build = as_delivered(
            dataclasses.replace(self._body.build, packing=spread.packing),
            self._seed,  # the bench's habit is the same, the wind another
            ohm_factors=(1.0, 1.0),
            packing_share=PACKING_SHARE,
            habit_share=spread.habit_share,
            wind_seed=self._seed + EARLIER_SEED,
        )
        body = SimulatedMachine(build, self._seed)
        rehearse(self._coil, self._machine, self._seed, body=body)
        leads_ohm = self._coil.recipe.leads_m * build.ohm_per_m * (1 + build.stretch) ** 2
        shown, celsius = self._meter.read(body.wound_ohm + leads_ohm)
        return EarlierCoil(
            body.lay.turns,
            shown,
            celsius,
            self._built_m(body),
            uneven_share=self._uneven_share,
        )

    def _built_m(self, body: SimulatedMachine) -> float:
        return self._caliper.read(body.lay.heights_m, body.lay.bin_m)

    @property
    def _uneven_share(self) -> float:
        """The person knows whether a guide or a hand has laid the wire."""
        by_hand = self._machine.traverse_travel_m is None
        return UNEVEN_BY_HAND if by_hand else UNEVEN_EVEN_LAY

    def _learn(self, observation: Observation) -> None:
        """Learn it, or tell why it cannot be believed; either way it is in the report."""
        expected = foreseen(self.knowledge, observation)
        told = {
            "kind": type(observation).__name__,
            **{
                field.name: value
                for field in dataclasses.fields(observation)
                if (value := getattr(observation, field.name)) is not None
            },
            "expected": expected.facts(),
            "standard_errors_off": surprise(self.knowledge, observation),
            "learnt": True,
            "may_be": [],
        }
        try:
            self.knowledge = learn(self.knowledge, observation)
        except Contradiction:
            told["learnt"] = False
            if isinstance(observation, OhmReading | SpoolTail):
                diagnosis = diagnose(self.knowledge, observation)
                told["may_be"] = [cause.words for cause in diagnosis.causes] if diagnosis else []
        self._told.append(told)


def _to_wind_long(coil: Coil) -> Coil:
    """The same coil, its recipe asking for turns to spare; where it does so already nothing changes."""
    target = coil.recipe.target
    assert isinstance(target, ResistanceTarget), (
        "only a resistance target is finished by taking turns off"
    )
    recipe = dataclasses.replace(coil.recipe, target=dataclasses.replace(target, wind_long=True))
    return dataclasses.replace(coil, recipe=recipe)
