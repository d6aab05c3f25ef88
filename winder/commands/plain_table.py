"""Tables of the shelf as plain text: what comes from files and boards is never read as markup.

Control characters are left out; in a narrow terminal texts go on in the next line, numbers stay whole.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

RIGHT = ("no.", "line", "turn", "wanted")
TEXTS = ("name", "turns", "text", "kind")  # ... and the facts of one coil
TEXT_COLUMNS_MIN = len("between")
GAP = "  "


def plain_console() -> Console:
    from rich.console import Console

    # Nothing printed here is markup, and numbers need no colours of their own.
    return Console(markup=False, highlight=False, emoji=False)


class PlainTable:
    """Rows of cells under their columns' names."""

    def __init__(self, *columns: str) -> None:
        self._columns = columns
        self._rows: list[list[str]] = []

    def add_row(self, *cells: str) -> None:
        self._rows.append([printable(cell) for cell in cells])

    def lines(self, columns: int) -> list[str]:
        """As wide as it has to be, or as ``columns`` where texts can be broken."""
        from rich.cells import cell_len

        rows = [list(self._columns), *self._rows]
        widths = [max(map(cell_len, cells)) for cells in zip(*rows, strict=True)]
        self._narrow(widths, columns)
        lines = [line for row in rows for line in self._row(row, widths)]
        rule = "─" * (sum(widths) + len(GAP) * (len(widths) - 1))
        return [lines[0], rule, *lines[1:]]

    def print(self) -> None:
        print("\n".join(self.lines(plain_console().width)))

    def _narrow(self, widths: list[int], columns: int) -> None:
        """Take from the widest text until all fits, or no text can give more."""
        room = columns - len(GAP) * (len(widths) - 1)
        texts = [place for place, name in enumerate(self._columns) if _is_text(name)]
        while texts and sum(widths) > room:
            widest = max(texts, key=lambda place: widths[place])
            if widths[widest] <= TEXT_COLUMNS_MIN:
                break
            widths[widest] -= 1

    def _row(self, cells: list[str], widths: list[int]) -> list[str]:
        from rich.cells import cell_len

        broken = [_broken(*each) for each in zip(cells, widths, strict=True)]
        lines = []
        for number in range(max(map(len, broken))):
            told = []
            for name, parts, width in zip(self._columns, broken, widths, strict=True):
                part = parts[number] if number < len(parts) else ""
                space = " " * (width - cell_len(part))
                told.append(space + part if name in RIGHT else part + space)
            lines.append(GAP.join(told).rstrip())
        return lines


def _is_text(column: str) -> bool:
    return column in TEXTS or column.startswith("number")


def _broken(cell: str, columns: int) -> list[str]:
    """Between words where that is possible."""
    from rich.cells import cell_len

    if cell_len(cell) <= columns:
        return [cell]
    from rich.text import Text

    return [line.plain for line in Text(cell).wrap(plain_console(), columns, overflow="fold")]


def printable(text: str, keep: str = "") -> str:
    """Text from outside as it is, without control characters."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() or sign in keep else " " for sign in text)


def plain_text(text: str, keep_lines: bool = False) -> Text:
    """The same for a console."""
    from rich.text import Text

    return Text(printable(text, "\n" if keep_lines else ""))
