"""The body of a board that only counts (``docs/protocol/counting.md``): a sensor, a memory, and a person's drill.

Nothing drives and nothing trips. Every edge of an open wind counts, up, or down where the sensor knows the way;
a second without an edge is a rest, at which wind and count are kept. The spindle turns as the person turns it;
what they go by is what the board shows, once in every status period and whenever something changes.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

from firmware_protocol.body import KeptRecord

from .board import SimulatedBody
from .build import Build
from .control import TICK_S, Control
from .drill import Drill
from .faults import Fault
from .spindle import way_to_edge

QUIET_S = 1.0  # without an edge: a rest


class Counter(Control):
    """Counts, and sees a speed; takes no orders."""

    counting = False  # a wind is open

    def see_undriven(self, edges: int) -> None:
        if self.counting:
            self.count += edges if self.direction_sense else abs(edges)

    def wake(self, now_s: float) -> None:
        self.now_s = now_s

    def step(self, edges: int, edge_s: float, now_s: float) -> None:
        self.now_s = now_s
        if edges:
            self.see_undriven(edges)
            # The mean between the newest edges of two ticks; after a rest there is none yet.
            self.rate = 0.0 if self.at_rest else edges / (edge_s - self.edge_s)
            self.edge_s, self.at_rest = edge_s, False
        elif not self.at_rest and now_s - self.edge_s >= QUIET_S:
            self.rate, self.at_rest = 0.0, True

    def rate_mcps(self) -> int:
        return round((self.rate if self.direction_sense else abs(self.rate)) * 1000)


class CountingBody(SimulatedBody):
    """A counter's body, with the person who turns the spindle."""

    def __init__(self, build: Build, seed: int, faults: Iterable[Fault]) -> None:
        self.drill = Drill(build, seed)
        super().__init__(build, seed, faults)

    def _new_control(self) -> Counter:
        self._counter = Counter(self.build)
        return self._counter

    def show(self, wind: int, target: int, warn_before: int) -> None:
        self.drill.see(wind, target, warn_before)
        counter, kept = self._counter, self.kept()
        counter.counting = wind != 0
        if not counter.at_rest:
            if kept.at_rest:
                self.keep(dataclasses.replace(kept, at_rest=False))
        elif wind and not (kept.at_rest and kept.wind == wind):
            self.keep(KeptRecord(wind, counter.count, valid=True, at_rest=True))

    def _turn_a_tick(self) -> tuple[int, float]:
        fraction = self.spindle.fraction
        counts, edges = self._turn_by_drill()
        if not edges:
            return 0, 0.0
        seen = 0 if self.tick < self.dark_until else min(abs(edges), self.edges_most)
        self.edges_lost += abs(edges) - seen
        if not seen:
            return 0, 0.0
        way = way_to_edge(fraction, abs(edges), 1 if edges > 0 else -1)
        edge_s = (self.tick + way / abs(counts)) * TICK_S
        return (seen if edges > 0 else -seen), edge_s

    def _turn_by_drill(self) -> tuple[float, int]:
        """One tick of the person's: how far in counts, and the edges passed."""
        counts = self.drill.turn(self.control.count) * self.build.counts_per_turn
        self.spindle.speed = counts / TICK_S
        return counts, self.spindle.turn(counts)

    def pass_ordinary(self, ticks: int) -> int:
        counter, spindle = self._counter, self.spindle
        if not counter.at_rest or spindle.speed or spindle.fraction >= 1.0:
            return 0
        ticks = min(ticks, self.quiet_ticks())
        if ticks > 0:
            ticks = self.drill.stand(counter.count, ticks)
        if ticks <= 0:
            return 0
        self.tick += ticks
        counter.now_s = self.tick * TICK_S
        return ticks

    def step_dead(self) -> None:
        """The board is being reset: it shows nothing, so the person lets go."""
        self.drill.see(0, 0, 0)
        self.edges_lost += abs(self._turn_by_drill()[1])
        self.tick += 1
        self._let_happen()
