"""Where a hand should guide the wire, turn by turn: the lane of a winding that no guide lays.

The hand does what the guide would do: it moves ``LAY_PITCH`` overall diameters a turn from one turning
point to the other and back. The turning points are inset by half a diameter, so that the wire touches the
margin, and at each the hand waits D = overall / pitch turns, or the edge stays half full (geometry, see
``traverse``). A layer is thus W / p + D = T turns long, which is the coil's turns per layer, and the lane's
layers are the coil's. The wait is shared by the two layers that meet there: a layer begins in its middle.

Where the flanges taper every layer has the width at its own height, and the turns that go with it.

The place depends on the count alone. So it cannot drift, and when turns are taken off it runs back the way
it came.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterator

from firmware_protocol.records import dataclass
from winder.coil.model import Coil
from winder.coil.winding import LAY_PITCH
from winder.coil.window import widest_m


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: where it begins, how many turns it takes, and its turning points as shares."""

    begin_turns: float
    turns: float
    left_share: float
    right_share: float


@dataclass(frozen=True, slots=True)
class HandLane:
    """The lane's figures. Shares of the width between the flanges: 0 left, 1 right."""

    left_share: float
    right_share: float
    turns_per_layer: float
    wait_turns: float  # at each turning point
    from_right: bool = False  # the first layer begins at the right flange
    layers: tuple[
        Layer, ...
    ] = ()  # each by itself, where the flanges taper; the last goes on for ever

    def at(self, turns: float, *, back: bool = False) -> tuple[float, bool, float, int]:
        """Place as a share, whether it moves to the right, turns until it turns round, layer from 1.

        ``back``: turns are being taken off, so the hand goes the other way. Turns below zero count as none.
        """
        turns = max(0.0, turns)
        whole, layer = self._layer_at(turns)
        into = min(max(turns - layer.begin_turns, 0.0), layer.turns)
        stroke = layer.turns - self.wait_turns
        way = min(1.0, max(0.0, (into - self.wait_turns / 2) / stroke))
        rightward = (whole % 2 == 0) is not self.from_right
        if not rightward:
            way = 1.0 - way
        share = layer.left_share + way * (layer.right_share - layer.left_share)
        to_edge = into if back else layer.turns - into
        return share, rightward is not back, to_edge, whole + 1

    def edges_at(self, turns: float) -> tuple[float, float]:
        """The turning points of the layer that lies at this many turns."""
        layer = self._layer_at(max(0.0, turns))[1]
        return layer.left_share, layer.right_share

    def _layer_at(self, turns: float) -> tuple[int, Layer]:
        """Number from 0 and figures of the layer under way."""
        if self.layers:
            number = bisect.bisect_right(self.layers, turns, key=lambda one: one.begin_turns) - 1
            return number, self.layers[number]
        number = math.floor(turns / self.turns_per_layer)
        begin = number * self.turns_per_layer
        return number, Layer(begin, self.turns_per_layer, self.left_share, self.right_share)


def hand_lane(coil: Coil, *, from_right: bool = False) -> HandLane | None:
    """The lane of a coil; None where the winding is too narrow to lead the wire to and fro."""
    overall_m, width_m = coil.wire.overall_m, coil.recipe.width_m
    pitch_m = LAY_PITCH * overall_m
    inset_m = coil.recipe.margin_m + overall_m / 2
    if width_m - 2 * inset_m < pitch_m:
        return None
    widest = widest_m(coil.recipe)
    left_share = ((widest - width_m) / 2 + inset_m) / widest
    return HandLane(
        left_share=left_share,
        right_share=1.0 - left_share,
        turns_per_layer=coil.turns_per_layer,
        wait_turns=overall_m / pitch_m,
        from_right=from_right,
        layers=tuple(_tapering_layers(coil, pitch_m)) if coil.window is not None else (),
    )


def _tapering_layers(coil: Coil, pitch_m: float) -> Iterator[Layer]:
    """Layer on layer, each a section a / p high, until the coil is done; narrower than a turn it stops."""
    assert coil.window is not None
    widest, overall_m = widest_m(coil.recipe), coil.wire.overall_m
    rise_m = coil.area_per_turn_m2.nominal / pitch_m
    begin, height_m = 0.0, rise_m / 2
    while True:
        between_m = coil.window.width_m(height_m)  # the margins
        turns = max(between_m / pitch_m, 2.0)
        left = (widest - between_m + overall_m) / 2 / widest
        yield Layer(begin, turns, left, 1.0 - left)
        if begin > coil.turns or height_m > coil.recipe.height_m:
            return
        begin, height_m = begin + turns, height_m + rise_m
