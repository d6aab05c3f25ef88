"""Where the wire lies and where a hand should lead it, for the view alone: nothing is decided by it.

The profile is fed when somebody looks, not with every status: a wind that nobody watches pays nothing for
it. Turns that came while their place was not known (earlier winds, a count that was settled, turns
that came off) are taken as even over the winding.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from .model import LanePlace

if TYPE_CHECKING:
    from winder.plan.lane import HandLane


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
    ) -> None:
        self.span = span
        self._profile = profile
        self._flange_m = flange_m
        self._lane = lane
        self._before: float | None = None  # turns before this wind, by which the profile was fed
        self._lay: tuple[float, ...] = ()

    def lay(self, turns: float, before: float, place_m: float | None) -> tuple[float, ...]:
        """Heights as shares of the flange, with so many turns on the coil, ``before`` of them from before
        this wind, and the guide at ``place_m`` (None: a hand guides)."""
        profile = self._profile
        if before != self._before:
            self._before = before
            profile.report(turns, None)
        elif turns == profile.turns:
            if place_m is not None:
                profile.report(turns, place_m)  # it may be moved at rest
            return self._lay
        profile.report(turns, place_m if turns >= profile.turns else None)
        self._lay = tuple(profile.shares(self._flange_m))
        return self._lay

    def lane(self, turns: float, *, back: bool) -> LanePlace | None:
        """Where the hand should be; None where a guide lays the wire."""
        if self._lane is None:
            return None
        share, rightward, turns_to_edge, layer = self._lane.at(turns, back=back)
        left, right = self._lane.left_share, self._lane.right_share
        return LanePlace(share, left, right, rightward, turns_to_edge, layer)
