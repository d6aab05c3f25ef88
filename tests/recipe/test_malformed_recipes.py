"""Forty-odd ways to get a recipe wrong: each is told with its line, its field and what to do.

Each case changes one line of a good recipe and names the one complaint that must come of it. The
complaints of a case are compared whole, so that one slip never gives two.
"""

from __future__ import annotations

import pytest

from winder.errors import FileComplaints
from winder.recipe.reader import read_recipe_text

# Line numbers below count in these texts; the first line is 1.
OBROUND = """\
name = "kalimba"
note = "invented"
[wire]
gauge = "42 AWG"
film = "single"
[bobbin]
shape = "obround"
length = "24 mm"
thickness = "4 mm"
width = "6 mm"
flange_height = "7 mm"
margin = "0.2 mm"
[target]
turns = 5000
[winding]
direction = "clockwise"
speed = "900 rpm"
pauses = [1000, 2500]
"""
ROUND = """\
name = "sensor"
[wire]
diameter = "0.05 mm"
grade = 1
[bobbin]
shape = "round"
diameter = "6 mm"
width = "4 mm"
flange_height = "3 mm"
[target]
resistance = "350 ohm"
[winding]
direction = "counter-clockwise"
"""
RECTANGLE = OBROUND.replace('"obround"', '"rounded rectangle"').replace(
    "[target]", 'corner_radius = "1 mm"\n[target]'
)

MEASURED = ROUND.replace('diameter = "0.05 mm"\ngrade = 1', 'bare = "0.05 mm"\noverall = "0.06 mm"')
CUSTOM = ROUND.replace(
    '"round"\ndiameter = "6 mm"', '"custom"\nperimeter = "20 mm"\narea = "30 mm2"'
)

# base, the line to change, what it becomes, then the complaint: line, field, a word of the remedy.
CASES = {
    # quantities
    "decimal comma": (OBROUND, 10, 'width = "6,5 mm"', 10, "bobbin.width", '"6.5 mm"'),
    "no unit": (OBROUND, 10, 'width = "6"', 10, "bobbin.width", '"6 mm"'),
    "bare number": (OBROUND, 10, "width = 6.5", 10, "bobbin.width", 'width = "6.5 mm"'),
    "bare nan": (OBROUND, 10, "width = nan", 10, "bobbin.width", "mm"),
    "nan": (OBROUND, 10, 'width = "nan mm"', 10, "bobbin.width", "9.5 mm"),
    "infinite": (OBROUND, 10, 'width = "inf mm"', 10, "bobbin.width", "9.5 mm"),
    "no space": (OBROUND, 10, 'width = "6mm"', 10, "bobbin.width", '"6 mm"'),
    "two spaces": (OBROUND, 10, 'width = "6  mm"', 10, "bobbin.width", '"6 mm"'),
    "capital unit": (OBROUND, 10, 'width = "6 MM"', 10, "bobbin.width", '"6 mm"'),
    "unknown unit": (OBROUND, 10, 'width = "6 ells"', 10, "bobbin.width", "mil"),
    "resistance for a length": (OBROUND, 10, 'width = "6 ohm"', 10, "bobbin.width", "use one of mm"),
    "gauge for a length": (OBROUND, 10, 'width = "42 AWG"', 10, "bobbin.width", "9.5 mm"),
    "length for a resistance": (ROUND, 11, 'resistance = "3 m"', 11, "target.resistance", "kohm"),
    "kilohms in another way": (ROUND, 11, 'resistance = "3 k"', 11, "target.resistance", '"3 kohm"'),
    "length for a speed": (OBROUND, 17, 'speed = "9 mm"', 17, "winding.speed", "900 rpm"),
    "true for a length": (OBROUND, 10, "width = true", 10, "bobbin.width", "9.5 mm"),
    "list for a length": (OBROUND, 10, 'width = ["6 mm"]', 10, "bobbin.width", "9.5 mm"),
    # sizes that cannot be
    "metres for millimetres": (OBROUND, 8, 'length = "8.5 m"', 8, "bobbin.length", "did you mean 8.5 mm"),
    "micrometres": (OBROUND, 10, 'width = "6 um"', 10, "bobbin.width", "did you mean 6 mm"),
    "a little too long": (OBROUND, 8, 'length = "201 mm"', 8, "bobbin.length", "0.5 mm to 200 mm"),
    "zero": (OBROUND, 11, 'flange_height = "0 mm"', 11, "bobbin.flange_height", "0.05 mm to"),
    "negative": (OBROUND, 10, 'width = "-6 mm"', 10, "bobbin.width", "0.2 mm to 200 mm"),
    "negative margin": (OBROUND, 12, 'margin = "-1 mm"', 12, "bobbin.margin", "0 mm to 50 mm"),
    "margins eat the width": (OBROUND, 12, 'margin = "3 mm"', 12, "bobbin.margin", "half the width"),
    "thicker than long": (OBROUND, 9, 'thickness = "25 mm"', 9, "bobbin.thickness", "swap"),
    "corner too round": (
        RECTANGLE, 13, 'corner_radius = "2.1 mm"', 13, "bobbin.corner_radius", "half the thickness",
    ),
    "sharp corner": (
        RECTANGLE, 13, 'corner_radius = "0 mm"', 13, "bobbin.corner_radius", "0.05 mm to",
    ),
    "wire thicker than the room": (OBROUND, 12, 'margin = "2.98 mm"', 10, "bobbin.width", "thinner wire"),
    "wire thicker than the flanges": (
        OBROUND, 11, 'flange_height = "0.06 mm"', 11, "bobbin.flange_height", "higher flanges",
    ),
    # flanges that taper
    "rim without unit": (OBROUND, 10, 'width = "6 mm"\nrim_width = 8', 11, "bobbin.rim_width", '"8 mm"'),
    "rim in micrometres": (
        OBROUND, 10, 'width = "6 mm"\nrim_width = "8 um"', 11, "bobbin.rim_width", "did you mean 8 mm",
    ),
    "rim beyond 45 degrees": (
        OBROUND, 10, 'width = "6 mm"\nrim_width = "20.1 mm"', 11, "bobbin.rim_width", "measure",
    ),
    "rim far too narrow": (
        ROUND, 8, 'width = "7 mm"\nrim_width = "0.9 mm"', 9, "bobbin.rim_width", "measure",
    ),
    "margins eat the rim": (
        OBROUND, 10, 'width = "6 mm"\nrim_width = "0.4 mm"', 11, "bobbin.rim_width", "smaller margins",
    ),
    "wire thicker than the rim's room": (
        OBROUND, 10, 'width = "6 mm"\nrim_width = "0.45 mm"', 11, "bobbin.rim_width", "smaller margins",
    ),
    # scattered lay
    "scatter as text": (OBROUND, 16, 'direction = "clockwise"\nscatter = "7"', 17, "winding.scatter", "scatter = 7"),
    "scatter as yes": (OBROUND, 16, 'direction = "clockwise"\nscatter = true', 17, "winding.scatter", "1 to 65535"),
    "scatter of nothing": (OBROUND, 16, 'direction = "clockwise"\nscatter = 0', 17, "winding.scatter", "1 to 65535"),
    "scatter too large": (OBROUND, 16, 'direction = "clockwise"\nscatter = 65536', 17, "winding.scatter", "1 to 65535"),
    "half a scatter": (OBROUND, 16, 'direction = "clockwise"\nscatter = 7.5', 17, "winding.scatter", "whole"),
    # wire
    "gauge as a number": (OBROUND, 4, "gauge = 42", 4, "wire.gauge", 'gauge = "42 AWG"'),
    "gauge without its name": (OBROUND, 4, 'gauge = "42"', 4, "wire.gauge", '"42 AWG"'),
    "gauge in the wrong order": (OBROUND, 4, 'gauge = "AWG 42"', 4, "wire.gauge", '"42 AWG"'),
    "half a gauge": (OBROUND, 4, 'gauge = "42.5 AWG"', 4, "wire.gauge", "whole"),
    "gauge too thick": (OBROUND, 4, 'gauge = "9 AWG"', 4, "wire.gauge", "in that range"),
    "gauge too thin": (OBROUND, 4, 'gauge = "51 AWG"', 4, "wire.gauge", "in that range"),
    "diameter as a gauge": (OBROUND, 4, 'gauge = "0.063 mm"', 4, "wire.gauge", "diameter ="),
    "gauge as a diameter": (ROUND, 3, 'diameter = "44 AWG"', 3, "wire.diameter", "gauge ="),
    "diameter too thick": (ROUND, 3, 'diameter = "1.9 mm"', 3, "wire.diameter", "1.8 mm"),
    "unknown film": (OBROUND, 5, 'film = "heavier"', 5, "wire.film", 'did you mean "heavy"'),
    "grade beside a gauge": (OBROUND, 5, 'film = "single"\ngrade = 1', 6, "wire.grade", "take grade out"),
    "diameter beside a gauge": (
        OBROUND, 5, 'film = "single"\ndiameter = "0.05 mm"', 6, "wire.diameter", "keep the one",
    ),
    "grade four": (ROUND, 4, "grade = 4", 4, "wire.grade", "1 to 3"),
    "grade missing": (ROUND, 4, "", 2, "wire.grade", "grade = 1"),
    "film missing": (OBROUND, 5, "", 3, "wire.film", 'film = "single"'),
    "gauge missing": (OBROUND, 4, "", 3, "wire.gauge", 'gauge = "42 AWG"'),
    "measured beside a gauge": (
        OBROUND, 5, 'bare = "0.06 mm"\noverall = "0.07 mm"', 4, "wire.gauge", "take gauge out",
    ),
    "bare without overall": (MEASURED, 4, "", 2, "wire.overall", 'overall = "0.071 mm" under [wire]'),
    "thinner with its enamel": (MEASURED, 4, 'overall = "0.05 mm"', 4, "wire.overall", "copper alone"),
    "sizing of a diameter": (ROUND, 4, 'grade = 1\nsizing = "table"', 5, "wire.sizing", "take sizing out"),
    "sizing unknown": (OBROUND, 5, 'film = "single"\nsizing = "exact"', 6, "wire.sizing", '"definition"'),
    "ohms without a length": (
        OBROUND, 5, 'film = "single"\nohms_per_length = "5.4 ohm"', 6, "wire.ohms_per_length", "ohm/m",
    ),
    "diameter missing": (ROUND, 3, "", 2, "wire.diameter", 'diameter = "0.063 mm"'),
    # bobbin
    "unknown shape": (OBROUND, 7, 'shape = "Obrund"', 7, "bobbin.shape", 'did you mean "obround"'),
    "shape of another kind": (OBROUND, 7, 'shape = "square"', 7, "bobbin.shape", '"rounded rectangle"'),
    "shape missing": (OBROUND, 7, "", 6, "bobbin.shape", "shape ="),
    "measure missing": (OBROUND, 9, "", 6, "bobbin.thickness", 'thickness = "4 mm" under [bobbin]'),
    "measure of another shape": (
        ROUND, 7, 'diameter = "6 mm"\nlength = "9 mm"', 8, "bobbin.length", "take length out",
    ),
    "perimeter missing": (CUSTOM, 7, "", 5, "bobbin.perimeter", 'perimeter = "57 mm"'),
    "more area than a circle": (CUSTOM, 8, 'area = "33 mm2"', 8, "bobbin.area", "measure both again"),
    "area as a length": (CUSTOM, 8, 'area = "30 mm"', 8, "bobbin.area", "mm2"),
    "tape as thick as the flanges": (
        ROUND, 9, 'flange_height = "3 mm"\ntape_under = "2 mm"\ntape_over = "1 mm"', 10,
        "bobbin.tape_under", "all layers together",
    ),
    "no room below the tape": (
        ROUND, 9, 'flange_height = "3 mm"\ntape_over = "2.97 mm"', 9, "bobbin.flange_height", "thinner wire",
    ),
    # target
    "build beside turns": (OBROUND, 14, 'turns = 9\nbuild = "3 mm"', 15, "target.build", "keep one"),
    "inductance in ohms": (ROUND, 11, 'inductance = "3 ohm"', 11, "target.inductance", "mH"),
    "temperature in kelvin": (
        ROUND, 11, 'resistance = "350 ohm"\ntemperature = "296 K"', 12, "target.temperature", '"23 C"',
    ),
    "wire in turns": (ROUND, 11, "wire_length = 300", 11, "target.wire_length", '"300 mm"'),
    # spool and sheet
    "spool twice": (
        ROUND, 13, 'direction = "clockwise"\n[spool]\nlength = "40 m"\nmass = "3 g"', 16, "spool.mass",
        "keep one",
    ),
    "core factor with a unit": (
        ROUND, 13, 'direction = "clockwise"\n[sheet]\ncore_factor = "2 H"', 15, "sheet.core_factor",
        "no quotes",
    ),
    "core factor nan": (
        ROUND, 13, 'direction = "clockwise"\n[sheet]\ncore_factor = nan', 15, "sheet.core_factor",
        "0.1 to 10000",
    ),
    "cable in farads": (
        ROUND, 13, 'direction = "clockwise"\n[sheet]\ncable = "1 F"', 15, "sheet.cable", "pF",
    ),
    "both targets": (
        ROUND, 11, 'turns = 3\nresistance = "350 ohm"', 12, "target.resistance", "keep one",
    ),
    "no target": (OBROUND, 14, "", 13, "target.turns", "turns = 5000"),
    "fraction of a turn": (OBROUND, 14, "turns = 5000.5", 14, "target.turns", "whole number"),
    "turns as a fraction": (OBROUND, 14, "turns = 5000.0", 14, "target.turns", "turns = 5000"),
    "turns in quotes": (OBROUND, 14, 'turns = "5000"', 14, "target.turns", "turns = 5000"),
    "turns with a word": (OBROUND, 14, 'turns = "many"', 14, "target.turns", "without quotes"),
    "true turns": (OBROUND, 14, "turns = true", 14, "target.turns", "without quotes"),
    "no turns": (OBROUND, 14, "turns = 0", 14, "target.turns", "from 1"),
    "endless turns": (OBROUND, 14, "turns = 123456789012345678", 14, "target.turns", "1000000"),
    "infinite turns": (OBROUND, 14, "turns = inf", 14, "target.turns", "whole number"),
    # winding
    "direction missing": (OBROUND, 16, "", 15, "winding.direction", 'direction = "clockwise"'),
    "short direction": (OBROUND, 16, 'direction = "left"', 16, "winding.direction", "counter-clockwise"),
    "other spelling": (
        OBROUND, 16, 'direction = "Counterclockwise"', 16, "winding.direction",
        'did you mean "counter-clockwise"',
    ),
    "pauses that fall": (OBROUND, 18, "pauses = [2500, 1000]", 18, "winding.pauses", "rising"),
    "pause twice": (OBROUND, 18, "pauses = [1000, 1000]", 18, "winding.pauses", "rising"),
    "pause at nothing": (OBROUND, 18, "pauses = [0]", 18, "winding.pauses", "from 1"),
    "pause at the end": (OBROUND, 18, "pauses = [5000]", 18, "winding.pauses", "below the target"),
    "one pause, no list": (OBROUND, 18, "pauses = 1000", 18, "winding.pauses", "{at = 2500"),
    "pauses in words": (OBROUND, 18, 'pauses = ["half-way"]', 18, "winding.pauses", "{at = 2500"),
    "too many pauses": (
        OBROUND, 18, f"pauses = {list(range(1, 22))}", 18, "winding.pauses", "at most 20",
    ),
    # names and places
    "name missing": (OBROUND, 1, "", 0, "name", "name ="),
    "name empty": (OBROUND, 1, 'name = "  "', 1, "name", "few words"),
    "name too long": (OBROUND, 1, f'name = "{"x" * 81}"', 1, "name", "at most 80"),
    "name a number": (OBROUND, 1, "name = 7", 1, "name", "quotes"),
    "control character": (OBROUND, 1, 'name = "a\\u001b[31m"', 1, "name", "take it out"),
    "note a list": (OBROUND, 2, "note = []", 2, "note", "quotes"),
    "key misspelt": (OBROUND, 10, 'widht = "6 mm"', 10, "bobbin.widht", "did you mean width"),
    "key in another case": (OBROUND, 10, 'Width = "6 mm"', 10, "bobbin.Width", "did you mean width"),
    "key with a hyphen": (
        OBROUND, 11, 'flange-height = "7 mm"', 11, "bobbin.flange-height", "did you mean flange_height",
    ),
    "key unknown": (OBROUND, 2, 'colour = "red"', 2, "colour", "take it out"),
    "key in the wrong section": (OBROUND, 2, 'direction = "clockwise"', 2, "direction", "[winding]"),
    "section misspelt": (OBROUND, 6, "[bobin]", 6, "bobin", "did you mean [bobbin]"),
    "section unknown": (OBROUND, 2, "[colours]", 2, "colours", "[bobbin]"),
    "no section but a value": (
        ROUND.partition("[winding]")[0], 1, 'name = "x"\nwinding = 3', 2, "winding", "[winding]",
    ),
    "section a table array": (ROUND, 5, "[[bobbin]]", 5, "bobbin", "[bobbin]"),
    "key said twice": (OBROUND, 11, 'width = "7 mm"', 11, "bobbin.width", "one of the two"),
    "inline": (
        "\n" * 4 + ROUND.replace('[wire]\ndiameter = "0.05 mm"\ngrade = 1\n', "PUT\n"), 6,
        'wire = { diameter = "0.05 mm", grade = "1" }', 6, "wire.grade", "without quotes",
    ),
    "dotted": (
        ROUND.replace('[wire]\ndiameter = "0.05 mm"\ngrade = 1\n', "PUT\nwire.grade = 1\n"), 2,
        'wire.diameter = "0.05"', 2, "wire.diameter", '"0.05 mm"',
    ),
}  # fmt: skip


def changed(base: str, number: int, line: str) -> str:
    lines = base.split("\n")
    lines[number - 1] = line
    return "\n".join(lines)


@pytest.mark.parametrize("newline", ["\n", "\r\n"], ids=["lf", "crlf"])
@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_a_slip_is_told_once_with_line_field_and_remedy(case, newline):
    base, number, line, at, field, remedy = case
    text = changed(base, number, line).replace("\n", newline)
    with pytest.raises(FileComplaints) as caught:
        read_recipe_text(text, "my.toml")
    told = [(c.line, c.field) for c in caught.value.complaints]
    assert told == [(at, field)]
    assert remedy in caught.value.complaints[0].remedy
    assert str(caught.value).startswith(f"my.toml:{at}: {field}: ")
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    "text",
    [OBROUND, ROUND, RECTANGLE, MEASURED, CUSTOM],
    ids=["obround", "round", "rectangle", "measured", "custom"],
)
def test_the_recipes_the_cases_start_from_are_good(text):
    read_recipe_text(text, "my.toml")


def test_everything_wrong_is_told_at_once_in_the_order_of_the_file():
    text = changed(changed(changed(OBROUND, 16, ""), 10, 'width = "6,5 mm"'), 4, "gauge = 42")
    with pytest.raises(FileComplaints) as caught:
        read_recipe_text(text.replace("turns = 5000", "turns = 0"), "my.toml")
    assert [(c.line, c.field) for c in caught.value.complaints] == [
        (4, "wire.gauge"),
        (10, "bobbin.width"),
        (14, "target.turns"),
        (15, "winding.direction"),
    ]
    assert caught.value.exit_code == 2


def test_an_empty_file_names_each_missing_part_once():
    with pytest.raises(FileComplaints) as caught:
        read_recipe_text("", "my.toml")
    assert [c.field for c in caught.value.complaints] == [
        "bobbin",
        "name",
        "target",
        "winding",
        "wire",
    ]
    assert all(c.line == 0 and c.remedy.startswith("add ") for c in caught.value.complaints)
