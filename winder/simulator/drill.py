"""A person with a drill at a board that only counts: a finger on the trigger, eyes on what the board shows.

They know what the board shows and nothing else: that a wind is open, the target that was set, the count, and the
call before the target and at it. They take the drill up, wind at a speed that wanders, let it run slower once the
board has called, and let go when it calls again; every call is heeded a reaction later, so the spindle stands some
turns past the target. Where the board counts backward too, they then turn back by hand to within a turn of it.
Who also sits at the keyboard begins and lays the drill down by their own word (``begin``, ``lay_down``); else an
open wind with a target is word enough. All sizes are guesses, for lack of a source.
"""

from __future__ import annotations

import enum
import math
import random

from .build import Build
from .control import TICK_S

CRUISE_RPM = (250.0, 550.0)  # evenly, one for each person
CRUISE_SHARE = 0.8  # of what the spindle bears, at most
WANDERS_SHARE = 0.07  # of the speed, standard deviation
WANDERS_S = 3.0  # how long it stays on one side
WANDERS_EVERY = 10  # ticks
EASE_RPM = 180.0
GATHERS_RPM_S = 300.0
SLOWS_RPM_S = 500.0
BACK_RPM, BACK_LAST_RPM = 40.0, 20.0  # by hand; the last two turns slower
TAKES_UP_S = (2.0, 4.0)
REACTION_S = (0.3, 0.8)
LOOKS_S = (2.0, 4.0)  # at the count, before they turn back


class Doing(enum.Enum):
    STANDS = "stands"
    WINDS = "winds"
    EASES = "winds slowly, the target is near"
    LETS_GO = "lets the spindle come to rest"
    TURNS_BACK = "turns back by hand"


class Drill:
    """One person and their drill, by seed. ``turn`` is called once a tick."""

    def __init__(self, build: Build, seed: int) -> None:
        self._chance = random.Random(f"drill {seed}")
        cruise_rpm = self._chance.uniform(*CRUISE_RPM)
        self._cruise = min(cruise_rpm, CRUISE_SHARE * build.speed_rpm_max) / 60  # turns/s
        self._ease = min(EASE_RPM / 60, self._cruise)
        self._per_turn = build.counts_per_turn
        self._counts_back = build.direction_sense
        self._tick = 0
        self._speed = 0.0  # turns/s; below zero: back
        self._wander = 0.0  # share of the speed
        self.doing = Doing.STANDS
        self._next: Doing | None = (
            None  # what is done at ``_next_tick``, a reaction after its cause
        )
        self._next_tick = 0
        self._word: bool | None = None  # to wind, from the keyboard; None: nobody sits there
        self._wind = 0  # the open one, as shown; 0: none
        self._target = self._warn = 0  # the newest that was set in it

    # --- what the person sees and is told -----------------------------------------------------

    def see(self, wind: int, target: int, warn_before: int) -> None:
        """What the board shows; it forgets a target that it has called out, the person does not."""
        if wind != self._wind:
            self._wind, self._target, self._warn = wind, 0, 0
        if target:
            self._target, self._warn = target, warn_before

    def listen(self) -> None:
        """Who holds the drill sits at the keyboard too: from now on their own word begins."""
        self._word = False

    def begin(self) -> None:
        self._word = True

    def lay_down(self) -> None:
        """Let go at once; it is one's own decision."""
        self._word, self._next = False, None
        if self.doing is not Doing.STANDS:
            self.doing = Doing.LETS_GO

    # --- the tick -----------------------------------------------------------------------------

    def turn(self, count: int) -> float:
        """Turns of the spindle in this tick, with the board showing this count."""
        self._tick += 1
        if self._next is not None and self._tick >= self._next_tick:
            self.doing, self._next = self._next, None
        self._notice(count)
        goal = self._goal(count)
        speed = self._speed
        if speed != goal:
            most = (GATHERS_RPM_S if abs(goal) > abs(speed) else SLOWS_RPM_S) / 60 * TICK_S
            self._speed = (
                goal if abs(goal - speed) <= most else speed + math.copysign(most, goal - speed)
            )
        return self._speed * TICK_S

    def stand(self, count: int, ticks: int) -> int:
        """Pass up to so many ticks in which they stand by and nothing comes to their mind; how many there were."""
        if self.doing is not Doing.STANDS or self._speed:
            return 0
        winds_on = self._wind and count < self._target and self._word is not False
        if winds_on and self._next is not Doing.WINDS:
            return 0
        if self._next is not None:
            ticks = min(ticks, self._next_tick - self._tick - 1)
        ticks = max(ticks, 0)
        self._tick += ticks
        return ticks

    def _notice(self, count: int) -> None:
        doing, past = self.doing, count - self._target
        if doing is Doing.WINDS or doing is Doing.EASES:
            if past >= 0 or not self._wind:
                self._react(Doing.LETS_GO, REACTION_S)
            elif past >= -self._warn and doing is Doing.WINDS:
                self._react(Doing.EASES, REACTION_S)
        elif doing is Doing.STANDS:
            if self._wind and past < 0 and self._word is not False:
                self._react(Doing.WINDS, TAKES_UP_S)
        elif doing is Doing.TURNS_BACK:
            if past <= self._per_turn // 2 or not self._wind:
                self.doing = Doing.LETS_GO
        elif self._speed == 0.0:
            self.doing = Doing.STANDS
            if self._wind and self._counts_back and past >= self._per_turn and self._target:
                self._react(Doing.TURNS_BACK, LOOKS_S)

    def _react(self, doing: Doing, within_s: tuple[float, float]) -> None:
        if self._next is not doing:
            self._next = doing
            self._next_tick = self._tick + round(self._chance.uniform(*within_s) / TICK_S)

    def _goal(self, count: int) -> float:
        """The speed wanted now, turns/s."""
        doing = self.doing
        if doing is Doing.WINDS:
            if self._tick % WANDERS_EVERY == 0:
                keeps = math.exp(-WANDERS_EVERY * TICK_S / WANDERS_S)
                fresh = WANDERS_SHARE * math.sqrt(1 - keeps * keeps)
                self._wander = keeps * self._wander + self._chance.gauss(0.0, fresh)
            return self._cruise * (1 + self._wander)
        if doing is Doing.EASES:
            return self._ease
        if doing is Doing.TURNS_BACK:
            near = count - self._target <= 2 * self._per_turn
            return -(BACK_LAST_RPM if near else BACK_RPM) / 60
        return 0.0
