"""The coil model beside brute force in numpy: every turn summed, every pair of cells a pair of circles."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from tests.benchmarks.lines import Line, core_s
from winder.coil.cells import rectangle_gmd_m
from winder.coil.inductance import coaxial_circles_h, round_winding_h
from winder.coil.model import Coil
from winder.coil.sheet import figure_sheet, sheet_facts
from winder.coil.winding import figure_coil, turns_for_resistance
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget

INNER_M, WIDTH_M, HEIGHT_M = 0.005, 0.008, 0.004
CELLS = 32  # across the height; brute force within 0.03 % needs as many
TIMES = 200
SHEET_LIMIT_MS = 200.0
RECIPE = Recipe(
    name="eight thousand turns",
    note="invented",
    wire=AwgWire(44, "single"),
    core=RoundCore(0.010),
    width_m=0.012,
    height_m=0.006,
    target=TurnsTarget(8000),
    direction=Direction.CLOCKWISE,
    speed_rpm=1000.0,
)


def lines() -> Iterator[Line]:
    coil = figure_coil(RECIPE)
    ohm = coil.resistance_ohm_20c.nominal
    own = core_s(lambda: [turns_for_resistance(coil, ohm) for _ in range(TIMES)]) / TIMES
    summed = core_s(lambda: [_turns_by_sum(coil, ohm) for _ in range(TIMES)]) / TIMES
    whose = "turn by turn, numpy, without limits"
    yield Line("turns for a resistance, with limits", 1e6 * own, "us", 1e6 * summed, whose)
    own, brute = 1e3 * core_s(_round) / TIMES, 1e3 * core_s(_brute)
    yield Line("inductance of a round coil", own, "ms", brute, "every pair of cells, numpy")
    sheet = core_s(_sheet)
    yield Line("a whole sheet", 1e3 * sheet, "ms", SHEET_LIMIT_MS, "limit")


def _turns_by_sum(coil: Coil, ohm_20c: float) -> int:
    """Each turn round the core, grown by the height that the turns below it fill."""
    heights_m = np.arange(2 * coil.turns) * coil.area_per_turn_m2.nominal / coil.width_m
    lengths_m = np.cumsum(coil.core_perimeter_m + 2 * math.pi * heights_m)
    ohm_per_m = coil.resistance_ohm_20c.nominal / coil.wire_length_m
    return int(np.searchsorted(lengths_m * ohm_per_m, ohm_20c)) + 1


def _round() -> None:
    for _ in range(TIMES):
        round_winding_h.cache_clear()
        round_winding_h(INNER_M, WIDTH_M, HEIGHT_M)


def _brute() -> float:
    across, along = CELLS, round(CELLS * WIDTH_M / HEIGHT_M)
    radii = INNER_M + HEIGHT_M * (np.arange(across) + 0.5) / across
    places = WIDTH_M * (np.arange(along) + 0.5) / along
    radius, place = (grid.ravel() for grid in np.meshgrid(radii, places))
    apart = np.abs(place[:, None] - place)
    np.fill_diagonal(apart, rectangle_gmd_m(WIDTH_M / along, HEIGHT_M / across))
    return float(coaxial_circles_h(radius[:, None], radius[None, :], apart).mean())


def _sheet() -> None:
    round_winding_h.cache_clear()
    sheet_facts(figure_sheet(figure_coil(RECIPE)))
