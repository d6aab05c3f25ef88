"""What a recipe says was measured, and that it may be wound long: read in SI units, or refused with line and remedy."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.errors import FileComplaints
from winder.recipe.measured import READINGS_MAX
from winder.recipe.model import ResistanceTarget
from winder.recipe.observations import EarlierCoil, SpoolTail
from winder.recipe.reader import read_recipe_text
from winder.recipe.samples import example_recipes

SENSOR = dict(example_recipes())["sensor"].read_text(encoding="utf-8")
KALIMBA = dict(example_recipes())["kalimba"].read_text(encoding="utf-8")


def complaints(text: str) -> list[tuple[int, str, str, str]]:
    with pytest.raises(FileComplaints) as caught:
        read_recipe_text(text, "my.toml")
    assert caught.value.exit_code == 2
    return [(c.line, c.field, c.what, c.remedy) for c in caught.value.complaints]


def with_known(lines: str) -> tuple[str, int]:
    """The sensor example with a section ``[known]``, and the line of that header."""
    return f"{SENSOR}\n[known]\n{lines}\n", SENSOR.count("\n") + 2


def test_readings_are_the_very_ones_of_the_command_line():
    text, _ = with_known(
        'readings = ["tail, 8 m, 71.5 ohm, 22 C", "earlier, 1600 turns, 0.352 kohm, 1.6 mm"]'
    )
    assert read_recipe_text(text, "f").readings == (
        SpoolTail(8.0, 71.5, 22.0),
        EarlierCoil(1600.0, 352.0, 20.0, build_m=1.6e-3, noted_c=False),
    )


@pytest.mark.parametrize("lines", ["", "readings = []"])
def test_a_recipe_may_know_nothing(lines):
    assert read_recipe_text(with_known(lines)[0], "f").readings == ()
    assert read_recipe_text(SENSOR, "f").readings == ()


# What stands in the list, a word of what is wrong with it, a word of the remedy.
MALFORMED = {
    "no kind": ("8 m, 71.5 ohm", "a length too many", "leave it out"),
    "empty": ("", "not something to measure", "begin with one of"),
    "another kind": ("weight, 3 g", "not something to measure", "begin with one of"),
    "decimal comma": ("tail, 8 m, 71,5 ohm", "a decimal comma: 71,5", "with a point, 71.5"),
    "no unit": ("tail, 8 m, 71.5", "has no unit", "every number with its unit"),
    "unknown unit": ("tail, 8 ells, 71.5 ohm", "ells", "mm"),
    "no length": ("tail, 71.5 ohm", "its length", "8 m"),
    "no turns": ("earlier, 352 ohm", "how many turns", "2500 turns"),
    "two lengths": ("tail, 8 m, 9 m, 71.5 ohm", "a length too many", "leave it out"),
    "ohms twice": ("tail, 8 m, 71.5 ohm, 72 ohm", "twice", "keep one"),
    "no ohms to speak of": ("tail, 8 m, 0 ohm", "must be above zero", "measure again"),
    "no length to speak of": ("tail, 0 m, 71.5 ohm", "must be above zero", "measure again"),
    "turns of a tail": ("tail, 8 m, 40 turns, 71.5 ohm", "its turns", "leave it out"),
    "too hot": ("tail, 8 m, 71.5 ohm, 220 C", "220 C", "-40 C to 150 C"),
    "below all cold": ("tail, 8 m, 71.5 ohm, -273.15 C", "-273.15 C", "-40 C to 150 C"),
    "not measured": ("tail, 8 m", "has no measured value", "add the value"),
    "an earlier coil not measured": ("earlier, 1600 turns", "has no measured value", "sheet"),
    "the coil itself": ("ohm, 800 turns, 150 ohm", "of the coil itself", "at a pause"),
    "a caliper": ("build, 800 turns, 0.7 mm", "of the coil itself", "--known"),
    "an outside": ("outside, 800 turns, 6 mm, 8 mm", "of the coil itself", "--known"),
    "an outside within": ("outside, 800 turns, 8 mm, 6 mm", "not thicker", "bare core first"),
}  # fmt: skip


@pytest.mark.parametrize(("reading", "says", "remedy"), MALFORMED.values(), ids=MALFORMED.keys())
def test_a_malformed_reading_is_told_once_on_its_own_line(reading, says, remedy):
    text, header = with_known(f'readings = [\n  "tail, 8 m, 71.5 ohm",\n  "{reading}",\n]')
    ((line, field, what, do),) = complaints(text)
    assert field == "known.readings"
    assert line == header + 3
    assert says in what
    assert remedy in do


def test_the_same_reading_twice_is_told_where_it_stands_the_second_time():
    once = '"tail, 8 m, 71.5 ohm",'
    text, header = with_known(f"readings = [\n{once}\n'earlier, 9 turns, 3 ohm', {once}\n]")
    ((line, _, what, remedy),) = complaints(text)
    assert line == header + 3
    assert "twice" in what and "not a second measurement" in remedy


def test_every_malformed_reading_is_told_and_the_rest_of_the_recipe_too():
    text, header = with_known(
        'readings = ["tail, 8 m, 71.5 ohm", "tail, 8 m", "tail, 8 m, 71.5 ohm", "scale, 3 g"]'
    )
    told = complaints(text.replace('"350 ohm"', '"350"'))
    assert [field for _, field, _, _ in told] == ["target.resistance", *["known.readings"] * 3]
    assert [line for line, *_ in told[1:]] == [header + 1] * 3
    assert any("twice" in what for _, _, what, _ in told)


@pytest.mark.parametrize(
    ("value", "says", "remedy"),
    [
        ('"tail, 8 m, 71.5 ohm"', "text where a list", 'readings = ["tail'),
        ("[8.0]", "a number is in the list", 'readings = ["tail'),
        ('[["tail, 8 m, 71.5 ohm"]]', "a list is in the list", 'readings = ["tail'),
        ("true", "true or false where a list", 'readings = ["tail'),
        (str(["tail"] * (READINGS_MAX + 1)), f"these are {READINGS_MAX + 1}", "at most"),
    ],
)
def test_what_is_no_list_of_readings_is_refused(value, says, remedy):
    text, header = with_known(f"readings = {value}")
    ((line, field, what, do),) = complaints(text)
    assert (line, field) == (header + 1, "known.readings")
    assert says in what and remedy in do


def test_a_misspelt_key_is_told_with_the_right_one():
    ((_, field, _, remedy),) = complaints(with_known('reading = ["tail, 8 m, 71.5 ohm"]')[0])
    assert field == "known.reading"
    assert remedy == "did you mean readings?"


@given(st.lists(st.text(max_size=30), max_size=4))
def test_any_list_of_texts_is_read_or_complained_of(texts):
    listed = ", ".join('"' + "".join(f"\\U{ord(c):08x}" for c in text) + '"' for text in texts)
    text, header = with_known(f"readings = [{listed}]")
    try:
        read_recipe_text(text, "f")
    except FileComplaints as error:
        for each in error.complaints:
            assert each.line == header + 1
            assert each.text("f").isprintable()
            assert each.remedy


def test_a_resistance_may_be_wound_long_and_is_not_by_itself():
    plain, long, short = (
        read_recipe_text(SENSOR.replace('"350 ohm"', f'"350 ohm"\n{line}'), "f").target
        for line in ("", "wind_long = true", "wind_long = false")
    )
    assert plain == short == ResistanceTarget(350.0)
    assert long == ResistanceTarget(350.0, wind_long=True)


@pytest.mark.parametrize("target", ["turns = 5000", 'build = "2 mm"', 'wire_length = "300 m"', 'inductance = "1 H"'])  # fmt: skip
def test_only_a_resistance_is_wound_long(target):
    text = KALIMBA.replace("turns = 5000", f"{target}\nwind_long = true")
    assert "{at = 2500," in text
    text = text.replace("{at = 2500,", "{at = 250,")
    ((line, field, what, remedy),) = complaints(text)
    assert field == "target.wind_long"
    assert line == text[: text.index("wind_long")].count("\n") + 1
    assert target.split(" ")[0].replace("_", " ") in what
    assert "resistance" in remedy
    read_recipe_text(text.replace("= true", "= false"), "f")


def test_long_in_words_is_refused():
    ((_, field, _, remedy),) = complaints(SENSOR.replace('"350 ohm"', '"350 ohm"\nwind_long = "yes"'))  # fmt: skip
    assert field == "target.wind_long"
    assert "wind_long = true" in remedy
