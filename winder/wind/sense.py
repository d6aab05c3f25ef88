"""Does the spindle turn the way that was declared? A sensor with a sense of direction can tell.

A board counts upward while it winds, so with such a sensor a count that falls below where a start began says that
the spindle turns the other way: the motor is wired differently from what the machine file says, or the sensor's
channels are. Either way the coil would come out in the wrong sense and the wind would never end. One telling is
enough to stop, for a stop is never wrong; a single count back is only backlash.
"""

from __future__ import annotations

import enum

AGREES_AFTER_TURNS = 1
WRONG_AFTER_PART = 8  # an eighth of a turn the other way, and never less than this many counts:
WRONG_COUNTS_LEAST = 2


class Sense(enum.Enum):
    AGREES = "agrees"
    DISAGREES = "disagrees"


class SenseWatch:
    """Watches the first turn after every start; says something new at most once each way."""

    def __init__(self, counts_per_turn: int) -> None:
        self.wrong = False
        self._agreed = False
        self._begun_at = 0
        self._agrees_after = AGREES_AFTER_TURNS * counts_per_turn
        self._wrong_after = max(WRONG_COUNTS_LEAST, counts_per_turn // WRONG_AFTER_PART)

    def begin(self, count: int) -> None:
        """A start is asked for with this count."""
        self._begun_at = count

    def look(self, count: int) -> Sense | None:
        """The count while winding as it was asked."""
        way = count - self._begun_at
        if way <= -self._wrong_after and not self.wrong:
            self.wrong = True
            return Sense.DISAGREES
        if way >= self._agrees_after and not self._agreed:
            self._agreed = True
            return Sense.AGREES
        return None
