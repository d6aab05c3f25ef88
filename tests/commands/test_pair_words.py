"""What a person reads of pairs and spools: short lines, the right numbers, hostile names harmless."""

from __future__ import annotations

import pytest

from tests.pair.pair_makers import D10, GOOD, HUB7, coil_on, finished
from winder.coil.spool_account import SpoolFacts, use_of, will_last
from winder.commands.pair_words import (
    likeness_lines,
    off_line,
    verdict_lines,
    ways_lines,
    wiring_lines,
)
from winder.commands.spool_option import lasting_lines
from winder.pair.backwards import Cure, Heard, explain
from winder.pair.drawing import Drawing, Drawn
from winder.pair.likeness import By, advice, compare, turns_off
from winder.pair.mounting import Beside, Iron, Stacked
from winder.pair.signs import Mounted, Placed, Pole
from winder.pair.ways import Instrument, figure_pair
from winder.recipe.model import Direction

UP = Mounted.TOP_TO_STRING


def words(lines: list[str]) -> str:
    assert all(len(line) <= 200 and line.isprintable() for line in lines)
    return "\n".join(lines)


def test_one_per_cent_in_turns_ohms_and_kelvin():
    told = (("left", 8_003, 1666.5), ("right", 8_000, 1650.0))
    apart = compare(*(finished(n, D10, t, ohm=o, instruments=GOOD) for n, t, o in told))
    said = words(likeness_lines(apart))
    assert "left has 3 turns more than right" in said
    assert "1.00 % more ohms at 20 C, as much as 2.5 C warmer copper" in said
    assert "meter and the thermometer" not in said
    assert off_line(turns_off(apart, By.TURNS), apart).startswith("take 3 turns off left")
    assert "take" in off_line(advice(apart), apart)


def test_alike_within_the_instruments_is_said_and_nothing_is_taken_off():
    alike = compare(finished("left", D10, ohm=1652.0), finished("right", D10, ohm=1650.0))
    said = words(likeness_lines(alike))
    assert "as many turns as right" in said
    assert "no more than the meter and the thermometer can tell" in said
    assert off_line(turns_off(alike, By.RESISTANCE), alike).startswith("leave both")


def test_what_is_not_known_is_said():
    unread = compare(finished("left", D10, (7_990, 8_010)), finished("right", D10, spool="two"))
    said = words(likeness_lines(unread))
    assert (
        "give or take 10" in said
        and "measure both" in said
        and "not known to be from one spool" in said
    )
    odd = compare(finished("left", D10, ohm=1900.0), finished("right", D10, ohm=1650.0))
    assert "do not fit the counts" in words(likeness_lines(odd))


@pytest.mark.parametrize("mounting", [Beside(0.022), Stacked(0.002)], ids=str)
def test_four_ways_fit_eighty_columns(mounting):
    poles = (Pole.NORTH, Pole.NORTH if mounting.stacked else Pole.SOUTH)
    likeness = compare(finished("left", HUB7), finished("right", HUB7))
    lines = ways_lines(figure_pair(likeness, Instrument(mounting, (UP, UP), poles, Iron.MAGNETS)))
    assert all(len(line) <= 80 for line in lines)
    assert [line.split()[0] for line in lines[1:5]] == ["series,"] * 2 + ["parallel,"] * 2
    assert ("thin" in words(lines)) is not mounting.stacked


def test_leads_by_name_and_colour_and_hostile_words_are_plain():
    one = Placed(Direction.CLOCKWISE, UP, Pole.NORTH)
    other = Placed(Direction.CLOCKWISE, UP, Pole.SOUTH)
    likeness = compare(finished("a", HUB7), finished("b", HUB7))
    figures = figure_pair(
        likeness, Instrument(Beside(0.022), (UP, UP), (Pole.NORTH, Pole.SOUTH), Iron.NONE)
    )
    coils = (Drawn("left", one, ("white", "black")), Drawn("\x1b[31mright\n", other, ("red", "")))
    said = words(wiring_lines(Drawing(coils, Beside(0.022), figures.ways[0].wiring)))
    assert "solder together: finish of left (black) and finish of ?[31mright?" in said
    assert "hot: start of left (white)" in said
    assert "ground, cover and plate: start of ?[31mright? (red)" in said


@pytest.mark.parametrize("stacked", [False, True])
@pytest.mark.parametrize("heard", Heard)
def test_every_sound_has_words(heard, stacked):
    verdict = explain(heard, stacked=stacked)
    said = words(verdict_lines(verdict))
    assert ("cure: " in said) is (verdict.cure not in (Cure.NOTHING, Cure.OHMMETER))
    assert "joined correctly" in said or "test: " in said


def test_too_little_wire_says_where_it_ends():
    coil = coil_on(D10)
    use = use_of(coil, "next", (8_000,))
    short = will_last(SpoolFacts(coil.wire, length_m=200.0), [], use)
    said = words(lasting_lines(short))
    assert "too little" in said and "missing" in said and "would end at about turn" in said
    enough = words(lasting_lines(will_last(SpoolFacts(coil.wire, length_m=900.0), [], use)))
    assert "enough" in enough and "stay on the spool" in enough and "end at" not in enough
