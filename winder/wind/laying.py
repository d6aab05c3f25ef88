"""Where the wire lies and where a hand should lead it, for the view alone: nothing is decided by it.

Every status is only laid by, and the profile is fed with what was laid by when somebody looks: a wind that
nobody watches pays next to nothing for it. Turns that came while their place was not known (earlier winds, a count that was settled, turns
that came off) are taken as even over the winding.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Protocol

from .model import LanePlace

if TYPE_CHECKING:
    from winder.plan.lane import HandLane


KEPT = 400  # statuses: some 20 s; whoever looks more rarely sees what came before as level


class LayProfile(Protocol):
    """Heights over the winding, fed by reports; ``winder.coil.lay`` has one."""

    turns: float

    def report(self, turns: float, place_m: float | None) -> None: ...

    def shares(self, height_m: float) -> list[float]: ...


class Laying:
    """The picture of the wire on the bobbin. ``span``: where the winding is, shares of the bobbin's width."""

    def __init__(
        self,
        profile: LayProfile,
        flange_m: float,
        span: tuple[float, float],
        lane: HandLane | None,
        counts_per_turn: int,
    ) -> None:
        self.span = span
        self._profile = profile
        self._flange_m = flange_m
        self._lane = lane
        self._before: float | None = None  # turns before this wind, by which the profile was fed
        self._lay: tuple[float, ...] = ()
        self._counts_per_turn = counts_per_turn
        self._seen: deque[tuple[int, int]] = deque(maxlen=KEPT)  # counts of this wind, guide in um

    def see(self, count: int, guide_um: int) -> None:
        """A status that is believed."""
        self._seen.append((count, guide_um))

    def lay(self, turns: float, before: float, place_m: float | None) -> tuple[float, ...]:
        """Heights as shares of the flange, with so many turns on the coil, ``before`` of them from before
        this wind, and the guide at ``place_m`` (None: a hand guides)."""
        profile, shown = self._profile, self._profile.turns
        if before != self._before:
            self._before = before
            profile.report(turns, None)
            shown = -1.0
        elif place_m is not None:
            self._feed_seen(before)
        self._seen.clear()
        self._feed(turns, place_m)
        if profile.turns != shown:
            self._lay = tuple(profile.shares(self._flange_m))
        return self._lay

    def _feed_seen(self, before: float) -> None:
        """All that was laid by, in order; after a gap nobody knows where the guide went."""
        if len(self._seen) == KEPT:
            self._profile.report(before + self._seen[0][0] / self._counts_per_turn, None)
        for count, guide_um in self._seen:
            self._feed(before + count / self._counts_per_turn, guide_um * 1e-6)

    def _feed(self, turns: float, place_m: float | None) -> None:
        """A guide may be moved at rest; turns that come off come off level."""
        profile = self._profile
        if turns != profile.turns or place_m is not None:
            profile.report(turns, place_m if turns >= profile.turns else None)

    def lane(self, turns: float, *, back: bool) -> LanePlace | None:
        """Where the hand should be; None where a guide lays the wire."""
        if self._lane is None:
            return None
        share, rightward, turns_to_edge, layer = self._lane.at(turns, back=back)
        left, right = self._lane.edges_at(turns)
        return LanePlace(share, left, right, rightward, turns_to_edge, layer)
