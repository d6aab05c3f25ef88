"""The bobbin in cross-section: flanges, core, the wire laid so far and the guide above it.

Half of the section is drawn, from the core up, because both halves are alike. A cell counts as twice
as high as wide. With the winding window known the picture is to scale; without it the shape is only
a likeness and the caption does not claim more. Where the heights of the lay are known they are drawn as
they are, with the mean as a quiet line over the low places, and the caption says how far the lowest and
the highest place are from it. Else the layer under way stands one step above the part that the guide has
still to reach.
"""

from __future__ import annotations

import itertools
import math
import textwrap

from firmware_protocol.records import dataclass
from winder.screens.bars import column_of_eighths
from winder.screens.page import Ink, Page
from winder.screens.words import turns_now
from winder.wind.model import WindView

LIKELY_BUILD_SHARE = 0.8  # of the flange, drawn when nothing is known
GUIDE_ROWS = 2  # above the flanges: the guide and the wire coming in
EVEN_FROM_LAYER = 8  # before, the layer under way is more than any unevenness


@dataclass(frozen=True, slots=True)
class Window:
    """The winding window in cells: columns between the flanges, rows of flange, eighths of build."""

    columns: int
    rows: int
    build_eighths: int
    to_scale: bool
    flange_eighths: float = 0.0


def fit_window(view: WindView, width: int, rows: int) -> Window:
    """The largest window of the right shape that fits ``width`` columns and ``rows``."""
    if view.coil.window_mm is None:
        return Window(width - 2, rows, round(rows * 8 * LIKELY_BUILD_SHARE), False, rows * 8)
    wide_mm, flange_mm, build_mm = view.coil.window_mm
    mm_per_column = max(wide_mm / (width - 2), flange_mm / (rows * 2))
    columns = max(4, min(width - 2, round(wide_mm / mm_per_column)))
    high = max(1, min(rows, round(flange_mm / (2 * mm_per_column))))
    eighths_per_mm = 8 / (2 * mm_per_column)
    build = round(build_mm * eighths_per_mm)
    return Window(columns, high, build, True, flange_mm * eighths_per_mm)


def draw_lay(page: Page, view: WindView, x: int, y: int, width: int, rows: int) -> None:
    """Draw into ``width`` columns and ``rows``, the caption in the last row or two."""
    if view.coil.layers == 0:
        words = "Only counted: wire and bobbin are not known. Give them later on the shelf."
        page.put_rows(x, y, textwrap.wrap(words, width), Ink.QUIET)
        return
    caption_rows = 2 if view.lay.heights else 1
    above = GUIDE_ROWS if view.lay.guide_share is not None else 0
    window = fit_window(view, width, rows - above - 1 - caption_rows)
    bottom = y + rows - 1 - caption_rows  # the core's row
    left = x + (width - window.columns - 2) // 2
    for row in range(window.rows):
        page.put(left, bottom - 1 - row, "▐", Ink.QUIET)
        page.put(left + window.columns + 1, bottom - 1 - row, "▌", Ink.QUIET)
    page.put(left, bottom, "▝" + "▀" * window.columns + "▘", Ink.QUIET)
    pillars = lay_pillars(view, window)
    for row in range(window.rows):
        page.put(left + 1, bottom - window.rows + row, "".join(p[row] for p in pillars))
    _draw_mean(page, view, left, bottom, window, pillars)
    _draw_wire(page, view, left + 1, bottom - window.rows, window)
    if view.lay.guide_share is not None:
        _draw_guide(page, view, left + 1, bottom, window, pillars)
    captions = (_caption(view, window), unevenness(view, width))
    for offset, caption in enumerate(captions):
        at = max(x, min(left, x + width - len(caption)))
        page.put(at, bottom + 1 + offset, caption, Ink.QUIET, width=x + width - at)


def lay_columns(view: WindView, columns: int) -> list[float]:
    """The lay's height over each column as a share of the flange.

    The mean of what the column covers of the winding, or of the margin where most of it lies there: a
    step between the two is no slope.
    """
    bins = len(view.lay.heights)
    heights = []
    for column in range(columns):
        start, end = _on_one_side(view.lay.span, column / columns, (column + 1) / columns)
        start, end = start * bins, end * bins
        area = sum(
            view.lay.heights[index] * (min(end, index + 1) - max(start, index))
            for index in range(int(start), min(bins, math.ceil(end)))
        )
        heights.append(area / (end - start))
    return heights


def _on_one_side(span: tuple[float, float], start: float, end: float) -> tuple[float, float]:
    """The part of a column on that side of the margins' edges where its middle is."""
    middle = (start + end) / 2
    for edge in span:
        if start < edge < end:
            start, end = (edge, end) if middle >= edge else (start, edge)
    return start, end


def _meant(view: WindView) -> tuple[float, ...]:
    """The heights of the places that lie wholly between the margins."""
    bins, (left, right) = len(view.lay.heights), view.lay.span
    return view.lay.heights[math.ceil(left * bins - 1e-9) : math.floor(right * bins + 1e-9)]


def unevenness(view: WindView, width: int = 80) -> str:
    """How far the lowest and the highest place are from the mean, once that says something."""
    if not view.lay.heights or view.lay.layer < EVEN_FROM_LAYER or view.lay.guide_share is None:
        return ""
    meant = _meant(view)
    mean = sum(meant) / max(1, len(meant))
    if mean <= 0:
        return ""
    # A place is two neighbours wide: one by itself is about a wire, and wire slides.
    places = [(a + b) / 2 for a, b in itertools.pairwise(meant)] or list(meant)
    low, high = max(0.0, 1 - min(places) / mean), max(0.0, max(places) / mean - 1)
    under, over = f"{low * 100:.0f} % under", f"{high * 100:.0f} % over the mean"
    words = f"lowest {under}, highest {over}"
    return words if len(words) <= width else f"{under} to {over}"


def _draw_mean(
    page: Page, view: WindView, left: int, bottom: int, window: Window, pillars: list[str]
) -> None:
    """The mean height as a quiet line over what is lower."""
    if not unevenness(view):
        return
    meant = _meant(view)
    mean_eighths = sum(meant) / len(meant) * window.flange_eighths
    rows, within = divmod(mean_eighths, 8)
    row = window.rows - 1 - min(window.rows - 1, int(rows))
    line = "▁" if within < 3 else "─" if within < 6 else "▔"
    for column, pillar in enumerate(pillars):
        if pillar[row] == " " and pillar.strip():  # not over the margins
            page.put(left + 1 + column, bottom - window.rows + row, line, Ink.QUIET)


def lay_pillars(view: WindView, window: Window) -> list[str]:
    """For each column the wire's height, as signs from the flange's edge down to the core."""
    if view.lay.heights:
        shares = lay_columns(view, window.columns)
        eighths = [round(share * window.flange_eighths) for share in shares]
        return [column_of_eighths(height, window.rows) for height in eighths]
    layers = max(1, view.coil.layers)
    step = window.build_eighths / layers
    if view.lay.guide_share is None:
        share = (
            min(1.0, view.count.turns / view.coil.target_turns) if view.coil.target_turns else 0.0
        )
        heights = [window.build_eighths * share] * window.columns
    else:
        border = round(view.lay.guide_share * window.columns)
        laid, bare = view.lay.layer * step, max(0, view.lay.layer - 1) * step
        behind, ahead = (laid, bare) if view.lay.guide_rightward else (bare, laid)
        heights = [behind if column < border else ahead for column in range(window.columns)]
        if view.count.turns <= 0:
            heights = [0.0] * window.columns
    return [column_of_eighths(round(height), window.rows) for height in heights]


def _draw_wire(page: Page, view: WindView, left: int, top: int, window: Window) -> None:
    """At rest, where the wire is by the record: a small arrow above the lay, the way it goes on."""
    if view.lay.wire_mm is None or view.coil.window_mm is None:
        return
    share = min(1.0, max(0.0, view.lay.wire_mm / view.coil.window_mm[0]))
    column = min(window.columns - 1, round(share * (window.columns - 1)))
    page.put(left + column, top, "»" if view.lay.wire_rightward else "«", Ink.STRONG)


def _draw_guide(
    page: Page, view: WindView, left: int, bottom: int, window: Window, pillars: list[str]
) -> None:
    """The guide above the flanges and the wire that runs from it down to the lay."""
    assert view.lay.guide_share is not None
    column = min(window.columns - 1, max(0, round(view.lay.guide_share * (window.columns - 1))))
    ink = Ink.MOTION if turns_now(view) else Ink.STRONG
    top = bottom - window.rows
    mark = "███ »" if view.lay.guide_rightward else "« ███"
    place = left + column - (1 if view.lay.guide_rightward else 3)
    page.put(max(0, place), top - GUIDE_ROWS, mark, ink)
    page.put(left + column, top - 1, "│", ink)
    for row, sign in enumerate(pillars[column]):
        if sign != " ":
            break
        page.put(left + column, top + row, "│", ink)


def _caption(view: WindView, window: Window) -> str:
    parts = []
    if view.coil.layers > 0 and view.lay.layer > 0:
        parts.append(f"layer {view.lay.layer} of {view.coil.layers}")
    if window.to_scale:
        parts.append("to scale")
    return ", ".join(parts)
