"""A page: text placed on rows, in a few inks. What the wind screen is drawn on.

Pages are made by pure functions from a view and a size, twenty times a second, and compared row by
row; only rows that differ reach the terminal. Nothing here knows markup, and ``put`` makes every
text harmless, so that no name can break a page.
"""

from __future__ import annotations

import enum
from collections.abc import Sequence

from rich.cells import cell_len, set_cell_size

from firmware_protocol.records import dataclass
from winder.screens.plain import plain_text


class Ink(enum.Enum):
    """How text looks. Colour only repeats what word, glyph and reverse video say."""

    PLAIN = "plain"
    QUIET = "quiet"
    STRONG = "strong"
    MOTION = "motion"  # the one accent: something moves
    MOTION_BLOCK = "motion block"  # the same, reversed
    BLOCK = "block"  # reversed without accent
    ALARM = "alarm"  # on a page that is reversed as a whole
    ALARM_BLOCK = "alarm block"  # reversed once more


@dataclass(frozen=True, slots=True)
class Piece:
    """Text in one ink from column ``x``; ``cells`` columns wide."""

    x: int
    text: str
    ink: Ink
    cells: int


Row = tuple[Piece, ...]


class Page:
    """Rows of pieces. ``ground`` is the ink of everything not written on."""

    def __init__(self, width: int, height: int, ground: Ink = Ink.PLAIN) -> None:
        self.width = width
        self.height = height
        self.ground = ground
        self._pieces: list[list[Piece]] = [[] for _ in range(height)]

    def put(
        self, x: int, y: int, text: str, ink: Ink | None = None, width: int | None = None
    ) -> int:
        """Write at column and row, cut to ``width`` columns and the page; the column after it."""
        room = self.width - x if width is None else min(width, self.width - x)
        if not 0 <= y < self.height or room <= 0 or x < 0 or not text:
            return x
        text = plain_text(text)
        cells = cell_len(text)
        if cells > room:
            text, cells = _shortened(text, room), room
        self._pieces[y].append(Piece(x, text, ink or self.ground, cells))
        return x + cells

    def put_right(self, x_end: int, y: int, text: str, ink: Ink | None = None) -> int:
        """Write so that the text ends before column ``x_end``; where it begins."""
        x = max(0, x_end - cell_len(plain_text(text)))
        self.put(x, y, text, ink, width=x_end - x)
        return x

    def put_rows(self, x: int, y: int, rows: Sequence[str], ink: Ink | None = None) -> int:
        """Write rows one below the other; the row after them."""
        for offset, row in enumerate(rows):
            self.put(x, y + offset, row, ink)
        return y + len(rows)

    def rows(self) -> list[Row]:
        """Each row's pieces from left to right, never overlapping."""
        return [_in_order(pieces) for pieces in self._pieces]

    def text(self) -> str:
        """The page as lines of text, for people and tests."""
        lines = []
        for row in self.rows():
            line, column = "", 0
            for piece in row:
                line += " " * (piece.x - column) + piece.text
                column = piece.x + piece.cells
            lines.append(line.rstrip())
        return "\n".join(lines)


def _shortened(text: str, cells: int) -> str:
    """Cut, and shown to be cut where there is room to say so."""
    if cells < 8 or not any(sign.isalpha() for sign in text):
        return set_cell_size(text, cells)
    return set_cell_size(text, cells - 3) + "..."


def _in_order(pieces: list[Piece]) -> Row:
    """Later pieces win where two would overlap: the earlier one is cut short or left out."""
    kept: list[Piece] = []
    for piece in pieces:
        end = piece.x + piece.cells
        kept = [part for old in kept for part in _outside(old, piece.x, end)]
        kept.append(piece)
    return tuple(sorted(kept, key=lambda piece: piece.x))


def _outside(piece: Piece, start: int, end: int) -> list[Piece]:
    """What is left of a piece outside the columns from ``start`` to ``end``."""
    piece_end = piece.x + piece.cells
    if piece_end <= start or piece.x >= end:
        return [piece]
    left = start - piece.x
    if left > 0:
        return [Piece(piece.x, set_cell_size(piece.text, left), piece.ink, left)]
    return []
