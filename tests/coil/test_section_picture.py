"""The drawn cross-section: well-formed, to scale, the same each time, safe with any name."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ElementTree

import pytest
from coil_makers import recipe, recipes
from hypothesis import given, settings
from hypothesis import strategies as st

from winder.coil.section_picture import CORE, TAPE, WIRE, section_svg
from winder.coil.sheet import figure_sheet
from winder.coil.winding import figure_coil
from winder.recipe.model import ObroundCore, RoundCore, TurnsTarget

SVG = "{http://www.w3.org/2000/svg}"


def drawn(**changes) -> ElementTree.Element:
    return ElementTree.fromstring(section_svg(figure_sheet(figure_coil(recipe(**changes)))))


def boxes(root, fill: str) -> list[dict[str, float]]:
    keys = ("x", "y", "width", "height", "rx")
    return [
        {key: float(each.get(key, 0)) for key in keys}
        for each in root.iter(f"{SVG}rect")
        if each.get("fill") == fill
    ]


def test_core_and_winding_are_drawn_in_millimetres():
    coil = figure_coil(recipe(core=ObroundCore(0.066, 0.006), margin_m=0.001))
    root = drawn(core=ObroundCore(0.066, 0.006), margin_m=0.001)
    across, along = boxes(root, CORE)
    assert (across["width"], across["height"], across["rx"]) == pytest.approx((66, 6, 3))
    assert (along["width"], along["height"]) == pytest.approx((10, 6))
    ring, above, below = boxes(root, WIRE)
    build_mm = coil.build_m * 1e3
    assert ring["width"] == pytest.approx(66 + 2 * build_mm, abs=2e-3)
    for side in (above, below):
        assert (side["width"], side["height"]) == pytest.approx((8, build_mm), abs=2e-3)
    assert above["y"] + above["height"] == pytest.approx(along["y"], abs=2e-3)
    assert below["y"] == pytest.approx(along["y"] + 6, abs=2e-3)


def test_tape_is_drawn_under_and_over():
    thicknesses = [
        box["height"] for box in boxes(drawn(tape_under_m=0.0005, tape_over_m=0.0002), TAPE)
    ]
    assert sorted(thicknesses[-4:]) == pytest.approx([0.2, 0.2, 0.5, 0.5])


def test_nothing_is_drawn_outside_the_picture():
    for changes in ({}, {"core": RoundCore(0.003)}, {"target": TurnsTarget(60_000)}):
        root = drawn(**changes)
        wide, tall = (float(number) for number in root.get("viewBox").split()[2:])
        for each in root.iter(f"{SVG}rect"):
            x, y = float(each.get("x", 0)), float(each.get("y", 0))
            assert x >= -1e-6 and x + float(each.get("width")) <= wide + 1e-6
            assert y >= -1e-6 and y + float(each.get("height")) <= tall + 1e-6


def test_the_bar_is_as_long_as_it_says():
    root = drawn()
    words = [each.text for each in root.iter(f"{SVG}text")]
    bar = [box for box in boxes(root, "#222222") if box["width"] > 1][-1]
    assert words[-1] == f"{bar['width']:g} mm"


@settings(max_examples=20)
@given(recipes(), st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=80))
def test_any_coil_of_any_name_is_drawn_the_same_twice(some_recipe, name):
    if not name.isprintable():
        return
    sheet = figure_sheet(figure_coil(dataclasses.replace(some_recipe, name=name)))
    text = section_svg(sheet)
    assert section_svg(sheet) == text
    assert ElementTree.fromstring(text).find(f"{SVG}title").text.startswith(name.strip()[:1])
