"""What the firmware takes of its chip, and how fast it counts. A script, not a test.

Run it from the top of the tree: ``python tests/benchmarks/bench_chip.py``. It builds both boards, runs their
binaries in virtual time and prints the tables of ``docs/firmware.md``. All figures but those of the last
line are the same on every computer with the same avr-gcc and the same libsimavr.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "firmware")]

from emulator.board import FOUR_EDGES, ONE_PULSE, STEP_UM, EmulatedBoard, bench  # noqa: E402
from emulator.builds import FLASH_BYTES, RAM_BYTES, missing_tools  # noqa: E402
from emulator.chip import HZ, VECTOR_NAMES  # noqa: E402
from emulator.guided import GuidedHost, turns_leg  # noqa: E402
from emulator.limits import Run, first_loss_cps, run_at, smallest_counts_all  # noqa: E402
from emulator.traffic import BusyHost  # noqa: E402
from emulator.winding import EmulatedWind, coil_of  # noqa: E402

from firmware_protocol.messages import EndAction, PlanLeg, State  # noqa: E402

COUNTER_STEP_CPS = 2_000
SENSORS = ((1, ONE_PULSE), (4, ONE_PULSE), (20, FOUR_EDGES), (100, FOUR_EDGES))


def sizes() -> None:
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(20, pauses=(10,)))
    wind.start()
    wind.to_the_end()
    counter = EmulatedBoard(bench(1, ONE_PULSE), "smallest")
    BusyHost(counter, commands_per_s=20).open()
    counter.chip.force(1000, 3000)
    counter.run_s(5)
    print("| board | flash | variables | deepest stack | never used |")
    print("|---|---|---|---|---|")
    for name, board in (("atmega328p", wind.board), ("smallest", counter)):
        binary, chip = board.binary, board.chip
        share = 100 * binary.flash / FLASH_BYTES
        print(
            f"| {name} | {binary.flash} ({share:.0f} %) | {binary.variables} "
            f"| {chip.stack_used()} | {RAM_BYTES - binary.variables - chip.stack_used()} |"
        )


def stops() -> None:
    print("| counts a turn | brake | counts beyond the target | turns beyond it |")
    print("|---|---|---|---|")
    for counts, sensor in SENSORS:
        for brake in (True, False):
            wind = EmulatedWind(EmulatedBoard(bench(counts, sensor, brake=brake)), coil_of(25))
            wind.start()
            wind.to_the_end(120)
            beyond = wind.board.chip.true_count - wind.target_counts
            turns = wind.board.chip.place / counts - 25
            print(f"| {counts} | {'yes' if brake else 'no'} | {beyond} | {turns:.3f} |")


def interrupts(run: Run) -> None:
    print("| interrupt | least | mean | most | share of the time |")
    print("|---|---|---|---|---|")
    chip = run.board.chip
    for number, name in VECTOR_NAMES.items():
        times = chip.vector(number)
        if times.calls:
            share = 100 * times.calls * times.mean / chip.now
            print(f"| {name} | {times.least} | {times.mean:.0f} | {times.most} | {share:.1f} % |")
    late = run.latency_cycles
    print(f"\nlongest wait of an edge for its interrupt: {late} cycles, {late / HZ * 1e6:.1f} us")


def guide() -> None:
    """One leg of 60 turns of 63 um at 20 turns a second, to and fro over 1.2 mm with a wait at each side."""
    print("| counts a turn | off at speed | off at most | steps of one count |")
    print("|---|---|---|---|")
    for counts, sensor in SENSORS:
        host = GuidedHost(EmulatedBoard(bench(counts, sensor)))
        leg = turns_leg(counts, 0, 120, EndAction.COMPLETE)
        host.load(leg)
        host.start()
        host.live(3.8)
        most_um = worst_um(host, leg)
        host.live(1.2)
        steady_um = worst_um(host, leg)
        assert host.status.state == State.WINDING and host.status.count < 0.9 * leg.end_count
        host.to_rest()
        most_um = max(most_um, steady_um, worst_um(host, leg))
        print(f"| {counts} | {steady_um:.1f} | {most_um:.1f} | {63 / counts / STEP_UM:.1f} |")


def worst_um(host: GuidedHost, leg: PlanLeg) -> float:
    return max(abs(off_um) for _, off_um in host.take_deviations((leg,)))


def pulses(claimed_cps: int) -> None:
    print("| most steps a second | made | from step to step | high | direction before it |")
    print("|---|---|---|---|---|")
    for steps_per_s in (4_000, 20_000):
        run = run_at(claimed_cps, steps_a_ms=steps_per_s // 1000)
        times = run.board.chip.step_times
        print(f"| {steps_per_s} | {times.made} | {times.gap_least_us:.0f} | {times.high_least_us:.0f} "
              f"| {times.set_up_least_us:.0f} |")  # fmt: skip


def limits(claimed_cps: int) -> None:
    print("| counts/s | counted of injected | bytes overrun | commands sent again | steps | trip |")
    print("|---|---|---|---|---|---|")
    loss = first_loss_cps(claimed_cps, claimed_cps // 5)
    for rate_cps in range(claimed_cps, loss.rate_cps, claimed_cps // 5):
        show(run_at(rate_cps))
    show(loss)
    print(f"\nfirst loss at {loss.rate_cps} counts/s; claimed {claimed_cps}")


def show(run: Run) -> None:
    print(
        f"| {run.rate_cps} | {run.counted} of {run.injected} | {run.overruns} "
        f"| {run.resent} | {run.steps} | {run.tripped.name} |"
    )


def counter_limit() -> None:
    board = EmulatedBoard(bench(1, ONE_PULSE), "smallest")
    claimed_cps = BusyHost(board).open().edge_rate_max_cps
    rate_cps = claimed_cps
    while smallest_counts_all(rate_cps):
        rate_cps += COUNTER_STEP_CPS
    print(f"counter-only board: first loss at {rate_cps} pulses/s; claimed {claimed_cps}")


def main() -> None:
    if missing := missing_tools():
        raise SystemExit(f"not run: {missing} missing")
    began_s = time.perf_counter()
    compiler = subprocess.run(["avr-gcc", "--version"], capture_output=True, text=True, check=True)
    claimed_cps = BusyHost(EmulatedBoard(bench(20, FOUR_EDGES))).open().edge_rate_max_cps
    print(f"bytes, with {compiler.stdout.splitlines()[0]}:\n")
    sizes()
    print("\nstops of a coil of 25 turns on the bench of the rehearsals:\n")
    stops()
    print(f"\ncycles of 1/16 us, entry included, at {claimed_cps} counts/s and full traffic:\n")
    interrupts(run_at(claimed_cps))
    print("\nthe guide, micrometres from where the spindle's true place leads it:\n")
    guide()
    print("\nthe guide's pulses at the claimed rate and full traffic, least microseconds:\n")
    pulses(claimed_cps)
    print("\nfull traffic, speed loop at work, 1 s at the speed and the ramps:\n")
    limits(claimed_cps)
    counter_limit()
    wind = EmulatedWind(EmulatedBoard(bench(20, FOUR_EDGES)), coil_of(60))
    wound_s, machine_ns = time.perf_counter(), wind.clock.now_ns()
    wind.start()
    wind.to_the_end()
    pace = (wind.clock.now_ns() - machine_ns) / 1e9 / (time.perf_counter() - wound_s)
    print(f"a wind in virtual time ran {pace:.0f} times as fast as the world; all of this took "
          f"{time.perf_counter() - began_s:.0f} s")  # fmt: skip


if __name__ == "__main__":
    main()
