"""Dialogues and winds on the sanitized core; run by itself, with the sanitizer's library loaded first."""

from __future__ import annotations

from host.bench import Bench, leg
from host.core import Machine
from host.dialogue import Tally, play
from host.scripted import ScriptedCore

from firmware_protocol.messages import EndAction, Move, Pace, Side, TraverseMark, TraverseStep

TARGET = "host-sanitized"


def main() -> None:
    core, tally = ScriptedCore(TARGET), Tally()
    for seed in range(10_000, 10_150):
        play(seed, core, 90, tally)
    for seed, brake in ((1, True), (2, False)):
        bench = Bench(Machine(seed, brake, TARGET))
        bench.open()
        bench.do(TraverseMark(**bench.beliefs(), side=Side.LEFT, at_um=0))
        bench.do(TraverseStep(**bench.beliefs(), distance_um=1500))
        bench.to_rest()
        bench.load(
            leg(0, 300, EndAction.PAUSE, pitch_nm=63_000, right_um=500, dwell_counts=9),
            leg(1, 500, EndAction.COMPLETE, pitch_nm=90_000, right_um=900, scatter_seed=5),
        )
        bench.start()
        bench.run(300)
        bench.do(Pace(**bench.beliefs(), permille=400))
        bench.to_rest()
        bench.start()
        bench.to_rest()
        move(bench)
        print(bench.status.state.name, bench.status.count == bench.machine.turned)
    print(sum(tally.states.values()), "steps")


def move(bench: Bench) -> None:
    for counts in (40, -300):
        bench.do(Move(**bench.beliefs(), counts=counts, rate_mcps=100_000, accel_mcps2=100_000))
        bench.to_rest()


if __name__ == "__main__":
    main()
