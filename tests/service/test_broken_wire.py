"""The wire parts on the simulated bench: what the session says of the count holds for the true wire, to the end.

The judge is the simulated wire (``SimulatedMachine.wire_turns``), which knows nothing of the session.
"""

from __future__ import annotations

import dataclasses

import pytest
from opened_winds import open_on
from test_going_on import wind_until
from workshop_recipes import short_recipe

from winder.clock import NS_PER_S, HandClock
from winder.errors import UserMistake
from winder.links.names import parse_port
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.service.sources import connect
from winder.shelf import Logbook
from winder.simulator.faults import WireBreak
from winder.simulator.machine import SimulatedMachine
from winder.wind.model import Asked, Certainty, Intent, Phase, TurnsOff

TURNS, BREAKS_AT = 150, 80.3
DRILL = dataclasses.replace(
    SIMULATED_BENCH, name="hand drill", motor=False, braking_rpm_s=None, traverse_travel_m=None
)


class Bench:
    """A wind on a machine whose wire parts, and the person beside it."""

    def __init__(self, machine, *, breaks_at=BREAKS_AT, watched=True, seed=1):
        coil, faults = short_recipe(TURNS), (WireBreak(breaks_at),)
        self.body = simulated_machine(machine, coil, seed, faults=faults)
        if not watched:
            build = dataclasses.replace(self.body.build, wire_sensor=False)
            self.body = SimulatedMachine(build, seed, faults)
        self.clock, self.counts_per_turn = HandClock(), machine.counts_per_turn
        self.book = Logbook.in_memory()
        self.opened = open_on(
            SimulatedLink(self.body, self.clock), self.clock, coil, self.book,
            machine=machine, number=seed, seed=seed, simulated=self.body,
        )  # fmt: skip
        wind_until(self.opened, Phase.READY)

    @property
    def session(self):
        return self.opened.wind.session

    def ask(self, intent, value=None):
        self.opened.wind.ask(
            Asked(intent, TurnsOff(value) if intent is Intent.TURNS_OFF else value)
        )
        said, self.opened.wind.refusals = self.opened.wind.refusals, []
        return "; ".join(said)

    def run(self, seconds):
        until_ns = self.clock.now_ns() + round(seconds * NS_PER_S)
        while self.clock.now_ns() < until_ns:
            self.opened.wind.step()

    def wind_on_without_wire(self, turns):
        while self.body.wire_turns < BREAKS_AT or self.body.turns < BREAKS_AT + turns:
            self.opened.wind.step()

    def holds(self):
        """Whether the true wire is within what the session says, in counts."""
        truth = self.session.course.truth
        return truth.low <= self.body.body.wire_counts <= truth.high

    def told(self):
        return [line for line in self.session.course.log.lines() if "splice" in line]

    def settle_by_counting(self):
        """The person counts what is on the bobbin."""
        turns = self.body.body.wire_counts / self.counts_per_turn
        assert self.ask(Intent.SETTLE_COUNT, turns) == ""
        self.run(0.5)
        return turns

    def finish(self):
        assert self.ask(Intent.CONTINUE) == ""
        wind_until(self.opened, Phase.COMPLETE)
        self.run(0.5)
        assert int(self.body.wire_turns) == self.body.lay.turns == TURNS
        assert self.session.course.truth.certainty is Certainty.VOUCHED and self.holds()


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("breaks_at", [0.4, 7.0, BREAKS_AT, 149.5])
def test_a_wire_that_parts_is_joined_and_the_coil_ends_on_its_turn(breaks_at, seed):
    bench = Bench(SIMULATED_BENCH, breaks_at=breaks_at, seed=seed)
    bench.ask(Intent.START)
    wind_until(bench.opened, Phase.TRIPPED)
    bench.run(2.0)
    assert bench.session.course.truth.certainty is Certainty.BETWEEN and bench.holds()
    assert bench.body.wire_turns == pytest.approx(breaks_at, abs=0.3)
    assert bench.ask(Intent.CLEAR_TRIP) == ""
    bench.run(0.5)
    assert bench.session.phase is Phase.TRIPPED, "the sensor sees no wire yet"
    assert bench.ask(Intent.TURNS_OFF, 0.25) == "" and bench.holds()
    turns = bench.settle_by_counting()
    assert bench.ask(Intent.WIRE_JOINED) == ""
    assert bench.told() == [f"splice at turn {turns:g}"]
    assert bench.ask(Intent.CLEAR_TRIP) == ""
    wind_until(bench.opened, Phase.PAUSED)
    bench.run(0.5)
    bench.finish()


def test_a_trip_that_is_cleared_before_the_turns_are_told_ends_on_the_turn_too():
    bench = Bench(SIMULATED_BENCH)
    bench.ask(Intent.START)
    wind_until(bench.opened, Phase.TRIPPED)
    bench.run(2.0)
    assert bench.ask(Intent.WIRE_JOINED) == ""
    assert bench.ask(Intent.CLEAR_TRIP) == ""
    wind_until(bench.opened, Phase.PAUSED)
    assert bench.ask(Intent.TURNS_OFF, 6.5) == "" and bench.holds()
    bench.settle_by_counting()
    bench.finish()


@pytest.mark.parametrize("machine", [SIMULATED_BENCH, DRILL], ids=["motor", "drill"])
def test_a_break_that_only_a_person_sees_is_told_by_a_key(machine):
    bench = Bench(machine, watched=False)
    bench.ask(Intent.START)
    bench.wind_on_without_wire(1.5)
    assert bench.ask(Intent.WIRE_BROKE) == ""
    wind_until(bench.opened, Phase.PAUSED)
    bench.run(2.0)
    assert not bench.body.moving and bench.body.turns > BREAKS_AT + 1.5
    assert bench.session.course.truth.certainty is Certainty.BETWEEN and bench.holds()
    assert "join the wire" in bench.ask(Intent.CONTINUE)
    assert bench.ask(Intent.TURNS_OFF, 3.0) == "" and bench.holds()
    assert bench.body.wire_turns == pytest.approx(BREAKS_AT - 3.0, abs=0.3)
    turns = bench.settle_by_counting()
    assert bench.ask(Intent.WIRE_JOINED) == ""
    assert bench.told() == [f"splice at turn {turns:g}"]
    bench.finish()


def test_no_start_without_wire_before_the_sensor():
    bench = Bench(SIMULATED_BENCH, breaks_at=0)
    bench.ask(Intent.START)
    bench.run(1.0)
    assert bench.session.phase is Phase.READY and bench.body.turns == 0
    assert "sees no wire" in bench.opened.wind.view().advice
    bench.ask(Intent.WIRE_BROKE)
    assert bench.ask(Intent.WIRE_JOINED) == ""
    bench.run(0.2)
    assert bench.ask(Intent.START) == ""
    wind_until(bench.opened, Phase.COMPLETE)
    assert bench.body.lay.turns == TURNS


def test_what_the_session_refuses_is_not_done_to_the_wire():
    bench = Bench(SIMULATED_BENCH)
    bench.ask(Intent.START)
    wind_until(bench.opened, Phase.TRIPPED)
    bench.run(2.0)
    left = bench.body.wire_turns
    assert "at most" in bench.ask(Intent.TURNS_OFF, 5000.0)
    assert bench.ask(Intent.WIRE_WHOLE) == ""
    assert "no broken wire" in bench.ask(Intent.WIRE_JOINED)
    assert bench.body.wire_turns == left and not bench.body.body.wire_present


def test_a_port_says_where_the_wire_parts():
    coil = short_recipe(TURNS)
    link, _, body = connect(parse_port("sim?break=12"), SIMULATED_BENCH, coil, 115_200, 1)
    link.close()
    body.body.turn_by_hand(13)
    body.run_until(NS_PER_S // 10)
    assert not body.body.wire_present
    with pytest.raises(UserMistake, match="cannot break at turn 150"):
        connect(parse_port("sim?break=150"), SIMULATED_BENCH, coil, 115_200, 1)
