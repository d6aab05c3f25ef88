"""A hand drill is called early by what it ran on before: the middle of its last winds, by its own machine file."""

from __future__ import annotations

from dataclasses import replace

import pytest

from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.plan.facing import Top
from winder.recipe.counted import count_only
from winder.service.bodies import simulated_machine
from winder.service.drill_habit import overrun_turns
from winder.service.opening import Declared, Numbers, Order, Station, end_run, open_wind
from winder.shelf import Logbook
from winder.wind.model import Asked, Intent, Phase

DRILL = replace(SIMULATED_BENCH, name="drill", motor=False, traverse_travel_m=None)


def wound(book: Logbook, seed: int) -> float:
    """A wind by the simulated drill; the turns it ran beyond its number."""
    body, clock = simulated_machine(DRILL, None, seed), HandClock()
    at = Station(SimulatedLink(body, clock), clock, "sim", seed, body)
    job = count_only("rotor sensor", 100)
    order = Order(job, DRILL, declared=Declared(Top.OPERATOR, None, "test"), cautions_accepted=True)
    opened = open_wind(at, order, book, Numbers.from_seed(seed))
    wind, beyond = opened.wind, 0.0
    for phase in (Phase.READY, Phase.TAKING_OFF):
        while wind.session.phase is not phase and not wind.finished:
            wind.step()
        if phase is Phase.READY:
            wind.ask(Asked(Intent.START))
    beyond = wind.session.course.turns - 100
    wind.ask(Asked(Intent.LEAVE))
    while not wind.finished:
        wind.step()
    end_run(opened, book)
    return beyond


def test_the_middle_of_the_last_winds_is_taken_and_only_of_this_drill():
    with Logbook.in_memory() as book:
        assert overrun_turns(book, "drill") == 0.0
        beyond = [wound(book, seed) for seed in (1, 2, 3)]
        assert overrun_turns(book, "another") == 0.0
        assert overrun_turns(book, "drill") == pytest.approx(sorted(beyond)[1], abs=0.1)
