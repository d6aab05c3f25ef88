"""Things that go wrong on the bench, each at a turn of the true spindle. All optional, all by seed.

A fault knows nothing of count or plan: it happens to the machine's body when the spindle has wound so
many turns since the bobbin was put on. Faults of the link are the link's.
"""

from __future__ import annotations

import random

from firmware_protocol.records import dataclass


@dataclass(frozen=True, slots=True)
class WireBreak:
    """The wire parts; nothing is laid from then on until it is joined again."""

    turn: float


@dataclass(frozen=True, slots=True)
class GuardOpened:
    turn: float
    open_s: float = 2.0


@dataclass(frozen=True, slots=True)
class SensorDropout:
    """The sensor's edges do not reach the board for a while."""

    turn: float
    dark_s: float = 0.5


@dataclass(frozen=True, slots=True)
class Jam:
    """Something holds the spindle with this torque for a while."""

    turn: float
    torque_nm: float = 1.0
    jam_s: float = 10.0


@dataclass(frozen=True, slots=True)
class WatchdogReset:
    """The board's program hangs and its watchdog resets it."""

    turn: float


Fault = WireBreak | GuardOpened | SensorDropout | Jam | WatchdogReset


def draw_faults(seed: int, turns: int, most: int = 2) -> tuple[Fault, ...]:
    """Up to ``most`` faults somewhere in a wind of so many turns, in the order they happen."""
    chance = random.Random(seed)
    faults: list[Fault] = []
    for _ in range(chance.randint(0, most)):
        kind = chance.choice((WireBreak, GuardOpened, SensorDropout, Jam, WatchdogReset))
        faults.append(kind(chance.uniform(0.02, 0.98) * turns))
    return tuple(sorted(faults, key=lambda fault: fault.turn))
