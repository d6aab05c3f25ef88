"""A hand that guides the wire: it goes to and fro like a traverse, and it wanders.

It aims at turning points half a wire inside the margins and advances a little more than a wire a turn,
because nobody sees when it advances less. What it adds is a straying with a memory of ``STRAYS_TURNS``
turns, as a hand drifts and corrects itself rather than jumps, and turning points that it finds only
roughly. All sizes are guesses, for lack of a source. The seed gives the hand; the turn alone says where
it is, whoever looks and however often.
"""

from __future__ import annotations

import math
import random

from .build import Build

PITCH = 1.15  # of the wire, every turn
STRAYS = 0.02  # of the width, standard deviation
STRAYS_TURNS = 15.0  # how long the hand goes on straying to one side
MISSES = 0.03  # of the width, standard deviation: how far from the goal it turns round


class Hand:
    """Where one hand leads the wire, turn by turn; grows as it is asked."""

    def __init__(self, build: Build, seed: int) -> None:
        self._chance = random.Random(f"hand {seed}")
        inset_m = build.margin_m + build.wire_overall_m / 2
        self._left_m = inset_m
        self._right_m = max(inset_m, build.width_m - inset_m)
        self._width_m = build.width_m
        self._advance_m = PITCH * build.wire_overall_m
        self._aim_m = self._left_m
        self._rightward = True
        self._goal_m = self._next_goal_m()
        self._off_m = 0.0
        self._places_m: list[float] = []
        self._build = build
        self._height_m = 0.0  # of a winding that comes out even, by what it has been led

    def place_m(self, turn: int) -> float:
        """From the left flange, at the beginning of this turn (0 is the first)."""
        while len(self._places_m) <= turn:
            self._places_m.append(self._between_faces(self._advance()))
        return self._places_m[turn]

    def _advance(self) -> float:
        place_m = self._aim_m + self._off_m
        keeps = math.exp(-1 / STRAYS_TURNS)
        fresh_m = STRAYS * self._width_m * math.sqrt(1 - keeps * keeps)
        self._off_m = keeps * self._off_m + self._chance.gauss(0.0, fresh_m)
        self._aim_m += self._advance_m if self._rightward else -self._advance_m
        if self._aim_m >= self._goal_m if self._rightward else self._aim_m <= self._goal_m:
            self._aim_m = self._goal_m
            self._rightward = not self._rightward
            self._goal_m = self._next_goal_m()
        return min(max(place_m, 0.0), self._width_m)

    def _between_faces(self, place_m: float) -> float:
        """The hand sees where the flanges are: a place of the bobbin at its core, as it is this high up."""
        build = self._build
        if build.rim_width_m is None:
            return place_m
        face_m = build.left_face_m(self._height_m)
        width_m = build.widest_m - 2 * face_m
        area_m2 = math.pi / 4 * build.wire_overall_m**2 / build.packing
        self._height_m += area_m2 / max(width_m - 2 * build.margin_m, build.wire_overall_m)
        return face_m + place_m / self._width_m * width_m

    def _next_goal_m(self) -> float:
        goal_m = self._right_m if self._rightward else self._left_m
        goal_m += self._chance.gauss(0.0, MISSES * self._width_m)
        middle_m = self._width_m / 2
        return max(goal_m, middle_m) if self._rightward else min(goal_m, middle_m)
