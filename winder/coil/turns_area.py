"""How turns-area goes with turns and packing, and back again: the inverse of ``Ground.turns_area_m2``.

The slope over the turns is the area that the outermost turn encloses, A0 + P0 h + pi h^2 (Steiner), always
above nothing, so Newton's rule kept between two ends finds the turns.
"""

from __future__ import annotations

import math

from winder.coil.window import Ground

STEPS_MAX = 100
CLOSE_ENOUGH = 1e-13  # relative, of the turns
LOG_STEP = 1e-5  # of a logarithm, for slopes


def outermost_m2(ground: Ground, turns: float, area_m2: float) -> float:
    """Area that the turn on top of ``turns`` turns encloses, square metres."""
    height_m = ground.build_m(turns, area_m2)
    return ground.core_m2 + ground.perimeter_m * height_m + math.pi * height_m**2


def turns_of_area(ground: Ground, turns_area_m2: float, area_m2: float) -> float:
    """Turns (not whole) with this sum of enclosed areas; ``area_m2`` is the section one turn takes."""
    low, high = 0.0, turns_area_m2 / ground.core_m2
    turns = high
    for _ in range(STEPS_MAX):
        miss = ground.turns_area_m2(turns, area_m2) - turns_area_m2
        low, high = (low, turns) if miss > 0 else (turns, high)
        further = turns - miss / outermost_m2(ground, turns, area_m2)
        if not low <= further <= high:
            further = (low + high) / 2
        moved, turns = abs(further - turns), further
        if moved <= CLOSE_ENOUGH * turns:
            break
    return turns


def growth(ground: Ground, turns: float, area_m2: float) -> float:
    """k: by how many per cent the turns-area grows for one per cent of turns more; between 1 and 3."""
    mean_m2 = ground.turns_area_m2(turns, area_m2) / turns
    return outermost_m2(ground, turns, area_m2) / mean_m2


def packing_slopes(
    ground: Ground, turns: float, area_m2: float, leads_m: float = 0.0
) -> tuple[float, float]:
    """Per cent of wire (leads included) and of turns-area for one per cent of area per turn."""
    less, more = area_m2 * math.exp(-LOG_STEP), area_m2 * math.exp(LOG_STEP)
    wires = [ground.length_m(turns, each) + leads_m for each in (less, more)]
    areas = [ground.turns_area_m2(turns, each) for each in (less, more)]
    wire, area = (math.log(ends[1] / ends[0]) / (2 * LOG_STEP) for ends in (wires, areas))
    return wire, area
