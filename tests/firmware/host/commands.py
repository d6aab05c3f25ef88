"""Commands that a host might send, good and bad, with values from the edges of their ranges."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import (
    COUNT_MAX,
    ClearTrip,
    CloseWind,
    Move,
    Pace,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    SetTarget,
    Start,
    TraverseMark,
    TraverseStep,
    Trip,
)
from firmware_protocol.pedal import ArmPedal
from firmware_protocol.wire import LAYOUT_OF, REGISTER, Sender

if TYPE_CHECKING:
    from .dialogue import Dialogue

COMMANDS = tuple(
    layout.cls for layout in REGISTER.values() if layout.sender is Sender.HOST and layout.numbered
)
EDGES_OF_I32 = (0, 1, -1, COUNT_MAX, COUNT_MAX + 1, -COUNT_MAX, 2**31 - 1, -(2**31))
EDGES_OF_U32 = (0, 1, COUNT_MAX, COUNT_MAX + 1, 2**31, 2**32 - 1)


def any_command(host: Dialogue) -> Any:
    """A command with values from the edges of their ranges."""
    cls = host.chance.choice(COMMANDS)
    values = {
        f.name: host.chance.choice((f.kind.low, f.kind.high, 1, 0)) for f in LAYOUT_OF[cls].fields
    }
    values |= {k: v for k, v in host.beliefs().items() if k in values}
    return cls(**values)


def likely_command(host: Dialogue) -> Any:
    chance, beliefs = host.chance, host.beliefs()
    if chance.random() < 0.15:
        name = chance.choice(("token", "boot", "wind", "revision"))
        beliefs[name] ^= 1
    i32, u32 = chance.choice(EDGES_OF_I32), chance.choice(EDGES_OF_U32)
    generation = chance.choice((0, host.generation, host.device.board.generation))
    count = chance.choice((1, 150, i32))
    return chance.choice(
        (
            SetTarget(**beliefs, count=count, warn_before=chance.choice((0, 150, u32))),
            CloseWind(**beliefs),
            ClearTrip(**beliefs, trip=chance.choice((*Trip, 99))),
            Start(**beliefs, generation=generation),
            ArmPedal(**beliefs, generation=generation),
            Move(
                **beliefs,
                counts=chance.choice((-40, 40, i32)),
                rate_mcps=chance.choice((3000, u32)),
                accel_mcps2=chance.choice((1, u32)),
            ),
            Pace(**beliefs, permille=chance.choice((99, 100, 500, 1000, 1001, 65535))),
            TraverseStep(**beliefs, distance_um=chance.choice((-100000, 100000, 100001, 7, i32))),
            TraverseHome(
                **beliefs,
                at_um=chance.choice((-12500, i32)),
                rate_um_s=chance.choice((20_000, u32)),
                accel_um_s2=chance.choice((50_000, u32)),
            ),
            TraverseMove(
                **beliefs,
                distance_um=chance.choice((30_000, -1_000_000, 1_000_001, i32)),
                rate_um_s=chance.choice((20_000, u32)),
                accel_um_s2=chance.choice((50_000, u32)),
            ),
            TraverseMark(
                **beliefs, side=chance.choice((0, 1, 2, 255)), at_um=chance.choice((0, 8, i32))
            ),
            PlanBegin(**beliefs, generation=generation, legs=chance.choice((0, 1, 3, 8, 9, 255))),
            bad_leg(host),
            PlanCommit(**beliefs, generation=host.generation, checksum=u32),
        )
    )


def bad_leg(host: Dialogue) -> PlanLeg:
    chance = host.chance
    one = host.leg(chance.choice((0, len(host.loading), 7)), last=chance.random() < 0.5)
    layout = LAYOUT_OF[PlanLeg]
    name = chance.choice(layout.fields[1:])
    low, high = name.kind.low, name.kind.high
    value = chance.choice((low, high, 0 if low <= 0 else low, chance.randint(low, high)))
    return dataclasses.replace(one, **{name.name: value})
