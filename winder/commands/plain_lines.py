"""Lines as wide as the terminal, broken between words: all that most verbs need to print."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence

COLUMNS = 80  # where nobody looks
_WORD = re.compile(r"\s*\S+\s*")


def terminal_columns() -> int:
    """As the environment says, or a terminal at either end of this program."""
    told = os.environ.get("COLUMNS", "")
    if told.isdigit() and int(told):
        return int(told)
    for descriptor in (0, 1, 2):
        try:
            return os.get_terminal_size(descriptor).columns or COLUMNS
        except OSError:
            continue
    return COLUMNS


def print_lines(*texts: str) -> None:
    columns = terminal_columns()
    for text in texts:
        for line in text.split("\n"):
            print("\n".join(broken(printable(line), columns)))


def printable(text: str) -> str:
    """Text from outside as it is, without control characters."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else " " for sign in text)


def width_of(text: str) -> int:
    """Columns it takes: some signs take two, some none."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def broken(text: str, columns: int) -> list[str]:
    """In lines of at most so many columns: between words, and within a word only if it is longer than a line."""
    if width_of(text) <= columns:
        return [text]
    lines, line = [], ""
    for word in _WORD.findall(text):
        if width_of(line) + width_of(word.rstrip()) <= columns:
            line += word
            continue
        lines.append(line)
        line = word
        while width_of(line.rstrip()) > columns:
            head = _head(line, columns)
            lines.append(head)
            line = line[len(head) :]
    return [_cut(each, columns) for each in [*lines, line] if each]


def _head(word: str, columns: int) -> str:
    """As much of it as has room; at least one sign."""
    end = 1
    while end < len(word) and width_of(word[: end + 1]) <= columns:
        end += 1
    return word[:end]


def _cut(line: str, columns: int) -> str:
    """Without the spaces that have no room."""
    while width_of(line) > columns and line[-1].isspace():
        line = line[:-1]
    return line


def narrowed(widths: list[int], givers: Sequence[int], room: int, least: int) -> list[int]:
    """Widths that have room together: the widest of the givers gives, of two the first, until none can."""
    widths = list(widths)
    while givers and sum(widths) > room:
        widest = max(givers, key=lambda place: widths[place])
        if widths[widest] <= least:
            break
        widths[widest] -= 1
    return widths


def row_lines(
    cells: Sequence[str], widths: Sequence[int], right: Sequence[bool], gap: str, *, low: bool
) -> list[str]:
    """One row of a table, its texts broken; ``low``: those of fewer lines stand at the bottom."""
    parts = [broken(*each) for each in zip(cells, widths, strict=True)]
    height = max(map(len, parts))
    lines = []
    for number in range(height):
        told = []
        for lines_of, width, to_right in zip(parts, widths, right, strict=True):
            place = number - (height - len(lines_of) if low else 0)
            part = lines_of[place] if 0 <= place < len(lines_of) else ""
            space = " " * (width - width_of(part))
            told.append(space + part if to_right else part + space)
        lines.append(gap.join(told))
    return lines


def widths_of(rows: Sequence[Sequence[str]]) -> list[int]:
    """Of each column, what its widest cell takes."""
    return [max(map(width_of, cells)) for cells in zip(*rows, strict=True)]
