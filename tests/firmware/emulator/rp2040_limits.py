"""How fast the RP2040 counts with everything on: what ``limits`` puts to the other chip, and all seven inputs looked at."""

from __future__ import annotations

from firmware_protocol.vocabulary import Wired
from winder.simulator.spindle import Spindle

from .board import FOUR_EDGES, ONE_PULSE, bench, settings_of
from .limits import WHEEL_COUNTS, Run, drive
from .rp2040_board import USB, Rp2040Board

GEAR_CPS = 30_000  # turns of the wheel for one of the spindle: for each so many counts a second one
ACCEL_MCPS2 = 100_000_000  # likewise
UNLIMITED = {"rate_max_mcps": 2_000_000_000, "inputs": int(sum(Wired))}
EVERY_EDGE = {"bounce_us": 0, "least_period_us": 0, "filter_us": 0}  # of one channel is true
MOST = 2**31 - 1  # of a setting


def gear_of(rate_cps: int) -> int:
    """So much that the simulated motor reaches the rate; with more it would stand as soon as it is slow."""
    return -(-rate_cps // GEAR_CPS)


def geared(rate_cps: int, over: str, sensor: int, settings: dict[str, int]) -> Rp2040Board:
    gear = gear_of(rate_cps)
    machine = bench(WHEEL_COUNTS, sensor)
    usual, spindle = settings_of(machine), Spindle(machine.build)
    fast = UNLIMITED | {
        name: min(gear * getattr(usual, name), MOST)
        for name in ("full_rate_mcps", "full_accel_mcps2")
    }
    if sensor == ONE_PULSE:
        fast |= EVERY_EDGE
    board = Rp2040Board(machine, over, **{**fast, **settings})
    numbers = (spindle.stall, spindle.limit, spindle.no_load, spindle.coulomb)
    scaled = (gear * number for number in numbers)
    board.chip.call("machine", "build", sensor, *scaled, spindle.viscous, gear * spindle.brake_full)
    return board


def run_at(
    rate_cps: int,
    steady_s: float = 0.4,
    over: str = USB,
    sensor: int = FOUR_EDGES,
    **settings: int,
) -> Run:
    accel_mcps2 = ACCEL_MCPS2 * gear_of(rate_cps)
    return drive(geared(rate_cps, over, sensor, settings), rate_cps, accel_mcps2, steady_s)
