"""Bodies of a few lines for a real device end: a perfect sensor, a spindle that runs at its leg's speed at once."""

from __future__ import annotations

import copy
from collections import deque

from firmware_protocol.body import Drive, Facts, KeptRecord, Order
from firmware_protocol.messages import PlanLeg, Side

SLOWING_MS = 200
QUIET_MS = 40
HAND_SEEN_MS = 100


class SmallBody:
    """A spindle that runs at the leg's speed at once and needs 200 ms to stop; the sensor is perfect."""

    def __init__(self, direction_sense: bool = True) -> None:
        self.seen = Facts()
        self.true_count = 0  # of this bobbin, whoever counted
        self.true_at_open = 0  # when the newest wind was opened
        self.marks: list[tuple[Side, int]] = []
        self.starts = 0  # orders that set a spindle at rest in motion
        self.direction_sense = direction_sense
        self.coasting = 0.2  # counts a millisecond, coming to rest
        self._record = KeptRecord()
        self._drive = Drive(Order.OFF)
        self._part = 0.0
        self._rest_ms = 0
        self._now_ms = 0
        self._by_hand: deque[tuple[int, int]] = deque()  # when, counts

    # --- what a device end asks for

    def obey(self, drive: Drive) -> None:
        before, self._drive = self._drive.order, drive
        self.seen.arrived = False
        if drive.order is Order.WIND:
            self.starts += self.seen.at_rest
            self.seen.at_rest = False
        elif not self.seen.at_rest and drive.order is not before:
            self._rest_ms = SLOWING_MS + QUIET_MS

    def facts(self) -> Facts:
        return copy.copy(self.seen)

    def zero_count(self) -> None:
        self.seen.count = self.seen.unattributed = 0
        self.true_at_open = self.true_count

    def mark_traverse(self, side: Side, at_um: int) -> None:
        self.marks.append((side, at_um))

    def step_traverse(self, distance_um: int) -> None:
        raise AssertionError("no wind steps the guide")

    def keep(self, record: KeptRecord) -> None:
        self._record = record

    def kept(self) -> KeptRecord:
        return self._record

    def keep_motion(self, moving: bool) -> None:
        """No memory for it: the board comes back still."""

    def kept_motion(self) -> bool:
        return False

    # --- what time and hands do

    def forget(self) -> None:
        """Memory is lost; the spindle goes on coasting and the guide is nowhere."""
        if not self.seen.at_rest and self._drive.order is Order.WIND and not self.seen.arrived:
            self._rest_ms = SLOWING_MS + QUIET_MS
        self.seen = Facts(at_rest=self.seen.at_rest)
        self._drive = Drive(Order.OFF)

    def turn_by_hand(self, counts: int) -> None:
        self.true_count += counts
        self._by_hand.append((self._now_ms, counts))
        if self.direction_sense:
            self.seen.count += counts
        else:
            self.seen.unattributed += abs(counts)

    def advance(self, span_ms: int, counted: bool = True) -> None:
        self._now_ms += span_ms
        if self.seen.at_rest:
            self.seen.rate_mcps = self._hand_mcps()
            return
        for _ in range(span_ms):
            self._advance_1_ms(counted)

    def _hand_mcps(self) -> int:
        """What a sensor shows of a hand: the edges of the last tenth of a second."""
        while self._by_hand and self._now_ms - self._by_hand[0][0] > HAND_SEEN_MS:
            self._by_hand.popleft()
        counts = sum(counts for _, counts in self._by_hand)
        return round((counts if self.direction_sense else abs(counts)) * 1_000_000 / HAND_SEEN_MS)

    def _advance_1_ms(self, counted: bool) -> None:
        if self.seen.at_rest:
            self.seen.rate_mcps = 0
            return
        legs = self._drive.legs
        if self.seen.arrived or self._drive.order is not Order.WIND:
            self._rest_ms -= 1
            if self._rest_ms > QUIET_MS:
                self._turn(self.coasting, counted)
            elif self._rest_ms <= 0:
                self.seen.at_rest = True
            else:
                self.seen.rate_mcps = 0
            return
        index = leg_of(legs, self.seen.count)
        self.seen.leg = index
        end = next(one.end_count for one in legs[index:] if one.end_action)
        speed = legs[index].rate_mcps * self._drive.pace_permille / 1_000_000_000
        self._turn(min(speed, end - self.seen.count - self._part), counted)
        if self.seen.count >= end:
            self.seen.arrived = True
            self._rest_ms = QUIET_MS
            self._part = 0.0

    def _turn(self, counts: float, counted: bool) -> None:
        self._part += counts
        whole = int(self._part + 1e-9)
        self._part -= whole
        self.true_count += whole
        self.seen.rate_mcps = round(counts * 1_000_000)
        if counted:
            self.seen.count += whole


class TurningBackBody(SmallBody):
    """Obeys a move too: at its rate, to its end, then at rest."""

    def obey(self, drive) -> None:
        super().obey(drive)
        if drive.order is Order.MOVE:
            self._goal = self.seen.count + drive.move.counts
            self._span_ms = round(1_000_000 / drive.move.rate_mcps)  # from count to count
            self._left_ms = self._span_ms
            self.seen.at_rest = False

    def _advance_1_ms(self, counted: bool) -> None:
        if self._drive.order is not Order.MOVE or self.seen.arrived:
            super()._advance_1_ms(counted)
            return
        self._left_ms -= 1
        if self._left_ms:
            return
        self._left_ms = self._span_ms
        self.true_count -= 1
        self.seen.count -= counted
        self.seen.rate_mcps = -round(1_000_000 / self._span_ms)
        if self.seen.count <= self._goal:
            self.seen.arrived = True
            self._part, self._rest_ms = 0.0, 40


def leg_of(legs: tuple[PlanLeg, ...], count: int) -> int:
    for index, one in enumerate(legs):
        if count < one.end_count:
            return index
    return len(legs) - 1
