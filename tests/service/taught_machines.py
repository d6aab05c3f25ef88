"""Twelve machines whose figures nobody tells the lesson, and a person whose hand errs at them."""

from __future__ import annotations

import random
import re
from dataclasses import dataclass, field
from typing import Any

from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink
from winder.service.teaching.bench import TaughtBoard
from winder.service.teaching.lesson import teach
from winder.simulator.build import Build
from winder.simulator.machine import SimulatedMachine

ERRS_DEGREES = 5.0  # at each end of what is turned by hand


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

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)

    def tell(self, line: str) -> None:
        self.told.append(line)

    def ask(self, question: str) -> str:
        self.asked.append(question)
        for part, answer in self.says.items():
            if part in question:
                return answer
        if turned := re.search(r"slowly, (\d+) whole turns", question):
            self.turn(int(turned[1]))
            return ""
        if "What do you call" in question:
            return "bench of the tests"
        if "printed on the sensor" in question:
            return self.printed
        if "clockwise" in question:
            return "yes" if self.clockwise else "no"
        if "caliper" in question:
            return self.caliper_mm
        if "end to end" in question:
            return "100"
        return "yes"

    def turn(self, turns: int) -> None:
        """From the mark to the mark, as well as a hand can."""
        errs = sum(self.chance.uniform(-ERRS_DEGREES, ERRS_DEGREES) for _ in range(2)) / 360
        self.machine.turn_by_hand((turns + errs) * self.ratio)


def taught(build: Build, seed: int = 1, **how: Any):
    """The lesson at this machine; what was learned, and the person."""
    machine = SimulatedMachine(build, seed)
    clock = HandClock()
    hands = Hands(machine, seed, **how)
    board = TaughtBoard(SimulatedLink(machine, clock), clock, "sim")
    try:
        return teach(board, hands), hands
    finally:
        board.close()


def counter(counts: int, *, sense: bool = False) -> Build:
    return Build(
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
