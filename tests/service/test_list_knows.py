"""The list asks nothing that the last wind on this machine has answered: at most three answers to "drill now"."""

from __future__ import annotations

from dataclasses import replace

from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.plan.facing import Top
from winder.recipe.samples import example_recipes
from winder.service.bodies import simulated_machine
from winder.service.given_files import read_coil
from winder.service.opening import Declared, Numbers, Opened, Order, Station, end_run, open_wind
from winder.service.setting_up import Usual, usual
from winder.shelf import Logbook
from winder.wind.model import Asked, Intent, Item, Phase

DRILL = replace(SIMULATED_BENCH, name="drill", motor=False, traverse_travel_m=None)
SENSOR = read_coil(dict(example_recipes())["sensor"])


def opened(book: Logbook, number: int) -> Opened:
    before = usual(book, DRILL)
    body, clock = simulated_machine(DRILL, SENSOR, 1), HandClock()
    at = Station(SimulatedLink(body, clock), clock, "sim", 1, body)
    order = Order(SENSOR, DRILL, declared=Declared(before.top), cautions_accepted=before.read_today)
    found = open_wind(at, order, book, Numbers.from_seed(number))
    while found.wind.session.phase is not Phase.SETTING_UP:
        found.wind.step()
    for _ in range(5):
        found.wind.step()
    return found


def ask(found: Opened, intent: Intent, value: object = None) -> None:
    found.wind.ask(Asked(intent, value))  # type: ignore[arg-type]
    assert found.wind.refusals == []


def leave(found: Opened, book: Logbook) -> None:
    ask(found, Intent.LEAVE)
    while not found.wind.finished:
        found.wind.step()
    end_run(found, book)


def test_a_known_drill_needs_three_answers_and_another_machine_is_asked_all():
    with Logbook.in_memory() as book:
        assert usual(book, DRILL) == Usual()
        first = opened(book, 1)
        left = [line.item for line in first.wind.view().set_up if not line.done]
        assert left == [Item.BOBBIN, Item.LEAD, Item.TENSION], "no guard, no guide"
        assert not first.wind.session.cautions_accepted
        ask(first, Intent.ACCEPT_CAUTIONS)
        ask(first, Intent.DECLARE_TOP, Top.CHUCK)
        leave(first, book)
        assert usual(book, DRILL) == Usual(Top.CHUCK, read_today=True)
        second = opened(book, 2)
        assert second.wind.session.cautions_accepted
        ask(second, Intent.CONFIRM, Item.LEAD)  # the first answer
        ask(second, Intent.SET_TENSION, 0.0)  # the second: by feel
        assert all(line.done for line in second.wind.view().set_up)
        leave(second, book)
        assert usual(book, replace(DRILL, name="another")) == Usual()
        assert usual(book, replace(DRILL, motor=True)).top is None, "a motor is asked each time"
