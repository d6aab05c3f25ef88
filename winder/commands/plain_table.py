"""Tables as plain text: what comes from files and boards is never read as markup.

Control characters are left out; in a narrow terminal texts go on in the next line, numbers stay whole.
"""

from __future__ import annotations

from collections.abc import Sequence

from winder.commands.plain_lines import (
    narrowed,
    printable,
    row_lines,
    terminal_columns,
    widths_of,
)

RIGHT = ("no.", "line", "turn", "wanted")
TEXTS = ("name", "turns", "text", "kind")  # ... and the facts of one coil
TEXT_COLUMNS_MIN = len("between")
GAP = "  "
WIDE_GAP = "   "


class PlainTable:
    """Rows of cells under their columns' names, as the shelf shows them."""

    def __init__(self, *columns: str) -> None:
        self._columns = columns
        self._rows: list[list[str]] = []

    def add_row(self, *cells: str) -> None:
        self._rows.append([printable(cell) for cell in cells])

    def lines(self, columns: int) -> list[str]:
        """As wide as it has to be, or as ``columns`` where texts can be broken."""
        rows = [list(self._columns), *self._rows]
        texts = [place for place, name in enumerate(self._columns) if _is_text(name)]
        room = columns - len(GAP) * (len(self._columns) - 1)
        widths = narrowed(widths_of(rows), texts, room, TEXT_COLUMNS_MIN)
        right = [name in RIGHT for name in self._columns]
        lines = [
            line.rstrip() for row in rows for line in row_lines(row, widths, right, GAP, low=False)
        ]
        rule = "─" * (sum(widths) + len(GAP) * (len(widths) - 1))
        return [lines[0], rule, *lines[1:]]

    def print(self) -> None:
        print("\n".join(self.lines(terminal_columns())))


def _is_text(column: str) -> bool:
    return column in TEXTS or column.startswith("number")


def ruled_lines(
    titles: Sequence[str], rows: Sequence[Sequence[str]], numbers: bool, columns: int
) -> list[str]:
    """A table by itself between two empty lines; with ``numbers`` all but its first column are such."""
    places = range(len(titles))
    right = [numbers and place > 0 for place in places]
    rows = [[printable(cell) for cell in row] for row in rows]
    # Of each gap a column to either side belongs to the cells: a column at an edge has fewer.
    beside = [1 if place in (0, places[-1]) else 2 for place in places]
    padded = [sum(each) for each in zip(widths_of([titles, *rows]), beside, strict=True)]
    padded = narrowed(padded, places[::-1], columns - len(titles) - 1, TEXT_COLUMNS_MIN)
    widths = [width - space for width, space in zip(padded, beside, strict=True)]
    head = row_lines(titles, widths, right, WIDE_GAP, low=True)
    body = [line for row in rows for line in row_lines(row, widths, right, WIDE_GAP, low=False)]
    across = sum(widths) + len(WIDE_GAP) * (len(titles) - 1)
    empty = " " * across
    return [f" {line} " for line in (empty, *head, "─" * across, *body, empty)]


def print_ruled(titles: Sequence[str], rows: Sequence[Sequence[str]], *, numbers: bool) -> None:
    print("\n".join(ruled_lines(titles, rows, numbers, terminal_columns())))
