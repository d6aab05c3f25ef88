"""Pictures of a wired pair: the same each time, every lead on its node, a person's words harmless."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from faraday import PLACES

from winder.pair.drawing import Drawing, Drawn, nodes, text_picture
from winder.pair.leads import End, four_ways
from winder.pair.mounting import Beside, Stacked
from winder.pair.signs import Lead, Pole
from winder.pair.wiring_svg import wiring_svg

SVG = "{http://www.w3.org/2000/svg}"
DOCS = Path(__file__).parents[2] / "docs"
HOSTILE = 'a<script>alert("x")</script>&\x1b[31m\n\u202e' + "x" * 200


def drawings(names=("left", "right"), colours=(("white", "black"), ("red", "blue"))):
    for mounting in (Beside(0.022), Stacked(0.002), Stacked(0.002, near=1)):
        for one in PLACES:
            for other in PLACES:
                if mounting.stacked and one.pole is not other.pole:
                    continue
                for wiring in four_ways(one, other, near=mounting.near):
                    coils = (Drawn(names[0], one, colours[0]), Drawn(names[1], other, colours[1]))
                    yield Drawing(coils, mounting, wiring)


ALL = list(drawings())


def nets_of_text(text: str) -> set[frozenset[tuple[int, int]]]:
    """Connected lines of the picture, by the row and column where they leave a box: followed cell by cell."""
    rows = [line.ljust(80) for line in text.splitlines()]
    begun = {}
    for y, row in enumerate(rows):
        if found := re.search(r"\|--[SF]", row):
            begun[y, found.end()] = None
    nets: dict[tuple[int, int], set[tuple[int, int]]] = {}
    for y, x in begun:
        while rows[y][x] != "+":
            x += 1
        seen, ahead = set(), [(y, x, None)]
        while ahead:
            ty, tx, came = ahead.pop()
            for dy, dx in ((1, 0), (-1, 0)):
                ny, nx = ty + dy, tx + dx
                if (ny, nx) in seen or not 0 <= ny < len(rows) or rows[ny][nx] not in "|+":
                    continue
                seen.add((ny, nx))
                ahead.append((ny, nx, came))
        nets[y, x] = seen | {(y, x)}
    return {frozenset(y for y, x in nets if nets[y, x] & nets[key]) for key in nets}


@pytest.mark.parametrize("drawing", ALL[::37], ids=lambda d: d.wiring.join)
def test_the_text_shows_every_lead_on_its_node(drawing):
    text = text_picture(drawing)
    assert text == text_picture(drawing)
    assert max(map(len, text.splitlines())) <= 80 and text.isascii()
    lines = text.splitlines()
    order = [0, 1] if drawing.mounting.near == 0 else [1, 0]
    row_of = {}
    rows = [y for y, line in enumerate(lines) if re.search(r"\|--[SF]", line)]
    for place, number in enumerate(order):
        for each, lead in enumerate(Lead):
            row_of[End(number, lead)] = rows[2 * place + each]
    expected = {frozenset(row_of[end] for end in node.ends) for node in nodes(drawing.wiring)}
    assert nets_of_text(text) == expected
    assert "hot" in lines[-1] and "ground" in lines[-1]


def test_poles_and_directions_are_in_the_text():
    for drawing in ALL[::11]:
        text = text_picture(drawing)
        shown = re.findall(r"\[([NS])\]", text)
        poles = [coil.placed.pole for coil in drawing.coils]
        if drawing.mounting.stacked:
            poles = poles[:1]
        assert shown == ["N" if pole is Pole.NORTH else "S" for pole in poles]
        ways = [
            "counter-clockwise" if c.placed.hum_sign > 0 else "clockwise" for c in drawing.coils
        ]
        found = re.findall(r"(counter-clockwise|clockwise), S to F", text)
        assert sorted(found) == sorted(ways)


@pytest.mark.parametrize("drawing", ALL[::23], ids=lambda d: d.wiring.join)
def test_the_svg_is_well_formed_and_solders_what_the_wiring_says(drawing):
    text = wiring_svg(drawing)
    assert text == wiring_svg(drawing)
    root = ElementTree.fromstring(text)
    dots = root.findall(f"{SVG}circle")
    assert len(dots) == 4  # every lead is soldered to its node once
    words = [each.text for each in root.iter(f"{SVG}text")]
    assert words.count("hot") == words.count("ground") == 1
    assert {"1: left", "2: right"} <= set(words)
    poles = 1 if drawing.mounting.stacked else 2
    assert sum(word in ("N", "S") for word in words) == poles
    along, across = ("cy", "cx") if drawing.mounting.stacked else ("cx", "cy")
    tracks: dict[str, set[float]] = {}
    for dot in dots:
        tracks.setdefault(dot.get(across), set()).add(float(dot.get(along)))
    sizes = sorted(len(each) for each in tracks.values())
    assert sizes == sorted(len(node.ends) for node in nodes(drawing.wiring))


def test_hostile_words_are_harmless():
    names, colours = (HOSTILE, "b"), ((HOSTILE, HOSTILE), ("", ""))
    for drawing in list(drawings(names, colours))[::101]:
        text = text_picture(drawing)
        assert all(c.isprintable() or c == "\n" for c in text)
        assert max(map(len, text.splitlines())) <= 80
        svg = wiring_svg(drawing)
        assert "<script" not in svg
        ElementTree.fromstring(svg)


def test_the_docs_show_what_is_drawn():
    """The page's picture is the first of a pair side by side with white and black leads."""
    page = (DOCS / "pairs.md").read_text()
    drawing = next(
        each
        for each in ALL
        if each.coils[0].placed.pole is Pole.NORTH
        and each.coils[1].placed.pole is Pole.SOUTH
        and each.coils[0].placed.hum_sign == each.coils[1].placed.hum_sign == -1
        and all(coil.facing == "top up" for coil in each.coils)
    )
    assert text_picture(drawing).rstrip("\n") in page
