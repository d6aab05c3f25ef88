"""Ordinary ticks in one go are the step's, to the last bit: every state of the machine, every byte, every time.

The step is the oracle: beside each machine runs its twin, whose body passes no tick in one go. Both are hosted the
same way over drawn machines (1 to over 1800 counts a turn), drawn faults and drawn slicings of time.
"""

from __future__ import annotations

import dataclasses
import random
from typing import Any

import pytest
from bench_rig import Bench, leg

from firmware_protocol.messages import EndAction, Pace, State
from winder.simulator import ordinary
from winder.simulator.board import SimulatedBody
from winder.simulator.build import Build
from winder.simulator.draw import draw_machine
from winder.simulator.faults import GuardOpened, draw_faults
from winder.simulator.law import share_now, speed_wanted
from winder.simulator.machine import SimulatedMachine

MACHINES, CHUNK = 48, 12
UNOBSERVED = ("stretches",)  # of the newest advance; read inside a tick only


def state_of(thing: Any, seen: tuple[int, ...] = ()) -> Any:
    """All that an object holds, down to plain values."""
    if isinstance(thing, random.Random):
        return thing.getstate()
    if isinstance(thing, dict):
        return {key: state_of(value, seen) for key, value in thing.items()}
    if isinstance(thing, (list, tuple)):
        return [state_of(one, seen) for one in thing]
    facts = getattr(thing, "__dict__", None)
    if facts is None or id(thing) in seen or callable(thing):
        return repr(thing)
    return {
        name: state_of(value, (*seen, id(thing)))
        for name, value in facts.items()
        if name not in (*UNOBSERVED, "pass_ordinary")
    }


def twins(
    build: Build, seed: int, faults: tuple[Any, ...]
) -> tuple[SimulatedMachine, SimulatedMachine]:
    machine, stepped = (SimulatedMachine(build, seed, faults) for _ in range(2))
    stepped.body.pass_ordinary = lambda ticks: 0  # type: ignore[method-assign]
    return machine, stepped


def told_by(machine: SimulatedMachine, seed: int, turns: int, speed_rpm: float) -> list[Any]:
    """A hosted wind with a stop, a change of pace and a rest in it; what the bench saw, and the state at every look."""
    chance = random.Random(f"slices {seed}")
    _, told = draw_machine(seed)
    bench = Bench(machine, slice_ns=chance.choice((3, 10, 37, 50, 230)) * 1_000_000)
    slow = leg(told, 0, max(turns // 5, 1), speed_rpm * 0.4, EndAction.CONTINUE)
    bench.load((slow, leg(told, 1, turns, speed_rpm)))
    bench.start()
    told_states = []
    for deed in ("", "pace", "", "stop", "", "again", "", ""):
        bench.run(chance.uniform(0.05, 1.5))
        told_states.append(state_of(machine.body))
        moving = bench.status.state in (State.WINDING, State.SLOWING)
        if deed == "pace" and moving:
            bench.ask(Pace(**bench.beliefs(), permille=600))
        elif deed == "stop":
            bench.host.stop(machine.now_ns)
        elif deed == "again" and bench.status.state is State.PAUSED:
            bench.start()
    bench.run_to_rest(60.0)
    bench.run(2.0)
    return [*told_states, state_of(machine.body), bytes(bench.sent_by_board), bench.sent_by_host]


@pytest.mark.parametrize("chunk", range(MACHINES // CHUNK))
def test_drawn_machines_are_the_same_in_one_go_and_step_by_step(chunk):
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        build, told = draw_machine(seed)
        turns = random.Random(f"turns {seed}").randint(10, 60)
        machine, stepped = twins(build, seed, draw_faults(seed, turns))
        speed_rpm = told.speed_rpm_max * random.Random(f"speed {seed}").choice((0.3, 0.7, 1.0))
        one, other = (told_by(each, seed, turns, speed_rpm) for each in (machine, stepped))
        assert one == other, f"seed {seed}: {told}"


@pytest.mark.parametrize("counts_per_turn", [1, 2, 20, 360, 2400])
def test_most_ticks_of_a_wind_are_ordinary(counts_per_turn, monkeypatch):
    """Else the equality above would hold of nothing."""
    passed, stepped = [0], [0]
    in_one_go, step = SimulatedBody.pass_ordinary, SimulatedBody.step

    def count_passed(body: SimulatedBody, ticks: int) -> int:
        passed[0] += (done := in_one_go(body, ticks))
        return done

    def count_stepped(body: SimulatedBody) -> None:
        stepped[0] += 1
        step(body)

    monkeypatch.setattr(SimulatedBody, "pass_ordinary", count_passed)
    monkeypatch.setattr(SimulatedBody, "step", count_stepped)
    _, told = draw_machine(3)
    told = dataclasses.replace(told, counts_per_turn=counts_per_turn, speed_rpm_max=1000.0)
    build = dataclasses.replace(Build(), counts_per_turn=counts_per_turn)
    bench = Bench(SimulatedMachine(build, 1))
    assert bench.wind((leg(told, 0, 100, 1000.0),)).state is State.COMPLETE
    assert passed[0] > 0.8 * (passed[0] + stepped[0])


@pytest.mark.parametrize("begun_s", [0.0, 1.0])
def test_what_befalls_it_between_two_calls_is_heard_at_the_next_tick(begun_s):
    seen = []
    for machine in twins(dataclasses.replace(Build(), guard=True, wire_sensor=True), 1, ()):
        _, told = draw_machine(3)
        told = dataclasses.replace(told, counts_per_turn=Build().counts_per_turn)
        bench = Bench(machine)
        bench.load((leg(told, 0, 60, 600.0),))
        bench.start()
        bench.run(begun_s)
        broken_ns = machine.now_ns
        machine.body.break_wire()
        bench.run(0.2)
        assert machine.body.control.quiet_from_s * 1e9 - broken_ns <= 10_000_000
        assert bench.status.state is State.TRIPPED
        seen.append(bytes(bench.sent_by_board))
    assert seen[0] == seen[1]


def test_a_guard_that_closes_by_itself_closes_at_its_tick():
    seen = []
    for machine in twins(Build(), 1, (GuardOpened(5.0, open_s=0.73),)):
        _, told = draw_machine(3)
        bench = Bench(machine)
        bench.load(
            (leg(dataclasses.replace(told, counts_per_turn=Build().counts_per_turn), 0, 60, 600.0),)
        )
        bench.start()
        bench.run(4.0)
        seen.append((bytes(bench.sent_by_board), state_of(machine.body)))
    assert seen[0] == seen[1]


@pytest.mark.parametrize(
    ("name", "planted"),
    [
        ("speed_wanted", lambda *figures: speed_wanted(*figures) * (1 + 1e-12)),
        ("share_now", lambda stretch: share_now(stretch) * (1 + 1e-12)),
        ("TICK_S", 0.01 * (1 + 1e-15)),
        ("newton_time", lambda *figures: 0.0),
        ("SILENT_COUNTS", 0.001),
    ],
)
def test_a_change_in_one_of_the_two_alone_shows(name, planted, monkeypatch):
    """What is planted here makes the ordinary ticks others, or fewer; only the latter may leave the bytes alone."""
    build, told = draw_machine(7)
    plain, changed = twins(build, 7, ())
    changed.body.pass_ordinary = SimulatedBody.pass_ordinary.__get__(changed.body)  # type: ignore[method-assign]
    before = told_by(plain, 7, 20, told.speed_rpm_max * 0.7)
    monkeypatch.setattr(ordinary, name, planted)
    after = told_by(changed, 7, 20, told.speed_rpm_max * 0.7)
    assert (before == after) is (name == "SILENT_COUNTS")
