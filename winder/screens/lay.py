"""The bobbin in cross-section: flanges, core, the wire laid so far and the guide above it.

Half of the section is drawn, from the core up, because both halves are alike. A cell counts as twice
as high as wide. With the winding window known the picture is to scale; without it the shape is only
a likeness and the caption does not claim more. The layer under way stands one step above the part
that the guide has still to reach.
"""

from __future__ import annotations

from dataclasses import dataclass

from winder.screens.bars import column_of_eighths
from winder.screens.page import Ink, Page
from winder.screens.words import TURNING
from winder.session.model import WindView

LIKELY_BUILD_SHARE = 0.8  # of the flange, drawn when nothing is known
GUIDE_ROWS = 2  # above the flanges: the guide and the wire coming in


@dataclass(frozen=True, slots=True)
class Window:
    """The winding window in cells: columns between the flanges, rows of flange, eighths of build."""

    columns: int
    rows: int
    build_eighths: int
    to_scale: bool


def fit_window(view: WindView, width: int, rows: int) -> Window:
    """The largest window of the right shape that fits ``width`` columns and ``rows``."""
    if view.window_mm is None:
        return Window(width - 2, rows, round(rows * 8 * LIKELY_BUILD_SHARE), False)
    wide_mm, flange_mm, build_mm = view.window_mm
    mm_per_column = max(wide_mm / (width - 2), flange_mm / (rows * 2))
    columns = max(4, min(width - 2, round(wide_mm / mm_per_column)))
    high = max(1, min(rows, round(flange_mm / (2 * mm_per_column))))
    return Window(columns, high, round(build_mm / (2 * mm_per_column) * 8), True)


def draw_lay(page: Page, view: WindView, x: int, y: int, width: int, rows: int) -> None:
    """Draw into ``width`` columns and ``rows``, the caption in the last row."""
    window = fit_window(view, width, rows - GUIDE_ROWS - 2)
    bottom = y + rows - 2  # the core's row
    left = x + (width - window.columns - 2) // 2
    for row in range(window.rows):
        page.put(left, bottom - 1 - row, "▐", Ink.QUIET)
        page.put(left + window.columns + 1, bottom - 1 - row, "▌", Ink.QUIET)
    page.put(left, bottom, "▝" + "▀" * window.columns + "▘", Ink.QUIET)
    pillars = lay_pillars(view, window)
    for row in range(window.rows):
        page.put(left + 1, bottom - window.rows + row, "".join(p[row] for p in pillars))
    if view.guide_share is not None:
        _draw_guide(page, view, left + 1, bottom, window, pillars)
    page.put(left, bottom + 1, _caption(view, window), Ink.QUIET)


def lay_pillars(view: WindView, window: Window) -> list[str]:
    """For each column the wire's height, as signs from the flange's edge down to the core."""
    layers = max(1, view.layers)
    step = window.build_eighths / layers
    if view.guide_share is None:
        share = min(1.0, view.turns / view.target_turns) if view.target_turns else 0.0
        heights = [window.build_eighths * share] * window.columns
    else:
        border = round(view.guide_share * window.columns)
        laid, bare = view.layer * step, max(0, view.layer - 1) * step
        behind, ahead = (laid, bare) if view.guide_rightward else (bare, laid)
        heights = [behind if column < border else ahead for column in range(window.columns)]
        if view.turns <= 0:
            heights = [0.0] * window.columns
    return [column_of_eighths(round(height), window.rows) for height in heights]


def _draw_guide(
    page: Page, view: WindView, left: int, bottom: int, window: Window, pillars: list[str]
) -> None:
    """The guide above the flanges and the wire that runs from it down to the lay."""
    assert view.guide_share is not None
    column = min(window.columns - 1, max(0, round(view.guide_share * (window.columns - 1))))
    ink = Ink.MOTION if view.phase in TURNING else Ink.STRONG
    top = bottom - window.rows
    mark = "███ »" if view.guide_rightward else "« ███"
    place = left + column - (1 if view.guide_rightward else 3)
    page.put(max(0, place), top - GUIDE_ROWS, mark, ink)
    page.put(left + column, top - 1, "│", ink)
    for row, sign in enumerate(pillars[column]):
        if sign != " ":
            break
        page.put(left + column, top + row, "│", ink)


def _caption(view: WindView, window: Window) -> str:
    parts = []
    if view.layers > 0 and view.layer > 0:
        parts.append(f"layer {view.layer} of {view.layers}")
    if window.to_scale:
        parts.append("to scale")
    return ", ".join(parts)
