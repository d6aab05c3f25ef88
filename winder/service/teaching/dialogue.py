"""What passes between the lesson and the person: steps, questions of a few kinds, and a watch while something moves.

The terminal and the screen are two persons' ways to answer; neither knows what a lesson asks or why.
"""

from __future__ import annotations

import enum
from typing import Protocol

from firmware_protocol.messages import Status
from firmware_protocol.records import dataclass


class Step(enum.Enum):
    """The parts of a lesson in their order, as they are called."""

    NAME = "name"
    WIRING = "wiring"
    COUNTS = "counts of a turn"
    BOUNCE = "bounce of the sensor"
    DIRECTION = "direction"
    GUARD = "guard"
    WIRE = "wire sensor"
    FOOT = "pedal and stop switch"
    SLOW = "slow start"
    SPEED = "speed and slowing"
    STEADY = "slowest steady speed"
    CURVE = "three speeds"
    GUIDE = "guide"
    KEEP = "the board's settings"
    PROOF = "25 turns"


class Kind(enum.Enum):
    """How a question is answered."""

    TEXT = "text"
    DONE = "just Enter, once it is done"
    YES = "yes or no"
    MOVE = "yes or no; after a yes something moves"
    KEEP = "keep it, or measure it again"


class Deed(enum.Enum):
    """What hands have to do before the answer."""

    TURN = "turn the spindle"
    OPEN_GUARD = "open the guard"
    CLOSE_GUARD = "close the guard"
    WIRE_OUT = "take the wire out of its sensor"
    WIRE_IN = "put a wire into its sensor"
    PEDAL_DOWN = "press the foot pedal"
    PEDAL_UP = "let the foot pedal go"
    STOP_IN = "press the stop switch"
    STOP_OUT = "pull the stop switch out"
    GUIDE_LEFT = "put the guide at its left end"


@dataclass(frozen=True, slots=True)
class Question:
    """``turns``: how many, of the deed TURN."""

    text: str
    kind: Kind = Kind.TEXT
    deed: Deed | None = None
    turns: int = 0


class Person(Protocol):
    """Who stands at the machine."""

    def begin(self, step: Step, coming: tuple[Step, ...]) -> None:
        """A step begins; ``coming``: those behind it, as far as can be told."""

    def tell(self, line: str) -> None: ...

    def ask(self, question: Question) -> str:
        """The answer as it was typed."""

    def watch(self, status: Status | None) -> bool:
        """Called many times a second while something moves, with the newest status; False: it shall stop.

        None: it rests again."""
