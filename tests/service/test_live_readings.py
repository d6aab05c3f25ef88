"""Readings in a wind under way, on the simulated machine: what they narrow, what is adopted, what comes off."""

from __future__ import annotations

import dataclasses

import pytest
from opened_winds import SET_UP, open_on
from test_going_on import GO_ON, leave, wind_until
from workshop_recipes import short_recipe

from winder.clock import HandClock
from winder.coil.known import coil_of
from winder.coil.winding import resistance_at
from winder.errors import UserMistake
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.plan.facing import Top
from winder.recipe.model import ResistanceTarget
from winder.recipe.readings import read_reading, reading_text
from winder.recipe.samples import example_recipes
from winder.service.bodies import simulated_machine
from winder.service.estimating import LiveEstimate, said_reading
from winder.service.given_files import read_coil
from winder.service.going_on import GoesOn
from winder.service.opening import Declared
from winder.service.shelved import coil_on_shelf
from winder.shelf import Logbook
from winder.wind.deeds import Doubt
from winder.wind.model import Asked, Intent, Phase

# 300 turns of AWG 42 on 10 mm are about 52 ohm.
TARGET_OHM = 52.0
LEADS_OHM = 0.2  # a hand meter's, not deducted


def shown(body, gain=1.0):
    """What a perfect meter shows of the coil at rest, its leads on top: cold, or some of it is taken for warmth."""
    return f"{body.wound_ohm * gain + LEADS_OHM:.3f} ohm, 20 C, rested 3 h"


def ohm_recipe(*, pauses=(150,), wind_long=False, tension_n=0.12):
    """With the tension that the list says of these winds; None: by feel."""
    target = ResistanceTarget(TARGET_OHM, wind_long=wind_long)
    recipe = dataclasses.replace(
        short_recipe(300).recipe, target=target, pause_at_turns=() if wind_long else pauses,
        tension_n=tension_n,
    )  # fmt: skip
    return coil_of(recipe)


@pytest.fixture
def bench():
    """A machine with a spool of its own, and whoever winds on it."""
    with Logbook.in_memory() as book:
        yield Bench(book)


class Bench:
    def __init__(self, book):
        self.book, self.clock, self.number = book, HandClock(), 0
        self.body = None

    def open(self, coil, goes_on=None, declared=SET_UP):
        if self.body is None:
            self.body = simulated_machine(SIMULATED_BENCH, coil, 1)
        self.number += 1
        return open_on(
            SimulatedLink(self.body, self.clock), self.clock, coil, self.book,
            number=self.number, seed=1, simulated=self.body, goes_on=goes_on, declared=declared,
        )  # fmt: skip

    def ask(self, opened, intent, value=None):
        opened.wind.ask(Asked(intent, value))
        said, opened.wind.refusals = opened.wind.refusals, []
        return "; ".join(said)

    def run(self, opened, seconds):
        until_ns = self.clock.now_ns() + round(seconds * 1e9)
        while self.clock.now_ns() < until_ns:
            opened.wind.step()

    def view(self, opened):
        return opened.wind.view()


def test_a_reading_at_a_pause_narrows_the_band_and_its_turns_bring_the_ohms(bench):
    coil = ohm_recipe()
    opened = bench.open(coil)
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    before = bench.view(opened)
    assert bench.ask(opened, Intent.MEASURED, said_reading(shown(bench.body))) == ""
    view = bench.view(opened)
    assert view.ohm.end[2] - view.ohm.end[1] < (before.ohm.end[2] - before.ohm.end[1]) / 2
    assert "weak spot at turn 150" in view.ohm.finding
    assert view.ohm.offered_turns not in (None, coil.turns) and view.coil.target_turns == coil.turns
    assert bench.ask(opened, Intent.ADOPT_TURNS) == ""
    wind_until(opened, Phase.PREPARING)
    wind_until(opened, Phase.PAUSED)
    bench.run(opened, 0.5)
    assert bench.view(opened).coil.target_turns == view.ohm.offered_turns
    assert bench.ask(opened, Intent.CONTINUE) == ""
    wind_until(opened, Phase.COMPLETE)
    leave(opened, bench.book)
    assert int(bench.body.turns) == view.ohm.offered_turns
    as_planned = TARGET_OHM * coil.turns / view.ohm.offered_turns  # roughly, had nobody measured
    assert abs(bench.body.wound_ohm - TARGET_OHM) < abs(as_planned - TARGET_OHM) / 2


def test_the_tension_that_is_set_at_the_machine_says_how_far_the_wire_may_stretch(bench):
    by_feel = ohm_recipe(tension_n=None)
    opened = bench.open(by_feel)  # the list says 12 cN
    ohm, as_told = bench.view(opened).ohm, ohm_recipe()
    known = resistance_at(as_told, by_feel.turns)
    assert ohm.end == pytest.approx((known.nominal, known.low, known.high))
    assert ohm.end[2] < by_feel.resistance_ohm_20c.high * 0.98
    assert (
        ohm.offered_turns == as_told.turns > by_feel.turns == bench.view(opened).coil.target_turns
    )
    wind_until(opened, Phase.READY)
    assert f"the target takes {as_told.turns} turns" in bench.view(opened).ohm.finding
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    bench.run(opened, 0.5)
    asked = opened.plan.pause_at(150)
    assert bench.view(opened).advice.startswith(f"{asked}; by all that is known" if asked else "by")
    assert bench.ask(opened, Intent.ADOPT_TURNS) == ""
    leave(opened, bench.book)


@pytest.mark.parametrize(("said_cn", "kept_n"), [(12.0, 0.12), (0.0, None)])
def test_the_shelf_figures_a_coil_with_the_tension_that_was_set(bench, said_cn, kept_n):
    path = dict(example_recipes())["sensor"]
    by_recipe = read_coil(path)
    opened = bench.open(by_recipe, declared=Declared(Top.OPERATOR, said_cn, "test"))
    wind_until(opened, Phase.READY)
    leave(opened, bench.book)
    on_shelf = coil_on_shelf(bench.book.coil(str(opened.coil_id)))
    assert on_shelf.recipe.tension_n == kept_n
    assert (on_shelf.stretch_share < by_recipe.stretch_share) is (kept_n is not None)


@pytest.mark.parametrize(("told", "said"), [(("name",), True), ((), False)])
def test_a_reading_says_that_the_machine_file_does_not_tell_of_the_meter(told, said):
    """A machine that no file describes is the simulated bench: its instruments are what they are."""
    machine = dataclasses.replace(SIMULATED_BENCH, told=told)
    estimate = LiveEstimate(short_recipe(300), None, machine=machine)
    found = estimate.read(said_reading("26.2 22"), 150.0, finished=False)
    assert ("hand meter" in found.words) is said


def test_by_feel_at_the_machine_outweighs_a_tension_of_the_recipe(bench):
    told = ohm_recipe()
    opened = bench.open(told, declared=Declared(Top.OPERATOR))
    wind_until(opened, Phase.SETTING_UP)
    assert bench.view(opened).ohm.end[2] == told.resistance_ohm_20c.high
    assert bench.ask(opened, Intent.SET_TENSION, 0.0) == ""
    after = bench.view(opened).ohm
    known = resistance_at(ohm_recipe(tension_n=None), told.turns)
    assert after.end == pytest.approx((known.nominal, known.low, known.high))
    leave(opened, bench.book)


def test_turns_may_be_left_out_and_are_the_machines(bench):
    opened = bench.open(ohm_recipe())
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    bench.ask(opened, Intent.MEASURED, said_reading(f"{bench.body.wound_ohm:.2f} 20"))
    leave(opened, bench.book)
    lines = [x for x in bench.book.coil(str(opened.coil_id)).runs[0].lines if x.kind == "measured"]
    assert lines[0].facts["reading"].startswith("ohm, 150 turns, ")
    assert lines[0].facts["learnt"] is True


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("five", "not something to measure"),
        ("build, 3 furlong", "furlong"),
        ("tail, 40 ohm", "length"),
    ],
)
def test_what_cannot_be_read_is_refused_where_it_is_typed_with_the_remedy(text, said):
    with pytest.raises(UserMistake, match=said) as refused:
        said_reading(text)
    assert refused.value.remedy


def test_a_reading_without_its_value_is_refused_by_the_wind(bench):
    opened = bench.open(ohm_recipe())
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    assert "what was measured" in bench.ask(opened, Intent.MEASURED, said_reading("ohm"))
    assert bench.view(opened).ohm.finding == ""
    leave(opened, bench.book)


def test_a_reading_that_contradicts_is_told_with_its_causes_and_not_swallowed(bench):
    opened = bench.open(ohm_recipe())
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    before = bench.view(opened)
    assert bench.ask(opened, Intent.MEASURED, said_reading("2100000 20")) == ""
    view = bench.view(opened)
    assert "open" in view.ohm.finding and "likely causes" in view.ohm.finding
    assert view.ohm.end == before.ohm.end and view.ohm.offered_turns is None
    leave(opened, bench.book)


def test_what_was_measured_and_adopted_is_known_when_the_coil_goes_on(bench):
    coil = ohm_recipe()
    opened = bench.open(coil)
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    bench.ask(opened, Intent.MEASURED, said_reading(f"{bench.body.wound_ohm:.3f} 20"))
    offered = bench.view(opened).ohm.offered_turns
    bench.ask(opened, Intent.ADOPT_TURNS)
    bench.run(opened, 1.0)
    leave(opened, bench.book)
    again = bench.open(coil, GoesOn(str(opened.coil_id)))
    wind_until(again, Phase.PAUSED)
    assert bench.view(again).coil.target_turns == offered
    wind_until(again, Phase.COMPLETE, GO_ON)
    leave(again, bench.book)
    assert int(bench.body.turns) == offered


def test_what_was_measured_but_not_adopted_is_offered_again(bench):
    coil = ohm_recipe()
    opened = bench.open(coil)
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    bench.ask(opened, Intent.MEASURED, said_reading(f"{bench.body.wound_ohm:.3f} 20"))
    offered = bench.view(opened).ohm.offered_turns
    leave(opened, bench.book)
    again = bench.open(coil, GoesOn(str(opened.coil_id)))
    wind_until(again, Phase.PAUSED)
    view = bench.view(again)
    assert (view.coil.target_turns, view.ohm.offered_turns) == (coil.turns, offered)
    leave(again, bench.book)


def test_wound_long_measured_and_taken_off_by_the_motor(bench):
    coil = ohm_recipe(wind_long=True)
    opened = bench.open(coil)
    wind_until(opened, Phase.TAKING_OFF, [(Phase.READY, Intent.START)])
    assert int(bench.body.turns) == coil.turns and bench.body.wound_ohm > TARGET_OHM
    assert "measure" in bench.view(opened).advice
    bench.ask(opened, Intent.MEASURED, said_reading(shown(bench.body)))
    off = bench.view(opened).count.off_turns
    assert off > 0 and f"take off {off:.0f} turns" in bench.view(opened).ohm.finding
    assert bench.ask(opened, Intent.TAKE_OFF, off) == ""
    wind_until(opened, Phase.COMPLETE)
    leave(opened, bench.book)
    per_turn = bench.body.wound_ohm / bench.body.lay.turns
    assert bench.body.lay.turns == coil.turns - off
    assert abs(bench.body.wound_ohm - TARGET_OHM) <= per_turn
    run = bench.book.coil(str(opened.coil_id)).runs[-1]
    assert run.measured_ohm == pytest.approx(bench.body.wound_ohm + off * per_turn, rel=0.02)
    assert opened.wind.session.course.truth.low == (coil.turns - off) * 20


def test_the_shelf_wants_what_was_adopted_and_what_was_left(bench):
    opened = bench.open(ohm_recipe(wind_long=True))
    wind_until(opened, Phase.TAKING_OFF, [(Phase.READY, Intent.START)])
    leave(opened, bench.book)
    assert bench.book.coil(str(opened.coil_id)).row.state == "unfinished"
    bench.body = None
    opened = bench.open(ohm_recipe(wind_long=True))
    wind_until(opened, Phase.TAKING_OFF, [(Phase.READY, Intent.START)])
    bench.ask(opened, Intent.MEASURED, said_reading(f"{bench.body.wound_ohm:.3f} 20"))
    off = bench.view(opened).count.off_turns
    bench.ask(opened, Intent.TAKE_OFF, off)
    wind_until(opened, Phase.COMPLETE)
    leave(opened, bench.book)
    row = bench.book.coil(str(opened.coil_id)).row
    assert (row.state, str(row.target_turns)) == ("complete", row.turns_text)


def test_a_caliper_on_a_lay_by_hand_is_trusted_less():
    coil = ohm_recipe()
    built = f"build, {coil.build_m / 2 * 1.2 * 1e3:.3f} mm"
    bands = []
    for by_hand in (False, True):
        estimate = LiveEstimate(coil, lambda known: None, by_hand=by_hand)
        assert estimate.read(said_reading(built), 150.0, finished=False).learnt
        _, low, high = estimate.resistance(float(coil.turns))
        bands.append(high - low)
    assert bands[0] < bands[1]


def test_a_coil_is_measured_again_when_part_of_it_came_off(bench):
    """Who takes off half and looks again is told what is left, by the newest reading."""
    opened = bench.open(ohm_recipe(wind_long=True))
    wind_until(opened, Phase.TAKING_OFF, [(Phase.READY, Intent.START)])
    bench.ask(
        opened, Intent.MEASURED, said_reading(shown(bench.body, 1.005))
    )  # half a per cent off; a whole one, one meter cannot be off from itself
    first = bench.view(opened).count.off_turns
    bench.ask(opened, Intent.TAKE_OFF, first // 2)
    bench.run(opened, 60)
    assert bench.ask(opened, Intent.MEASURED, said_reading(shown(bench.body))) == ""
    view = bench.view(opened)
    assert view.count.off_turns < first - first // 2, "the better reading leaves less to take off"
    assert "weak spot" not in view.ohm.finding
    bench.ask(opened, Intent.TAKE_OFF, view.count.off_turns)
    wind_until(opened, Phase.COMPLETE)
    leave(opened, bench.book)
    assert bench.body.wound_ohm == pytest.approx(TARGET_OHM, rel=0.005)


def test_a_number_of_any_size_is_read_or_refused_and_never_a_fault(bench):
    opened = bench.open(ohm_recipe())
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    for text in ("0.0000001", "0.00002", "9999999", "25.5 0.00001"):
        try:
            reading = said_reading(text)
        except UserMistake as refused:  # where it is typed
            assert refused.remedy
            continue
        said = bench.ask(opened, Intent.MEASURED, reading)
        assert said or bench.view(opened).ohm.finding
    leave(opened, bench.book)


@pytest.mark.parametrize(("turns", "written"), [(12345.678, "12345.678"), (1_000_000.0, "1000000")])
def test_turns_are_written_in_full(turns, written):
    assert reading_text(read_reading("ohm, 832 ohm", turns)) == f"ohm, {written} turns, 832 ohm"


def test_a_temperature_that_was_not_told_is_told_as_assumed(bench):
    opened = bench.open(ohm_recipe())
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    bench.ask(opened, Intent.MEASURED, said_reading(f"{bench.body.wound_ohm:.2f}"))
    assert "assuming the wire is at 20 C" in bench.view(opened).ohm.finding
    leave(opened, bench.book)


def test_nothing_is_learnt_while_the_count_is_in_doubt(bench):
    opened = bench.open(ohm_recipe())
    wind_until(opened, Phase.PAUSED, [(Phase.READY, Intent.START)])
    course = opened.wind.session.course
    course.take(Doubt("invented", course.place, course.place, 100, 0))
    before = bench.view(opened).ohm.end
    assert bench.ask(opened, Intent.MEASURED, said_reading("build, 1 mm")) == ""
    assert "not used" in bench.view(opened).ohm.finding
    bench.ask(opened, Intent.MEASURED, said_reading("40 20"))
    assert "not used" in bench.view(opened).ohm.finding
    assert bench.view(opened).ohm.end == before
    leave(opened, bench.book)
