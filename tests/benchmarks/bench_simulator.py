"""How fast the simulated machine is: 8,000 turns at 1000 rpm. A script, not a test.

Run it from the top of the tree: ``python tests/benchmarks/bench_simulator.py``. It prints processor
seconds, least of several, with the host's end of the protocol and without it (the board's bytes thrown
away), for few and for many counts per turn.
"""

from __future__ import annotations

import dataclasses
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "simulator")]

from bench_rig import Bench, leg  # noqa: E402

from firmware_protocol.framing import encode_message  # noqa: E402
from firmware_protocol.messages import Alive  # noqa: E402
from winder.simulator.build import Build  # noqa: E402
from winder.simulator.draw import Told  # noqa: E402
from winder.simulator.machine import SimulatedMachine  # noqa: E402

TURNS, SPEED_RPM, TIMES = 8000, 1000.0, 5


def bench_of(counts_per_turn: int) -> Bench:
    build = dataclasses.replace(Build(), counts_per_turn=counts_per_turn)
    told = Told(counts_per_turn, True, 1500.0, 600.0, 700.0, 5000.0, 0.1)
    bench = Bench(SimulatedMachine(build))
    bench.mark_left()
    bench.load((leg(told, 0, TURNS, SPEED_RPM, pitch_um=80.0, left_um=500, right_um=7500),))
    bench.start()
    return bench


def with_host(bench: Bench) -> None:
    bench.run_to_rest()
    assert bench.status.count >= TURNS * bench.machine.build.counts_per_turn


def machine_alone(bench: Bench) -> None:
    machine, number, alive_ns = bench.machine, 1000, 0
    while machine.moving or machine.turns < 1:
        machine.run_until(machine.now_ns + 50_000_000)
        machine.take_bytes()
        if machine.now_ns >= alive_ns:
            number, alive_ns = number + 1, machine.now_ns + 200_000_000
            machine.receive(encode_message(Alive(bench.host.token, number)))
    assert int(machine.turns) == TURNS
    assert machine.wound_ohm > 0


def main() -> None:
    for name, run in (("machine alone", machine_alone), ("with a host end", with_host)):
        for counts in (1, 4, 20, 100, 2400):
            spent = []
            for _ in range(TIMES):
                bench = bench_of(counts)
                begun, from_ns = time.process_time(), bench.machine.now_ns
                run(bench)
                spent.append(time.process_time() - begun)
            seconds = (bench.machine.now_ns - from_ns) / 1e9
            print(f"{name}, {counts:4} counts per turn: {min(spent):.3f} s for {seconds:.0f} s")


if __name__ == "__main__":
    main()
