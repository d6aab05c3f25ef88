"""Where the guide stands: a pure function of the count, stroke by stroke.

A leg moves the guide by ``pitch`` for every turn, from one turning point to the other and back, with a
wait of ``dwell`` counts at each. A new leg begins where the guide stands and in the direction it had; a
guide outside the new turning points walks in at the same pitch. Scattered lay draws a pitch of its own
for every stroke from the leg's seed. Because the function looks at nothing but the count, unwinding
leads the guide back along its own path.
"""

from __future__ import annotations

import bisect
import random
from dataclasses import dataclass

from firmware_protocol.messages import PlanLeg

SCATTER_LEAST, SCATTER_MOST = 0.6, 1.6  # a scattered stroke's pitch, as a share of the leg's


@dataclass(slots=True)
class Stroke:
    """From one place to another between two counts; a wait has the same place twice. Micrometres."""

    start_count: float
    length_counts: float
    start_um: float
    end_um: float
    rightward: bool

    def place_um(self, count: float) -> float:
        if self.length_counts <= 0.0:
            return self.end_um
        share = min(max((count - self.start_count) / self.length_counts, 0.0), 1.0)
        return self.start_um + share * (self.end_um - self.start_um)


class LegPath:
    """The guide's way in one leg, from a count, a place and a direction on. Grows as it is asked."""

    def __init__(self, leg: PlanLeg, count: float, place_um: float, rightward: bool) -> None:
        self._leg = leg
        self._scatter = random.Random(leg.scatter_seed) if leg.scatter_seed else None
        self._strokes: list[Stroke] = []
        self._starts: list[float] = []
        width_um = leg.right_um - leg.left_um
        # A stroke shorter than a count is nothing that a guide can follow.
        if leg.pitch_nm == 0 or width_um * 1000 * leg.pitch_counts < leg.pitch_nm:
            self._add(Stroke(count, float("inf"), place_um, place_um, rightward))
        else:
            if not leg.left_um <= place_um <= leg.right_um:
                rightward = place_um < leg.left_um
            self._walk(count, place_um, rightward)

    def _add(self, stroke: Stroke) -> None:
        self._strokes.append(stroke)
        self._starts.append(stroke.start_count)

    def _walk(self, count: float, place_um: float, rightward: bool) -> None:
        leg = self._leg
        pitch_um = leg.pitch_nm / 1000
        if self._scatter is not None:
            pitch_um *= self._scatter.uniform(SCATTER_LEAST, SCATTER_MOST)
        end_um = float(leg.right_um if rightward else leg.left_um)
        length = abs(end_um - place_um) / pitch_um * leg.pitch_counts
        self._add(Stroke(count, length, place_um, end_um, rightward))

    def _grow(self) -> None:
        last = self._strokes[-1]
        count = last.start_count + last.length_counts
        waited = last.start_um == last.end_um and len(self._strokes) > 1
        if self._leg.dwell_counts and not waited:
            wait = float(self._leg.dwell_counts)
            self._add(Stroke(count, wait, last.end_um, last.end_um, last.rightward))
        else:
            self._walk(count, last.end_um, not last.rightward)

    def at(self, count: float) -> tuple[float, bool]:
        """Place in um and whether the guide moves rightward."""
        last = self._strokes[-1]
        while count >= last.start_count + last.length_counts:
            self._grow()
            last = self._strokes[-1]
        stroke = self._strokes[max(bisect.bisect_right(self._starts, count) - 1, 0)]
        return stroke.place_um(count), stroke.rightward


class Guide:
    """The traverse: where it stands, what is marked, and the paths of the plan in force."""

    def __init__(self, travel_m: float | None) -> None:
        self.travel_um = None if travel_m is None else travel_m * 1e6
        self.place_um = 0.0
        self.rightward = True
        self.legs: tuple[PlanLeg, ...] = ()
        self._paths: list[tuple[float, LegPath]] = []

    @property
    def _drives(self) -> bool:
        return self.travel_um is not None and bool(self._paths)

    def follow(self, legs: tuple[PlanLeg, ...], count: int) -> None:
        """Begin or go on with a plan at this count; the same plan goes on along the same path."""
        if self._paths and legs == self.legs and self.place(count)[0] == self.place_um:
            return
        self.legs, self._paths = legs, []
        begin: float = count
        place_um, rightward = self.place_um, self.rightward
        for leg in legs:
            if leg.end_count <= begin and leg is not legs[-1]:
                continue
            path = LegPath(leg, begin, place_um, rightward)
            self._paths.append((begin, path))
            begin = leg.end_count
            if leg is not legs[-1]:
                place_um, rightward = path.at(begin)

    def place(self, count: float) -> tuple[float, bool]:
        """The guide's place for a count, in um; it stands still without a plan or a traverse."""
        if not self._drives:
            return self.place_um, self.rightward
        path = self._paths[0][1]
        for begin, later in self._paths:
            if count < begin:
                break
            path = later
        return path.at(count)

    def go(self, count: float) -> None:
        self.place_um, self.rightward = self.place(count)

    def let_go(self, count: float) -> None:
        """Stand where the plan has led; the plan's path is forgotten."""
        self.go(count)
        self._paths = []
