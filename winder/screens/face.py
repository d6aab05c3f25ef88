"""The widget that shows a page: line by line, and only the lines that changed.

The toolkit's own widgets lay themselves out anew with every change; this one is given finished rows
and repaints those that differ, which costs a few per cent of a core at the rate the screen runs.
"""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from winder.screens.page import Ink, Page, Row

GROUND = "#14120f"
TEXT = "#e8e1d5"
QUIET = "#a2988a"
BRIGHT = "#fffaf0"
ACCENT = "#f2a65a"  # motion, and nothing else

STYLES = {
    Ink.PLAIN: Style(color=TEXT, bgcolor=GROUND),
    Ink.QUIET: Style(color=QUIET, bgcolor=GROUND),
    Ink.STRONG: Style(color=BRIGHT, bgcolor=GROUND, bold=True),
    Ink.MOTION: Style(color=ACCENT, bgcolor=GROUND, bold=True),
    Ink.MOTION_BLOCK: Style(color=GROUND, bgcolor=ACCENT, bold=True),
    Ink.BLOCK: Style(color=GROUND, bgcolor=TEXT, bold=True),
    Ink.ALARM: Style(color=GROUND, bgcolor=TEXT),
    Ink.ALARM_BLOCK: Style(color=BRIGHT, bgcolor=GROUND, bold=True),
}


class Face(Widget):
    """Shows the newest page it was given."""

    DEFAULT_CSS = "Face { width: 1fr; height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._rows: list[Row] = []
        self._ground = Ink.PLAIN
        self._page_width = 0
        self.painted_rows = 0  # since the start, for measuring

    def show(self, page: Page) -> None:
        """Repaint what differs from the page shown before."""
        rows = page.rows()
        same_shape = (
            len(rows) == len(self._rows)
            and page.ground is self._ground
            and page.width == self._page_width
        )
        before, self._rows = self._rows, rows
        self._ground, self._page_width = page.ground, page.width
        if not same_shape:
            self.painted_rows += len(rows)
            self.refresh()
            return
        changed = [y for y, row in enumerate(rows) if row != before[y]]
        self.painted_rows += len(changed)
        if changed:
            self.refresh(*(Region(0, y, page.width, 1) for y in changed))

    def render_line(self, y: int) -> Strip:
        ground = STYLES[self._ground]
        width = self.size.width
        row = self._rows[y] if y < len(self._rows) else ()
        segments, x = [], 0
        for piece in row:
            if piece.x > x:
                segments.append(Segment(" " * (piece.x - x), ground))
            # Leading blanks apart: some viewers of exported pictures drop them from a text.
            text = piece.text.lstrip(" ")
            if len(text) < len(piece.text):
                segments.append(Segment(" " * (len(piece.text) - len(text)), STYLES[piece.ink]))
            if text:
                segments.append(Segment(text, STYLES[piece.ink]))
            x = piece.x + piece.cells
        return Strip(segments).adjust_cell_length(width, ground)
