"""The coil's truth while a wind is under way: an anchor, and what the board counted since.

The anchor is a truth about the coil at one count of the wind; everything counted since only shifts it.
Doubts and settlements replace the anchor, edges that nothing drove widen it. ``offset`` is the best
guess of the coil's count at the wind's zero, by which the legs are loaded.
"""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import Status, Welcome
from winder.machine.model import MachineProfile
from winder.plan.model import Plan

from .model import CountTruth
from .truth import (
    TOUCH_TURNS,
    TURNED_MEANWHILE,
    between,
    exact,
    is_sharp,
    kept_count,
    moved,
    rocked,
    vouched,
    widened,
)


class Tally:
    """Counts of the coil. ``earlier`` is the truth of the winds before, ``last_kept`` the wind number
    and the count at which it was last on record."""

    def __init__(
        self,
        plan: Plan,
        machine: MachineProfile,
        earlier: CountTruth | None,
        last_kept: tuple[int, int] | None,
    ) -> None:
        self.anchor = earlier if earlier is not None else exact(0)
        self.anchor_count = 0
        self.anchor_rocks = 0
        self.direction_sense = machine.direction_sense
        self.offset = plan.first_turn * plan.counts_per_turn
        if is_sharp(self.anchor):
            self.offset = self.anchor.low
        self._last_kept = last_kept
        self._touch = TOUCH_TURNS * plan.counts_per_turn
        self._unmoved_would_settle = False
        self._known: tuple[int, int, CountTruth] | None = None
        self._wire_doubt: CountTruth | None = None  # the anchor, if the wire's was the last doubt
        self._before_wire_doubt: tuple[CountTruth, int, int] | None = None

    def truth(self, count: int, rocks: int) -> CountTruth:
        """At this count of the wind, with ``rocks`` edges that nothing drove."""
        known = self._known
        if known is not None and known[0] == count and known[1] == rocks:
            return known[2]
        truth = moved(self.anchor, count - self.anchor_count)
        if not self.direction_sense and rocks != self.anchor_rocks:
            truth = rocked(truth, abs(rocks - self.anchor_rocks))
        self._known = (count, rocks, truth)
        return truth

    def meet(self, welcome: Welcome, status: Status) -> str:
        """Judge the turns of earlier winds by what the board still knows; words if they are in doubt."""
        if self._last_kept is None:
            return ""
        wind, count = self._last_kept
        earlier = self.anchor
        sure = earlier.low if is_sharp(earlier) else earlier.last_sure
        if sure is None:
            return earlier.why
        if status.wind == wind and status.count >= count:
            total = sure + status.count - count
            self._anchor_at(_as_sure(total, earlier))
            if not self.direction_sense:
                self._anchor_at(rocked(self.anchor, status.unattributed))
            self.offset = total
            return "" if is_sharp(self.anchor) else self.anchor.why
        kept = kept_count(welcome, wind, count)
        if kept is None:
            if is_sharp(earlier):
                self._anchor_at(widened(earlier, self._touch, self._touch, TURNED_MEANWHILE))
            self.anchor = replace(self.anchor, last_sure=None)
            return self.anchor.why
        total = sure + kept - count
        self._anchor_at(between(total - self._touch, total + self._touch, TURNED_MEANWHILE, total))
        self.offset = total
        self._unmoved_would_settle = True
        return TURNED_MEANWHILE

    def doubt(
        self,
        count: int,
        rocks: int,
        *,
        down: int,
        up: int,
        why: str,
        broke: bool = False,
        unmoved: bool = False,
        of_wire: bool = False,
    ) -> None:
        """True counts may be ``down`` fewer or ``up`` more.

        ``of_wire``: because the wire may have been broken; ``wire_was_whole`` takes it back.
        ``broke``: the wind is over, and the board may still say more. ``unmoved``: a person who saw that
        the spindle did not turn can settle it.
        """
        now = self.truth(count, rocks)
        sure = now.low if is_sharp(now) and (broke or unmoved) else None
        doubted = replace(widened(now, down, up, why), by=now.by, last_sure=sure)
        if of_wire and self.anchor is not self._wire_doubt:
            self._before_wire_doubt = (self.anchor, self.anchor_count, self.anchor_rocks)
        self._anchor_at(doubted, count, rocks)
        if of_wire:
            self._wire_doubt = self.anchor
        self._unmoved_would_settle = unmoved and sure is not None

    def wire_was_whole(self) -> None:
        """A person looked and found the wire whole: what was doubted for it, and nothing else, is sure again."""
        if self._before_wire_doubt is not None and self.anchor is self._wire_doubt:
            self._anchor_at(*self._before_wire_doubt)
        self._before_wire_doubt = None

    def settle(self, coil_counts: int, by: str, why: str, count: int, rocks: int) -> None:
        """A person vouches for the coil's count."""
        self._anchor_at(vouched(coil_counts, by, why), count, rocks)
        self._unmoved_would_settle = False
        self.offset = coil_counts - count

    def take_off(self, counts: int, by: str, count: int, rocks: int) -> None:
        """So many came off and the board did not count them; edges at rest came of that."""
        now = moved(self.anchor, count - self.anchor_count - counts)
        why = "turns were taken off by hand"
        if is_sharp(now):
            self.settle(max(0, now.low), by, why, count, rocks)
            return
        self._anchor_at(replace(now, low=max(0, now.low)), count, rocks)
        self._unmoved_would_settle = False
        self.offset -= counts

    def can_vouch_unmoved(self, rocks: int) -> bool:
        """Whether it would help to know that the spindle was not turned."""
        return self._unmoved_would_settle or (
            not self.direction_sense and rocks != self.anchor_rocks
        )

    def vouch_unmoved(self, by: str, count: int, rocks: int) -> None:
        """A person saw that the spindle was not turned while nobody counted."""
        why = "the spindle was not turned meanwhile"
        now = moved(self.anchor, count - self.anchor_count)
        if self._unmoved_would_settle and now.last_sure is not None:
            self.settle(now.last_sure, by, why, count, rocks)
        elif is_sharp(now):
            self.settle(now.low, by, why, count, rocks)
        else:
            self._anchor_at(now, count, rocks)

    def _anchor_at(self, truth: CountTruth, count: int = 0, rocks: int = 0) -> None:
        self.anchor = truth
        self.anchor_count = count
        self.anchor_rocks = rocks
        self._known = None


def _as_sure(total: int, earlier: CountTruth) -> CountTruth:
    """The board went on counting: as sure as the count was before, exact or vouched for."""
    if earlier.by:
        return vouched(total, earlier.by, earlier.why)
    return exact(total)
