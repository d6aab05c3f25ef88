"""How long it turns after a person, or silence, said stop: within the bound that the papers state.

A pause: one status period and one control tick for the word to get there, then the speed over the leg's
own deceleration, then the brake or friction. Silence: the lease of one second more. Judged by the body.
"""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from opened_winds import open_on
from workshop_recipes import short_recipe

from firmware_protocol.messages import LEASE_MS, STATUS_PERIOD_MS
from winder.clock import NS_PER_S, HandClock
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.service.bodies import simulated_machine
from winder.service.opening import Opened
from winder.service.wind import Wind
from winder.shelf import Logbook
from winder.wind.model import Asked, Certainty, Intent, Phase
from winder.wind.truth import exact

WORD_S = 2 * STATUS_PERIOD_MS / 1000  # the word on its way, a control tick included
NO_BRAKE = dataclasses.replace(SIMULATED_BENCH, braking_rpm_s=None)


def opened_wind(machine: MachineProfile, seed: int, book: Logbook) -> Opened:
    coil = short_recipe(turns=2000)
    body = simulated_machine(machine, coil, seed)
    clock = HandClock()
    return open_on(
        SimulatedLink(body, clock), clock, coil, book,
        machine=machine, number=seed, seed=seed, simulated=body,
    )  # fmt: skip


def wind_for(wind: Wind, seconds: float) -> None:
    """Start as a person would, and wind for that long."""
    while wind.session.phase is not Phase.READY:
        wind.step()
    wind.ask(Asked(Intent.START))
    until_ns = wind.clock.now_ns() + round(seconds * NS_PER_S)
    while wind.clock.now_ns() < until_ns:
        wind.step()


def bound_s(opened: Opened) -> float:
    """From the word to the rest: top speed over the legs' least deceleration, and the word's way."""
    legs = opened.plan.legs
    slowest = min(leg.acceleration_rpm_s for leg in legs)
    return WORD_S + max(leg.speed_rpm for leg in legs) / slowest


@pytest.mark.parametrize("machine", [SIMULATED_BENCH, NO_BRAKE], ids=["brake", "no brake"])
@settings(max_examples=15)
@given(after_s=st.floats(0.05, 12.0), seed=st.integers(1, 50))
def test_a_pause_is_reached_within_its_bound_and_the_count_stays_exact(machine, after_s, seed):
    with Logbook.in_memory() as book:
        opened = opened_wind(machine, seed, book)
        wind, body = opened.wind, opened.simulated
        assert body is not None
        wind_for(wind, after_s)
        wind.ask(Asked(Intent.PAUSE))
        asked_ns = wind.clock.now_ns()
        while body.moving:
            wind.step(0.01)
        assert wind.clock.now_ns() - asked_ns <= bound_s(opened) * NS_PER_S
        while wind.session.phase is not Phase.PAUSED and wind.session.phase is not Phase.READY:
            wind.step()
        assert wind.session.course.truth.certainty is Certainty.EXACT
        assert wind.session.course.truth.low == body.edges
        turns = body.turns
        for _ in range(100):
            wind.step()
        assert body.turns == turns, "nothing restarts by itself"


@pytest.mark.parametrize("machine", [SIMULATED_BENCH, NO_BRAKE], ids=["brake", "no brake"])
def test_a_host_without_a_living_screen_loses_the_motor_after_the_lease(machine):
    with Logbook.in_memory() as book:
        opened = opened_wind(machine, 3, book)
        wind, body = opened.wind, opened.simulated
        assert body is not None
        wind_for(wind, 6.0)
        silent_ns = wind.clock.now_ns()
        while body.moving:
            wind.step(0.01, alive=False)
        lasted_s = (wind.clock.now_ns() - silent_ns) / NS_PER_S
        assert lasted_s <= LEASE_MS / 1000 + bound_s(opened)
        assert lasted_s > LEASE_MS / 1000 - 0.25, "the lease is not shorter than it says"
        for _ in range(200):
            wind.step()  # the screen is back; nothing moves before the person says so
        assert not body.moving
        assert wind.session.phase is Phase.PAUSED
        assert wind.session.course.truth.low == body.edges


@pytest.mark.parametrize("machine", [SIMULATED_BENCH, NO_BRAKE], ids=["brake", "no brake"])
@pytest.mark.parametrize("between_s", [0.0, 0.05, 0.2, 0.5])
def test_a_second_stop_cuts_and_leads_to_a_pause_with_the_count_exact(machine, between_s):
    """The host says the cut again and again until rest; the board comes to rest all the same."""
    with Logbook.in_memory() as book:
        opened = opened_wind(machine, 1, book)
        wind, body = opened.wind, opened.simulated
        assert body is not None
        wind_for(wind, 3.0)
        wind.ask(Asked(Intent.PAUSE))
        until_ns = wind.clock.now_ns() + round(between_s * NS_PER_S)
        while wind.clock.now_ns() < until_ns:
            wind.step()
        wind.ask(Asked(Intent.CUT))
        assert not wind.refusals
        end_ns = wind.clock.now_ns() + round((bound_s(opened) + 2.0) * NS_PER_S)
        while wind.session.phase is not Phase.PAUSED:
            wind.step()
            assert wind.session.phase in (Phase.SLOWING, Phase.PAUSED)
            assert wind.clock.now_ns() < end_ns
        assert wind.session.course.truth == exact(body.edges)
        for _ in range(10):  # the board confirms a stop that was said at rest
            wind.step()
        wind.ask(Asked(Intent.CONTINUE))
        while wind.session.phase is not Phase.WINDING:
            wind.step()
            assert wind.clock.now_ns() < end_ns + 3 * NS_PER_S
