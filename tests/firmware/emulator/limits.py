"""How fast the chip counts at full traffic: where the first count is lost, and what the interrupts take.

Full traffic is: the motor's speed loop at work, the guide led to and fro at the fastest that it follows,
telemetry 20 times a second, 20 commands and 5 signs of life a second. The motor drives a sensor wheel of 2400
counts a turn, so the edges come from a spindle under the chip's own control; the binary is the shipped one, the
settings those that it would refuse this with. How the RP2040's board is put there is ``rp2040_limits``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from firmware_protocol.messages import EndAction, OpenWind, PlanLeg, State, Trip, Verdict

from .board import FOUR_EDGES, ONE_PULSE, STEP_UM, EmulatedBoard, bench, times_of
from .guided import GuidedHost
from .traffic import BusyHost

WHEEL_COUNTS = 2400  # the most that the simulated machines have
ACCEL_MCPS2 = 40_000_000
STEADY_S = 1.0
UNLIMITED = {"rate_max_mcps": 200_000_000}


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
    answered: int
    latency_cycles: int
    steps: int
    board: Any  # of either chip

    @property
    def lossless(self) -> bool:
        return self.injected == self.counted and self.tripped == Trip.NONE


def leg_at_rate(rate_cps: int, accel_mcps2: int, counts: int, steps_per_s: int) -> PlanLeg:
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
        accel_mcps2=accel_mcps2,
        creep_mcps=WHEEL_COUNTS * 1000,
        coast_counts=0,
        pitch_nm=int(guide_um_s * 1000 * WHEEL_COUNTS / rate_cps),
        pitch_counts=WHEEL_COUNTS,
        left_um=0,
        right_um=3000,
        dwell_counts=0,
        scatter_seed=0,
    )


def free_times(sensor: int) -> dict[str, int]:
    """Of one channel at a rate that no motor reaches: every edge is true."""
    return times_of(UNLIMITED["rate_max_mcps"]) if sensor == ONE_PULSE else {}


def run_at(
    rate_cps: int,
    *,
    sensor: int = FOUR_EDGES,
    lose_every: int = 0,
    steady_s: float = STEADY_S,
    **settings: int,
) -> Run:
    board = EmulatedBoard(
        bench(WHEEL_COUNTS, sensor), **{**UNLIMITED, **free_times(sensor), **settings}
    )
    return drive(board, rate_cps, ACCEL_MCPS2, steady_s, lose_every)


def drive(board: Any, rate_cps: int, accel_mcps2: int, steady_s: float, lose_every: int = 0) -> Run:
    """Drive up to the rate, hold it, stop; compare what was counted with what passed the sensor."""
    host = GuidedHost(board, commands_per_s=20)
    accel_s = rate_cps * 1000 / accel_mcps2
    counts = round(rate_cps * (steady_s + accel_s))
    host.load(leg_at_rate(rate_cps, accel_mcps2, counts, board.settings.steps_a_ms * 1000))
    board.chip.take_steps()
    host.start()
    host.lose_every(lose_every)
    BusyHost.live(host, steady_s + 2 * accel_s + 0.3)
    host.lose_every(0)
    for _ in range(60):
        if host.status.state in (State.COMPLETE, State.TRIPPED) and not board.turning:
            break
        BusyHost.live(host, 0.1)
    BusyHost.live(host, 0.3)
    return Run(
        rate_cps,
        board.chip.take_peak_cps(),
        board.chip.edges,
        host.status.count,
        Trip(host.status.trip),
        board.chip.overruns,
        host.end.resent,
        host.answered,
        board.chip.latency,
        len(board.chip.take_steps()),
        board,
    )


def first_loss_cps(low_cps: int = 20_000, step_cps: int = 5_000, most_cps: int = 120_000) -> Run:
    """The first of a rising row of speeds at which a count is lost or a trip says that one was."""
    for rate_cps in range(low_cps, most_cps + 1, step_cps):
        run = run_at(rate_cps)
        if not run.lossless:
            return run
    raise AssertionError(f"nothing lost up to {most_cps} counts/s: search higher")


def smallest_counts_all(rate_cps: int, seconds: float = 1.0) -> bool:
    """Whether the counter-only board counts every pulse of an even row at full traffic."""
    board = EmulatedBoard(bench(1, ONE_PULSE), "smallest", **times_of(rate_cps * 1000))
    host = BusyHost(board, commands_per_s=20)
    host.open()
    assert host.ask(OpenWind(0, 0, 0, 1)) is Verdict.DONE
    board.chip.force(rate_cps, round(rate_cps * seconds))
    host.live(seconds + 0.5)
    return host.status.count == board.chip.edges
