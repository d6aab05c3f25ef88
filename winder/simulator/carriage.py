"""The guide's carriage: where it truly is, where the board believes it to be, and its moves at rest.

Beyond its travel it stands, and at its left end is the limit switch, where there is one. A move at rest goes at one
speed: what a ramp does to a step motor is nothing that shows in a place. A board that seeks a switch that is not met
counts on while the guide stands at its end.
"""

from __future__ import annotations

import enum

from firmware_protocol.far import TraverseHome, TraverseMove

from .control import TICK_S
from .guide import Guide

SETTLES_S = 0.06  # at the switch and off it, until its contact is believed
SEEKS_SHARE = 9 / 8  # of the way that it can be from the switch
OFF_UM, OFF_UM_S = 20_000.0, 5000.0  # off a switch that is met, at most; then it is stuck


class Switch(enum.Enum):
    """How the limit switch is."""

    SOUND = "closes where it should"
    NEVER = "never closes"
    LOOSE = "closes, and opens again as the guide stands on it"
    STUCK = "is closed wherever the guide is"


class Carriage:
    """Micrometres from the left flange: truly ``place_um + offset_um``."""

    def __init__(self, guide: Guide, um_s: float, room_um: float = 5000.0) -> None:
        self.guide = guide
        self.switch = Switch.SOUND
        self.room_um = room_um  # to the left of the flange, to its limit
        self.offset_um = 0.0
        self.goal_um: float | None = None  # of a move under way, as the board believes
        self.arrived = self.at_limit = False
        self._usual_um_s = self._um_s = um_s
        self._settles = 0  # ticks
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
        within_um = max(-self.room_um, min(true_um, self.guide.travel_um or 0.0))
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
        if isinstance(ask, TraverseHome):
            self.step(self._way_home(abs(ask.at_um)))
            self._home_um, self._settles = ask.at_um, round(SETTLES_S / TICK_S)
        else:
            self.step(ask.distance_um)
        stuck = self._home_um is not None and self.switch is Switch.STUCK
        self._um_s = OFF_UM_S if stuck else float(ask.rate_um_s)

    def _way_home(self, flange_um: float) -> float:
        if self.switch is Switch.NEVER:
            return -((self.guide.travel_um or 0.0) + flange_um) * SEEKS_SHARE
        return OFF_UM if self.switch is Switch.STUCK else -self.room_um - self.true_um

    def walk(self, goal_um: float) -> None:
        """One tick of a move."""
        most_um = self._um_s * TICK_S
        way_um = goal_um - self.guide.place_um
        self.guide.place_um += max(-most_um, min(way_um, most_um))
        there = abs(way_um) <= most_um
        if there and self._home_um is not None and self._settles:
            self._settles -= 1
            return
        if self._home_um is not None and self.switch is not Switch.SOUND:
            self._walk_in_vain(there=there)
        elif self._home_um is not None and there:
            self.mark(self._home_um)
            self.halt()
            self.arrived = self.guide.rightward = True
        elif self._home_um is None and self._stands_at_end():
            self.at_limit, self.goal_um = True, None
        elif there:
            self.arrived, self.goal_um = True, None

    def _walk_in_vain(self, *, there: bool) -> None:
        """At its end the guide stands, and the board's steps go on."""
        within_um = max(-self.room_um, min(self.true_um, self.guide.travel_um or 0.0))
        self.offset_um += within_um - self.true_um
        if there:
            self.halt()
            self.at_limit = True

    def lose_place(self) -> None:
        """The board is reset: it believes the guide at nought."""
        self.offset_um += self.guide.place_um
        self.guide.place_um = 0.0
        self.halt()
        self.at_limit = False
