"""The guide's carriage: where it truly is, where the board believes it to be, and its moves at rest.

Beyond its travel it stands, and at its left end is the limit switch, where there is one. A move at rest goes at one
speed: what a ramp does to a step motor is nothing that shows in a place.
"""

from __future__ import annotations

from firmware_protocol.far import TraverseHome, TraverseMove

from .control import TICK_S
from .guide import Guide

ROOM_UM = 5000.0  # that the guide has to the left of the flange before it meets its limit


class Carriage:
    """Micrometres from the left flange: truly ``place_um + offset_um``."""

    def __init__(self, guide: Guide, um_s: float) -> None:
        self.guide = guide
        self.offset_um = 0.0
        self.goal_um: float | None = None  # of a move under way, as the board believes
        self.arrived = self.at_limit = False
        self._usual_um_s = self._um_s = um_s
        self._home_um: int | None = None  # the board's place of the limit switch, on the way to it

    @property
    def true_um(self) -> float:
        return self.guide.place_um + self.offset_um

    def halt(self) -> None:
        self.arrived, self.goal_um, self._home_um = False, None, None

    def go(self, count: int) -> bool:
        """Where the count leads it; whether that was beyond its end, where it stands now."""
        self.guide.go(count)
        if self.guide.travel_um is None:
            return False
        return self._stands_at_end()

    def _stands_at_end(self) -> bool:
        true_um = self.true_um
        within_um = max(-ROOM_UM, min(true_um, self.guide.travel_um or 0.0))
        if within_um == true_um:
            return False
        self.guide.place_um = within_um - self.offset_um
        return True

    def mark(self, at_um: int) -> None:
        true_um = self.true_um
        self.guide.place_um = float(at_um)
        self.offset_um = true_um - at_um

    def step(self, distance_um: float) -> None:
        self.halt()
        self.goal_um = self.guide.place_um + distance_um
        self.guide.rightward = distance_um > 0
        self._um_s = self._usual_um_s

    def lead_far(self, ask: TraverseHome | TraverseMove) -> None:
        home = ask.at_um if isinstance(ask, TraverseHome) else None
        self.step(-ROOM_UM - self.true_um if isinstance(ask, TraverseHome) else ask.distance_um)
        self._home_um, self._um_s = home, float(ask.rate_um_s)

    def walk(self, goal_um: float) -> None:
        """One tick of a move."""
        most_um = self._um_s * TICK_S
        way_um = goal_um - self.guide.place_um
        self.guide.place_um += max(-most_um, min(way_um, most_um))
        there = abs(way_um) <= most_um
        if self._home_um is not None and there:
            self.mark(self._home_um)
            self.halt()
            self.arrived = self.guide.rightward = True
        elif self._home_um is None and self._stands_at_end():
            self.at_limit, self.goal_um = True, None
        elif there:
            self.arrived, self.goal_um = True, None

    def lose_place(self) -> None:
        """The board is reset: it believes the guide at nought."""
        self.offset_um += self.guide.place_um
        self.guide.place_um = 0.0
        self.halt()
        self.at_limit = False
