"""Where a hand should guide the wire, turn by turn: the lane of a winding that no guide lays.

The hand does what the guide would do: it moves ``LAY_PITCH`` overall diameters a turn from one turning
point to the other and back. The turning points are inset by half a diameter, so that the wire touches the
margin, and at each the hand waits D = overall / pitch turns, or the edge stays half full (geometry, see
``traverse``). A layer is thus W / p + D = T turns long, which is the coil's turns per layer, and the lane's
layers are the coil's. The wait is shared by the two layers that meet there: a layer begins in its middle.

The place depends on the count alone. So it cannot drift, and when turns are taken off it runs back the way
it came.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from winder.coil.model import Coil
from winder.coil.winding import LAY_PITCH


@dataclass(frozen=True, slots=True)
class HandLane:
    """The lane's figures. Shares of the width between the flanges: 0 left, 1 right."""

    left_share: float
    right_share: float
    turns_per_layer: float
    wait_turns: float  # at each turning point
    from_right: bool = False  # the first layer begins at the right flange

    def at(self, turns: float, *, back: bool = False) -> tuple[float, bool, float, int]:
        """Place as a share, whether it moves to the right, turns until it turns round, layer from 1.

        ``back``: turns are being taken off, so the hand goes the other way. Turns below zero count as none.
        """
        turns = max(0.0, turns)
        whole = math.floor(turns / self.turns_per_layer)
        into = min(max(turns - whole * self.turns_per_layer, 0.0), self.turns_per_layer)
        stroke = self.turns_per_layer - self.wait_turns
        way = min(1.0, max(0.0, (into - self.wait_turns / 2) / stroke))
        rightward = (whole % 2 == 0) is not self.from_right
        if not rightward:
            way = 1.0 - way
        share = self.left_share + way * (self.right_share - self.left_share)
        to_edge = into if back else self.turns_per_layer - into
        return share, rightward is not back, to_edge, whole + 1


def hand_lane(coil: Coil, *, from_right: bool = False) -> HandLane | None:
    """The lane of a coil; None where the winding is too narrow to lead the wire to and fro."""
    overall_m, width_m = coil.wire.overall_m, coil.recipe.width_m
    pitch_m = LAY_PITCH * overall_m
    inset_m = coil.recipe.margin_m + overall_m / 2
    if width_m - 2 * inset_m < pitch_m:
        return None
    return HandLane(
        left_share=inset_m / width_m,
        right_share=1.0 - inset_m / width_m,
        turns_per_layer=coil.turns_per_layer,
        wait_turns=overall_m / pitch_m,
        from_right=from_right,
    )
