"""Where the wire is, by the record: places that were noted while a guide laid it, and the way on from the last of them.

The guide's place is a function of the count, so a place and a direction noted every few turns are enough to say where the
wire lies at any turn before: also after turns came off, in another wind, or with a board that has forgotten its guide.
"""

from __future__ import annotations

import bisect
from array import array
from collections.abc import Iterable

from firmware_protocol.records import dataclass
from winder.plan.model import Leg

NOTED_TURNS = 2.0  # apart; closer ones say nothing new
WALK_TURNS_MAX = 500.0  # beyond the last note nothing is known
NUDGE_UM = 20  # moves nothing that an eye sees, and gives the guide its direction


@dataclass(frozen=True, slots=True)
class WirePlace:
    """``turns`` of the coil, place from the left flange's mark, and which way the layer goes on."""

    turns: float
    place_um: int
    rightward: bool


class WireWay:
    """The places noted of one coil, turns rising; a coil that was unwound is noted anew from there."""

    def __init__(self, noted: Iterable[WirePlace] = ()) -> None:
        self._turns, self._places_um, self._rightward = array("d"), array("l"), bytearray()
        for place in noted:
            self.note(place)

    def note(self, place: WirePlace) -> None:
        turns = self._turns
        while turns and turns[-1] > place.turns:
            for noted in (turns, self._places_um, self._rightward):
                noted.pop()
        if not turns or place.turns - turns[-1] >= NOTED_TURNS:
            turns.append(place.turns)
            self._places_um.append(place.place_um)
            self._rightward.append(place.rightward)

    def at(self, turns: float, leg: Leg) -> WirePlace | None:
        """Where the wire is with so many turns on the coil; None: not on record."""
        newest = bisect.bisect_right(self._turns, turns) - 1
        if newest < 0 or leg.pitch_m <= 0 or turns - self._turns[newest] > WALK_TURNS_MAX:
            return None
        rightward = bool(self._rightward[newest])
        return _walk(WirePlace(self._turns[newest], self._places_um[newest], rightward), turns, leg)


def _walk(begun: WirePlace, turns: float, leg: Leg) -> WirePlace:
    """On from a place by the leg's pitch, back at its turning points. Waits there are shorter than what an eye sees."""
    left, right, pitch = leg.left_m * 1e6, leg.right_m * 1e6, leg.pitch_m * 1e6
    place, rightward = float(begun.place_um), begun.rightward
    way = (turns - begun.turns) * pitch
    if right - left < pitch:
        return WirePlace(turns, begun.place_um, rightward)
    while way > 0:
        end = right if rightward else left
        room = max(0.0, (end - place) if rightward else (place - end))
        step = min(way, room)
        place += step if rightward else -step
        way -= step
        if way > 0:
            rightward = not rightward
    return WirePlace(turns, round(place), rightward)
