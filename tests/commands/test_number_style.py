"""One style for numbers on every page, shown by a coil whose numbers are long: 14000 turns, some 26 kohm."""

from __future__ import annotations

import ast
import re

import pytest

from tests.commands.shelf_of_coils import enter, told
from tests.house.source_tree import ROOT
from winder.shelf import Logbook
from winder.wind.model import How

LONG = """\
name = "big sensor"
[wire]
gauge = "46 AWG"
film = "single"
[bobbin]
shape = "obround"
length = "60 mm"
thickness = "5 mm"
width = "12 mm"
flange_height = "6 mm"
[target]
turns = {turns}
[winding]
direction = "clockwise"
speed = "1500 rpm"
{more}
"""
EXPONENT = re.compile(r"\d[eE][+-]?\d")
PARTED = re.compile(r"\b\d{1,3}[,'_\u00a0\u2009 ]\d{3}\b")  # 14,000 and 14 000


@pytest.fixture(scope="module")
def places(tmp_path_factory):
    """A recipe, and a shelf with its coil, read once."""
    folder = tmp_path_factory.mktemp("long")
    recipe, book = folder / "long.toml", folder / "book"
    recipe.write_text(LONG.format(turns=14000, more=""))
    with Logbook.open(book) as logbook:
        run = enter(logbook, "big sensor", turns=14000, wanted=14000, recipe=LONG)
        logbook.end_run(run, How.COMPLETE, measured_ohm=26142.0, measured_at_c=20.0)
    return {"recipe": str(recipe), "book": str(book), "card": str(folder / "card.html")}


def wrongly_written(text: str) -> list[str]:
    return [*EXPONENT.findall(text), *PARTED.findall(text)]


@pytest.mark.parametrize(
    "line",
    [
        "recipe check {recipe}",
        "sheet {recipe}",
        "plan {recipe}",
        "desk reading 26450ohm",
        "desk turns {recipe} 26450ohm",
        "shelf list --logbook {book}",
        "shelf show 1 --logbook {book}",
        "shelf card 1 --html {card} --logbook {book}",
        "shelf measure 1 26450ohm --logbook {book}",
    ],
)
def test_no_number_has_an_exponent_or_parted_thousands(capsys, places, line):
    said = told(capsys, *(word.format(**places) for word in line.split()))
    if "--html" in line:
        with open(places["card"], encoding="utf-8") as card:
            said += re.sub(r"<[^>]*>", " ", card.read())
    assert re.search(r"\b(1\d{4}|2\d{4}|2\d\.\d+ kohm)\b", said) or "card of coil" in said
    assert wrongly_written(said) == []


def test_no_format_of_the_program_parts_thousands():
    found = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in (ROOT / "winder").rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FormattedValue)
        and isinstance(node.format_spec, ast.JoinedStr)
        and any(
            re.search(r"[,_]", part.value)
            for part in node.format_spec.values
            if isinstance(part, ast.Constant)
        )
    ]
    assert found == []


@pytest.mark.parametrize("text", ["2.638e+04 ohm", "14,000 turns", "14 000 turns"])
def test_the_search_finds_what_it_looks_for(text):
    assert wrongly_written(text)
