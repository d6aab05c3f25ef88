"""How fast the RP2040 counts with everything on: the speed loop at work, the guide led to and fro as fast as it follows,
telemetry, 20 commands and 5 signs of life a second, and all inputs looked at. The edges come from a spindle under the chip's own control; the
binary is the shipped one, the settings those that it would refuse this with.
"""

from __future__ import annotations

from dataclasses import dataclass

from firmware_protocol.messages import EndAction, PlanLeg, State, Trip
from firmware_protocol.vocabulary import Wired
from winder.simulator.spindle import Spindle

from .board import FOUR_EDGES, STEP_UM, bench, settings_of
from .guided import GuidedHost
from .rp2040_board import USB, Rp2040Board
from .traffic import BusyHost

WHEEL_COUNTS = 2400  # the most that the simulated machines have
GEAR = 20  # turns of the wheel for one of the spindle, so that the simulated motor reaches the rate
ACCEL_MCPS2 = 2_000_000_000
UNLIMITED = {"rate_max_mcps": 2_000_000_000, "inputs": int(sum(Wired))}
MOST = 2**31 - 1  # of a setting


@dataclass(frozen=True, slots=True)
class Run:
    """One run at one speed. Counts; bytes."""

    rate_cps: int
    reached_cps: float
    injected: int
    counted: int
    tripped: Trip
    overruns: int
    resent: int
    steps: int
    board: Rp2040Board

    @property
    def lossless(self) -> bool:
        return self.injected == self.counted and self.tripped == Trip.NONE


def _leg(rate_cps: int, counts: int, steps_per_s: int) -> PlanLeg:
    """One leg whose strokes of 3 mm take the guide as many steps a second as it follows."""
    guide_um_s = steps_per_s * STEP_UM * 0.9
    return PlanLeg(
        token=0,
        generation=1,
        index=0,
        end_action=EndAction.COMPLETE,
        spindle=1,
        end_count=counts,
        rate_mcps=rate_cps * 1000,
        accel_mcps2=ACCEL_MCPS2,
        creep_mcps=WHEEL_COUNTS * 1000,
        coast_counts=0,
        pitch_nm=int(guide_um_s * 1000 * WHEEL_COUNTS / rate_cps),
        pitch_counts=WHEEL_COUNTS,
        left_um=0,
        right_um=3000,
        dwell_counts=0,
        scatter_seed=0,
    )


def _geared(over: str, settings: dict[str, int]) -> Rp2040Board:
    machine = bench(WHEEL_COUNTS, FOUR_EDGES)
    usual, spindle = settings_of(machine), Spindle(machine.build)
    geared = {
        name: min(GEAR * getattr(usual, name), MOST)
        for name in ("full_rate_mcps", "full_accel_mcps2")
    }
    board = Rp2040Board(machine, over, **{**UNLIMITED, **geared, **settings})
    numbers = (spindle.stall, spindle.limit, spindle.no_load, spindle.coulomb)
    scaled = (GEAR * number for number in numbers)
    board.chip.call(
        "machine", "build", FOUR_EDGES, *scaled, spindle.viscous, GEAR * spindle.brake_full
    )
    return board


def run_at(rate_cps: int, steady_s: float = 0.4, over: str = USB, **settings: int) -> Run:
    """Drive up to the rate, hold it, stop; compare what was counted with what passed the sensor."""
    board = _geared(over, settings)
    host = GuidedHost(board, commands_per_s=20)
    accel_s = rate_cps * 1000 / ACCEL_MCPS2
    counts = round(rate_cps * (steady_s + accel_s))
    host.load(_leg(rate_cps, counts, board.settings.steps_a_ms * 1000))
    board.chip.take_steps()
    board.chip.call("clear")
    host.start()
    BusyHost.live(host, steady_s + accel_s)
    for _ in range(60):
        BusyHost.live(host, 0.1)
        if host.status.state in (State.COMPLETE, State.TRIPPED) and not board.turning:
            break
    BusyHost.live(host, 0.2)
    return Run(
        rate_cps,
        board.chip.take_peak_cps(),
        board.chip.edges,
        host.status.count,
        Trip(host.status.trip),
        board.chip.overruns,
        host.end.resent,
        len(board.chip.take_steps()),
        board,
    )
