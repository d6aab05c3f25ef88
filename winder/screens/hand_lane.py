"""The lane of a hand that guides the wire: the largest moving thing on the screen.

The bar stands where the hand should be now; its travel is the way between the turning points, so at the
ends of the lane the hand turns round. It moves by half columns. Words above it say which way, in how many
turns it turns round, and the layer; in the last turns before that the words stand reversed, the wall
ahead grows, and where there is room what is left stands large behind the bar.
"""

from __future__ import annotations

import math

from winder.screens.figures import SMALL
from winder.screens.page import Ink, Page
from winder.screens.words import number, turns_now
from winder.wind.model import LanePlace, WindView

LAST_TURNS = 20  # before it turns round
BAR_SHARE = 0.08  # of the lane: seen at three metres, and small enough to aim by
BAR_COLUMNS_LEAST = 4
_TURN_PART = 1e-9  # a quotient may miss a whole number by less


def draw_hand_lane(page: Page, view: WindView, x: int, y: int, width: int, rows: int) -> None:
    """Words in the first of ``rows`` rows (at least 2), the lane in the others."""
    assert view.lay.lane is not None and rows >= 2 and width >= 20
    lane, turning = view.lay.lane, turns_now(view)
    near = lane.turns_to_edge <= LAST_TURNS
    words_ink = (Ink.MOTION_BLOCK if turning else Ink.BLOCK) if near else Ink.STRONG
    words = lane_words(lane, width)
    at = x if not lane.rightward else max(x, x + width - len(words))
    page.put(at, y, words, words_ink, width=x + width - at)
    before, bar, after = lane_parts(lane, width, near=near)
    _draw_ground(page, x, y + 1, rows - 1, before, bar, after, turning=turning)
    if near and rows > SMALL.rows:
        left = max(0, math.ceil(lane.turns_to_edge - _TURN_PART))
        figure = [f" {row} " for row in SMALL.draw(left)]
        behind = x + len(before) // 2 if lane.rightward else x + width - len(after) // 2
        at = behind - len(figure[0]) // 2
        page.put_rows(at, y + 1 + (rows - 1 - SMALL.rows) // 2, figure, Ink.STRONG)


def _draw_ground(
    page: Page, x: int, y: int, rows: int, before: str, bar: str, after: str, *, turning: bool
) -> None:
    for row in range(y, y + rows):
        page.put(x, row, before, Ink.QUIET)
        page.put(x + len(before), row, bar, Ink.MOTION if turning else Ink.STRONG)
        page.put(x + len(before) + len(bar), row, after, Ink.QUIET)


def lane_words(lane: LanePlace, width: int = 80) -> str:
    """Which way, until when, in which layer. They stand at the edge that comes next."""
    told = _told(lane)
    if len(told) + 3 > width:
        told = told.replace(" to the right edge", "").replace(" to the left edge", "")
    return f" {told} »" if lane.rightward else f"« {told} "


def _told(lane: LanePlace) -> str:
    turns = max(0, math.ceil(lane.turns_to_edge - _TURN_PART))
    way = "right" if lane.rightward else "left"
    if turns == 0:
        told = "turn round now"
    elif turns <= LAST_TURNS:
        told = f"last {turns} turn{'' if turns == 1 else 's'} to the {way} edge, then turn round"
    else:
        told = f"guide to the {way}, {number(turns)} turns to the edge"
    return f"{told}   layer {lane.layer}"


def lane_parts(lane: LanePlace, width: int, *, near: bool) -> tuple[str, str, str]:
    """Ground before the bar, the bar, ground after it: one row of ``width`` columns."""
    wall = 3 if near else 1
    left_wall = 1 if lane.rightward else wall
    right_wall = wall if lane.rightward else 1
    inner = width - 2  # the travel does not change when a wall grows
    bar = max(BAR_COLUMNS_LEAST, round(width * BAR_SHARE))
    span = lane.right_share - lane.left_share
    share = 0.5 if span <= 0 else min(1.0, max(0.0, (lane.share - lane.left_share) / span))
    halves = round(share * 2 * (inner - bar))
    whole, half = divmod(halves, 2)
    mark = "▐" + "█" * (bar - 1) + "▌" if half else "█" * bar
    ground = inner - whole - len(mark)
    before = _walled("█" * left_wall + "·" * max(0, whole + 1 - left_wall), whole + 1)
    after = _walled("·" * max(0, ground + 1 - right_wall) + "█" * right_wall, -(ground + 1))
    return before, mark, after


def _walled(text: str, columns: int) -> str:
    """Cut to its columns; below zero: of its end. The bar may stand where a wall has grown."""
    return text[:columns] if columns > 0 else text[columns:]
