"""Dialogues and winds on the sanitized core; run by itself, with the sanitizer's library loaded first."""

from __future__ import annotations

from host.bench import Bench, leg, wound
from host.core import Machine
from host.dialogue import Tally, play
from host.scripted import ScriptedCore

from firmware_protocol.messages import EndAction, Move, Pace

TARGET = "host-sanitized"


def main() -> None:
    core, tally = ScriptedCore(TARGET), Tally()
    for seed in range(10_000, 10_150):
        play(seed, core, 90, tally)
    for seed, brake in ((1, True), (2, False)):
        legs = (leg(0, 300, EndAction.PAUSE), leg(1, 500, EndAction.COMPLETE, coast_counts=3))
        bench = wound(Machine(seed, brake, TARGET), *legs)
        bench.run(300)
        bench.do(Pace(**bench.beliefs(), permille=400))
        bench.to_rest()
        bench.start()
        bench.to_rest()
        move(bench)
        print(bench.status.state.name, bench.status.count == bench.machine.turned)
    print(sum(tally.states.values()), "steps")


def move(bench: Bench) -> None:
    bench.do(Move(**bench.beliefs(), counts=40, rate_mcps=100_000, accel_mcps2=100_000))
    bench.to_rest()


if __name__ == "__main__":
    main()
