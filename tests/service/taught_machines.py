"""Twelve machines whose figures nobody tells the lesson, and a person whose hand errs at them."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

from firmware_protocol.messages import Status
from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink
from winder.service.teaching.bench import TaughtBoard
from winder.service.teaching.dialogue import Deed, Kind, Question, Step
from winder.service.teaching.guide import STEP_MOST_MM
from winder.service.teaching.lesson import teach
from winder.simulator.build import Build
from winder.simulator.machine import SimulatedMachine

ERRS_DEGREES = 5.0  # at each end of what is turned by hand
EYE_MM = 0.05


@dataclass
class Hands:
    """Answers as a person would; ``ratio`` turns of the sensor for one of the bobbin, by a belt."""

    machine: SimulatedMachine
    seed: int = 1
    printed: str = ""
    ratio: float = 1.0
    clockwise: bool = True
    caliper_mm: str = "20"
    says: dict[str, str] = field(default_factory=dict)  # by a part of the question
    asked: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    kinds: list[Kind] = field(default_factory=list)
    keeps: list[str] = field(default_factory=list)  # answers to 'keep this?', then always yes
    lets: int | None = None  # statuses in motion, then it is stopped
    watched: int = 0
    guard_works: bool = True
    wire_sensor_works: bool = True

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)

    def begin(self, step: Step, coming: tuple[Step, ...]) -> None:
        self.steps.append(step)

    def watch(self, status: Status | None) -> bool:
        if status is not None:
            self.watched += 1
        return status is None or self.lets is None or self.watched < self.lets

    def tell(self, line: str) -> None:
        self.told.append(line)

    def ask(self, question: Question) -> str:
        self.asked.append(question.text)
        self.kinds.append(question.kind)
        for part, answer in self.says.items():
            if part in question.text:
                return answer
        if question.deed is not None:
            self.do(question)
            return ""
        if question.kind is Kind.KEEP:
            return self.keeps.pop(0) if self.keeps else ""
        for part, answer in self.knows.items():
            if part in question.text:
                return answer
        if "Lead the guide" in question.text:
            return self.lead(question.text)
        return "yes"

    @property
    def knows(self) -> dict[str, str]:
        return {
            "What do you call": "bench of the tests",
            "printed on the sensor": self.printed,
            "clockwise": "yes" if self.clockwise else "no",
            "by your caliper?": self.caliper_mm,
            "between the flanges": f"{self.machine.build.width_m * 1000:.2f}",
        }

    def do(self, question: Question) -> None:
        """What hands have to do."""
        body = self.machine.body
        if question.deed is Deed.TURN:
            self.turn(question.turns)
        elif question.deed in (Deed.OPEN_GUARD, Deed.CLOSE_GUARD):
            body.guard_open = question.deed is Deed.OPEN_GUARD and self.guard_works
        elif question.deed is Deed.GUIDE_LEFT:
            self.machine.put_guide_left()
        elif self.wire_sensor_works:
            body.wire_present = question.deed is Deed.WIRE_IN

    def lead(self, question: str) -> str:
        """The guide by eye, to a twentieth of a millimetre: its end, or a flange of a bobbin 30 mm from the left."""
        here = self.machine.guide_m * 1000
        travel_mm, width_mm = (
            (self.machine.build.traverse_travel_m or 0) * 1000,
            self.machine.build.width_m * 1000,
        )
        goal = (
            travel_mm
            if "right end" in question
            else 30.0
            if "left flange" in question
            else 30.0 + width_mm
        )
        off = max(-STEP_MOST_MM, min(round((goal - here) / EYE_MM) * EYE_MM, STEP_MOST_MM))
        return f"{off:.2f}" if abs(off) > EYE_MM / 2 else ""

    def turn(self, turns: int) -> None:
        """From the mark to the mark, as well as a hand can."""
        errs = sum(self.chance.uniform(-ERRS_DEGREES, ERRS_DEGREES) for _ in range(2)) / 360
        self.machine.turn_by_hand((turns + errs) * self.ratio)


def taught(build: Build, seed: int = 1, *, wiring: bool = False, **how: Any):
    """The lesson at this machine; what was learned, and the person."""
    machine = SimulatedMachine(build, seed)
    clock = HandClock()
    hands = Hands(machine, seed, **how)
    board = TaughtBoard(SimulatedLink(machine, clock), clock, "sim")
    try:
        return teach(board, hands, wiring=wiring), hands
    finally:
        board.close()


def counter(counts: int, *, sense: bool = False, bounce_us: int = 0) -> Build:
    return Build(
        bounce_us=bounce_us,
        motor=False,
        brake_nm=None,
        counts_per_turn=counts,
        direction_sense=sense,
        guard=False,
        wire_sensor=False,
        traverse_travel_m=None,
    )


def driven(counts: int, **changes: Any) -> Build:
    known: dict[str, Any] = {"counts_per_turn": counts, "traverse_travel_m": None}
    return Build(**known | changes)
