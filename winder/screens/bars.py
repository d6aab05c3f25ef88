"""Bars drawn from box lines and block elements: how far, how sure, where the guide is.

All of them are plain text of an exact width, so that they work on any terminal and can be tested by
reading. A heavy line is what is done or known, a light line is the ground it stands on.
"""

from __future__ import annotations

import math

EIGHTHS = " ▁▂▃▄▅▆▇█"
BAND_SPAN_SHARE = 0.1  # a band bar spans this much of the nominal value to either side


def progress_bar(width: int, share: float, mark_share: float | None = None) -> tuple[str, str]:
    """What is done and what is left, as two texts of together ``width`` columns.

    The bar is full only when ``share`` is 1: a wind that is nearly done does not look done. The mark
    (the next planned pause) stands in the part that is left.
    """
    assert width >= 2
    halves = width * 2 if share >= 1 else min(width * 2 - 1, max(0, math.floor(share * width * 2)))
    done = "━" * (halves // 2)
    left = list("─" * (width - len(done)))
    if halves % 2:
        left[0] = "╾"
    if mark_share is not None:
        place = min(width - 1, int(mark_share * width)) - len(done)
        if 0 <= place < len(left) and 0 < mark_share < 1:
            left[place] = "┃"
    return done, "".join(left)


def band_bar(width: int, nominal: float, low: float, high: float) -> str:
    """A band around a value on an axis of ten per cent to either side; narrows as the band does."""
    assert width >= 5
    middle = (width - 1) // 2
    if nominal <= 0:
        return "▁" * width

    def place(value: float) -> int:
        share = (value - nominal) / (nominal * BAND_SPAN_SHARE)
        return min(width - 1, max(0, round(middle + share * middle)))

    start, end = place(low), place(high)
    signs = list("▁" * width)
    signs[start : end + 1] = "▄" * (end - start + 1)
    signs[middle] = "▆"
    return "".join(signs)


def lane(width: int, share: float, rightward: bool) -> tuple[str, str, str]:
    """The guide between its turning points: text before, the mark, text after. ``width`` columns."""
    assert width >= 6
    inner = width - 2
    mark = "█»" if rightward else "«█"
    column = min(inner - 2, max(0, round(share * (inner - 2))))
    return "▐" + "·" * column, mark, "·" * (inner - 2 - column) + "▌"


def column_of_eighths(eighths: int, rows: int) -> str:
    """A pillar of ``eighths`` of a row, read from the top row down; ``rows`` signs."""
    eighths = max(0, min(eighths, rows * 8))
    full, part = divmod(eighths, 8)
    pillar = "█" * full + (EIGHTHS[part] if part else "")
    return pillar.ljust(rows)[::-1]
