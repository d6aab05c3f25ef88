"""A lesson under way: the board, the person, and what was learned so far."""

from __future__ import annotations

from dataclasses import dataclass, field

from firmware_protocol.wire import Group

from .bench import TaughtBoard
from .dialogue import Person
from .wiring import Speeds
from .written import Learned


@dataclass(slots=True)
class Lesson:
    """``told``: speed and counts as the person told them, where the wiring was asked in this lesson."""

    board: TaughtBoard
    person: Person
    learned: Learned = field(default_factory=lambda: Learned(""))
    anew: bool = False  # what is wired is asked again
    told: Speeds | None = None
    implausible: int = 0  # edges that came too soon while it was turned by hand
    slows_rpm_s: float = 0.0  # with all that slows it: the brake, or friction alone

    @property
    def keeps_settings(self) -> bool:
        return self.board.has(Group.SETTINGS)

    @property
    def drives(self) -> bool:
        return self.board.has(Group.MOTOR)

    @property
    def per_rpm(self) -> float:
        """Counts a second at one turn a minute."""
        return self.learned.counts_per_turn / 60

    def tell(self, line: str) -> None:
        self.person.tell(line)


def down(value: float) -> float:
    """To three figures, downward: on the cautious side of what is relied on."""
    step = 10 ** max(len(str(int(value))) - 3, 0)
    return float(int(value / step) * step)
