"""Which way the spindle must turn, from which way round the bobbin is mounted.

A recipe says clockwise or counter-clockwise seen from the top of the coil, and only the person at the machine
knows whether that top faces them or the chuck. The wire is laid at a fixed place while the bobbin turns, so
in the bobbin's own frame the place of laying runs round the other way: seen from one and the same side the
coil's sense is the opposite of the spindle's. (Hold a reel and turn it clockwise under a fixed finger: the finger's
trace on it runs counter-clockwise.) A top that faces the chuck is seen from behind, which mirrors it.

The spindle is seen as the operator sees it, looking at the chuck from the free end. The left flange is the one at
the chuck, and the guide begins there: which end of the coil that is follows from the mounting.
"""

from __future__ import annotations

import enum

from firmware_protocol.records import dataclass
from winder.recipe.model import Direction


class Top(enum.Enum):
    """Where the top of the coil faces on the machine."""

    OPERATOR = "operator"
    CHUCK = "chuck"


@dataclass(frozen=True, slots=True)
class Facing:
    """A mounted bobbin and what follows from it."""

    top: Top
    turning: Direction  # the spindle, as the operator sees it
    spindle: int  # +1 or -1: the motor's way for the legs
    starts_at_top: bool  # the flange at the chuck, where the first turn lies, is the coil's top

    @property
    def words(self) -> str:
        towards = "you" if self.top is Top.OPERATOR else "the chuck"
        return (
            f"top towards {towards}: the spindle turns {self.turning.value} as you see it from the free"
            f" end, and the coil begins at its {'top' if self.starts_at_top else 'bottom'}, the flange"
            " at the chuck"
        )


def face(direction: Direction, top: Top, *, plus_clockwise: bool = True) -> Facing:
    """``direction`` is the coil's from its top; ``plus_clockwise`` the motor's + as the operator sees it."""
    plus = Direction.CLOCKWISE if plus_clockwise else Direction.COUNTER_CLOCKWISE
    seen = direction if top is Top.OPERATOR else other(direction)
    turning = other(seen)
    return Facing(
        top=top,
        turning=turning,
        spindle=1 if turning is plus else -1,
        starts_at_top=top is Top.CHUCK,
    )


def other(direction: Direction) -> Direction:
    clockwise = direction is Direction.CLOCKWISE
    return Direction.COUNTER_CLOCKWISE if clockwise else Direction.CLOCKWISE
