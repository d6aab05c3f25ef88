"""A coil that was left half way goes on as the same wind, after a reset in a new one, and ends on exactly its turn."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from opened_winds import open_on
from workshop_recipes import short_recipe

from winder.clock import NS_PER_S, HandClock
from winder.errors import UserMistake
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.service.going_on import GoesOn
from winder.service.opening import end_run
from winder.shelf import Logbook
from winder.wind.model import Asked, Certainty, Intent, Phase
from winder.wind.truth import exact

COIL = short_recipe(turns=150)
GO_ON = [(Phase.READY, Intent.START), (Phase.PAUSED, Intent.CONTINUE)]


def open_body(body, clock, book, number, goes_on=None, machine=SIMULATED_BENCH):
    return open_on(
        SimulatedLink(body, clock), clock, COIL, book, machine=machine,
        number=number, seed=1, simulated=body, goes_on=goes_on,
    )  # fmt: skip


def wind_until(opened, phase, press=()):
    wind = opened.wind
    pressed = None
    while wind.session.phase is not phase:
        now = wind.session.phase
        if now is not pressed:
            pressed = now
            if now in dict(press):
                wind.ask(Asked(dict(press)[now]))
        wind.step()
        assert wind.clock.now_ns() < 600 * NS_PER_S


def leave(opened, book):
    opened.wind.ask(Asked(Intent.LEAVE))
    while not opened.wind.finished:
        opened.wind.step()
    end_run(opened, book)
    opened.wind.close()


def wound_half_way(seconds, book):
    """A wind that a person left after some seconds; the machine with the coil on it."""
    body, clock = simulated_machine(SIMULATED_BENCH, COIL, 1), HandClock()
    opened = open_body(body, clock, book, 1)
    wind_until(opened, Phase.READY)
    opened.wind.ask(Asked(Intent.START))
    until_ns = clock.now_ns() + round(seconds * NS_PER_S)
    while clock.now_ns() < until_ns:
        opened.wind.step()
    leave(opened, book)
    return body, clock, opened


@settings(max_examples=12)
@given(seconds=st.floats(2.0, 9.0))
def test_a_wind_that_is_open_on_the_board_goes_on_as_that_wind_and_ends_on_the_turn(seconds):
    with Logbook.in_memory() as book:
        body, clock, first = wound_half_way(seconds, book)
        left = first.wind.session.course.truth
        assert left.certainty is Certainty.BETWEEN, "who knows what is turned while nobody listens"
        assert left.low <= body.edges <= left.high
        again = open_body(body, clock, book, 2, GoesOn(str(first.coil_id)))
        assert again.coil_id == first.coil_id
        wind_until(again, Phase.PAUSED)
        assert again.wind.session.course.wind == first.wind.session.course.wind
        assert again.wind.session.course.truth == exact(body.edges)
        wind_until(again, Phase.COMPLETE, GO_ON)
        leave(again, book)
        assert again.wind.session.course.truth == exact(150 * 20)
        assert book.coils()[0].truth == exact(150 * 20)
        assert int(body.turns) == 150
        assert body.turns - 150 < 0.05
        record = book.coil(first.coil_id)
        assert len(record.runs) == 2
        assert record.row.state == "complete"


def test_turns_counted_by_the_person_are_vouched_for():
    with Logbook.in_memory() as book:
        body, clock, first = wound_half_way(5.0, book)
        again = open_body(body, clock, book, 2, GoesOn(str(first.coil_id), body.edges / 20))
        wind_until(again, Phase.COMPLETE, GO_ON)
        assert again.wind.session.course.truth.certainty is Certainty.VOUCHED
        assert int(body.turns) == 150


def test_what_cannot_go_on_is_refused_with_the_reason():
    with Logbook.in_memory() as book:
        body, clock, first = wound_half_way(3.0, book)
        finer = dataclasses.replace(SIMULATED_BENCH, counts_per_turn=100)
        with pytest.raises(UserMistake, match="20 counts a turn") as mistake:
            open_body(
                simulated_machine(finer, COIL, 1), HandClock(), book, 2,
                GoesOn(str(first.coil_id)), finer,
            )  # fmt: skip
        assert "--turns" in mistake.value.remedy
        with pytest.raises(UserMistake):
            open_body(body, clock, book, 3, GoesOn("no such coil"))
        with pytest.raises(UserMistake, match="-1 turns"):
            open_body(body, clock, book, 4, GoesOn(str(first.coil_id), -1.0))
