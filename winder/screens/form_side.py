"""Beside the form: where on the bobbin each measure is taken, and what the coil will be.

The winding is drawn between its flanges with the wire as high as it will be, the core's cross-section below. The
measure that is being typed stands reversed. Pure functions from a draft's figures to a page.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

from winder.coil.winding import build_at
from winder.files.digits import show_duration
from winder.files.quantities import show_length, show_resistance
from winder.recipe.model import ResistanceTarget
from winder.screens.bars import column_of_eighths
from winder.screens.page import Ink, Page
from winder.service.drafting import Judged

WINDOW_ROWS = 5
LEAST_COLUMNS = 30
CORE_ROWS = 4
FIGURES_AT = 12  # columns from the label to its figure


def draw_side(judged: Judged, shown: Mapping[str, str], part: str, width: int, height: int) -> Page:
    """The drawing and below it the figures; ``shown`` is what stands in the fields, by path."""
    page = Page(width, height)
    y = 0
    if width >= LEAST_COLUMNS and height >= WINDOW_ROWS + 9:
        y = _draw_window(page, judged, shown, part)
        if height >= y + CORE_ROWS + 9:
            y = _draw_core(page, shown, part, y) + 1
    for label, figure in figures(judged):
        y = _put_figure(page, label, figure, y)
    return page


def figures(judged: Judged) -> list[tuple[str, str]]:
    """What the coil will be, each with its label; what is not known yet is not there."""
    coil = judged.coil
    if coil is None:
        return [("not yet", "fix what is marked")]
    build = build_at(coil, coil.turns)
    ohm = coil.resistance_ohm_20c
    low, high = show_resistance(ohm.low, 3), show_resistance(ohm.high, 3)
    target = coil.recipe.target
    long = ", some to take off" if isinstance(target, ResistanceTarget) and target.wind_long else ""
    fits = "fits" if coil.fits else "does not fit" if judged.complaints else "may not fit"
    told = [
        ("turns", f"{coil.turns}{long}, {coil.layers:.0f} layers"),
        ("ohms", f"{show_resistance(ohm.nominal, 3)} at 20 C, {low} to {high}"),
        (
            "build",
            f"{show_length(build.nominal, 2)} of {show_length(coil.recipe.height_m)}: {fits}",
        ),
        ("wire", show_length(coil.wire_length_m, 3)),
    ]
    if judged.duration_s is not None:
        told.append(("time", f"{show_duration(judged.duration_s)} of winding"))
    return told + [("note", remark) for remark in judged.remarks]


def _put_figure(page: Page, label: str, figure: str, y: int) -> int:
    page.put(0, y, label, Ink.QUIET)
    room = max(12, page.width - FIGURES_AT)
    whole = len(figure) <= room or label == "note"
    parts = [figure] if whole else figure.split(", ")  # a value is not parted from its unit
    ends = [","] * (len(parts) - 1) + [""]
    rows = [
        row
        for part, end in zip(parts, ends, strict=True)
        for row in textwrap.wrap(part + end, room)
    ]
    return page.put_rows(FIGURES_AT, y, rows, Ink.STRONG)


def _ink(part: str, marked: str) -> Ink:
    return Ink.BLOCK if part == marked else Ink.PLAIN


def _draw_window(page: Page, judged: Judged, shown: Mapping[str, str], part: str) -> int:
    """Between the flanges, seen from the side: width above, flange height at the right."""
    tall = "  height"
    columns = min(page.width - len(tall) - 4, 40)
    label = f" width {shown.get('bobbin.width', '')} "[: columns - 4]
    left = (columns - len(label) - 2) // 2
    page.put(1, 0, "├" + "─" * left, Ink.QUIET)
    after = page.put(2 + left, 0, label, _ink("width", part))
    page.put(after, 0, "─" * (columns - after) + "┤", Ink.QUIET)
    margin = 2 if shown.get("bobbin.margin") else 0
    pillar = column_of_eighths(_eighths(judged), WINDOW_ROWS)
    for row in range(WINDOW_ROWS):
        y = 1 + row
        page.put(0, y, "█")
        page.put(1 + margin, y, pillar[row] * (columns - 2 * margin), Ink.QUIET)
        page.put(1 + columns, y, "█")
        page.put(
            3 + columns, y, "┬" if row == 0 else "┴" if row == WINDOW_ROWS - 1 else "│", Ink.QUIET
        )
        if part == "margin":
            page.put(1, y, "▒" * max(1, margin))
            page.put(1 + columns - max(1, margin), y, "▒" * max(1, margin))
    page.put(5 + columns, 2, "height", _ink("height", part))
    page.put(5 + columns, 3, shown.get("bobbin.flange_height", "")[:8], _ink("height", part))
    page.put(0, 1 + WINDOW_ROWS, "▀" * (columns + 2))
    return 2 + WINDOW_ROWS


def _eighths(judged: Judged) -> int:
    """How high the wire will lie, in eighths of the drawing's rows; none where it is not known."""
    coil = judged.coil
    if coil is None or coil.recipe.height_m <= 0:
        return 0
    return round(min(1.0, coil.build_m / coil.recipe.height_m) * WINDOW_ROWS * 8)


def _draw_core(page: Page, shown: Mapping[str, str], part: str, y: int) -> int:
    """The core's cross-section, as the wire goes round it."""
    if "bobbin.perimeter" in shown:
        around = f" once around {shown['bobbin.perimeter']} "
        after = page.put(0, y, around, _ink("length", part))
        page.put(after + 1, y, f" area {shown.get('bobbin.area', '')} ", _ink("thickness", part))
        return y + 1
    is_round = "bobbin.diameter" in shown
    columns = 9 if is_round else min(22, page.width - 16)
    corners = "┌┐└┘" if "bobbin.corner_radius" in shown else "╭╮╰╯"
    page.put(1, y, corners[0] + "─" * columns + corners[1])
    for row in range(1, CORE_ROWS - 1):
        page.put(1, y + row, "│")
        page.put(2 + columns, y + row, "│")
    page.put(1, y + CORE_ROWS - 1, corners[2] + "─" * columns + corners[3])
    page.put(3, y + 1, "core", Ink.QUIET)
    side = shown.get("bobbin.diameter") or shown.get("bobbin.length", "")
    page.put(3, y + 2, f" {side} "[:columns], _ink("length", part))
    if not is_round:
        page.put(
            4 + columns, y + 1, "thickness"[: page.width - 4 - columns], _ink("thickness", part)
        )
        thick = shown.get("bobbin.thickness", "")[:10]
        page.put(4 + columns, y + 2, thick, _ink("thickness", part))
    if part == "corner":
        page.put(1, y, corners[0], Ink.BLOCK)
    return y + CORE_ROWS
