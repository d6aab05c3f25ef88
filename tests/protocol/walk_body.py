"""The body behind the walks' boards."""

from __future__ import annotations

from firmware_protocol.body import Drive, Facts, KeptRecord, Order
from firmware_protocol.device_plan import leg_at, stop_leg_from
from firmware_protocol.messages import Trip

DRIVING = (Order.WIND, Order.MOVE)


class WalkBody:
    """Arrives and rests when told by the walk, never by itself."""

    def __init__(self, count: int = 0, record: KeptRecord | None = None) -> None:
        self.order = Order.OFF
        self.end = 0
        self.count = count
        self.at_rest = True
        self.arrived = False
        self.cause = Trip.NONE
        self.record = record or KeptRecord()
        self.starts = 0
        self.cuts = 0
        self.pedal_pressed = False  # the contact, as it is
        self.pedal_settled = False  # as it was a step of time ago, and ever since

    def obey(self, drive: Drive) -> None:
        self.order = drive.order
        self.arrived = False
        if drive.order in DRIVING:
            self.starts += 1
            self.at_rest = False
            self.end = self.count
            if drive.order is Order.WIND:
                index = stop_leg_from(drive.legs, leg_at(drive.legs, self.count))
                self.end = drive.legs[index].end_count
        elif drive.order is Order.CUT:
            self.cuts += 1

    def facts(self) -> Facts:
        return Facts(
            count=self.count,
            at_rest=self.at_rest,
            arrived=self.arrived,
            pedal_pressed=self.pedal_pressed,
            trip=self.cause,
        )

    def zero_count(self) -> None:
        self.count = 0

    def keep(self, record: KeptRecord) -> None:
        self.record = record

    def kept(self) -> KeptRecord:
        return self.record

    # No memory for it: the walk is about what the link does.
    keep_motion, kept_motion = (lambda self, moving: None), (lambda self: False)
