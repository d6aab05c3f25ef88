"""The wind under way as one page, for any size of terminal.

The order is the order of the questions a person asks when looking up for half a second: what does it
do, what comes next, how far, where is the wire, what will it measure, what may I press. The left
column holds the two big figures, the count above what is left to go, always in these places; only
their sizes change, so that the one that matters now is the bigger. Smaller terminals lose rows from
the end of that list, never the state, the figures or the keys.
"""

from __future__ import annotations

import math
import textwrap

from winder.files.digits import show_duration
from winder.screens.badge import draw_badge, draw_name
from winder.screens.bars import band_bar, lane, progress_bar
from winder.screens.figures import SIZES, Figures, draw_bounds
from winder.screens.hand_lane import draw_hand_lane
from winder.screens.keys import KEY_ROWS, draw_keys
from winder.screens.lay import draw_lay
from winder.screens.layouts import Layout, choose_layout
from winder.screens.notices import SENTENCE_ROWS, draw_notices, draw_sentence
from winder.screens.page import Ink, Page
from winder.screens.plain import plain_text
from winder.screens.set_up_page import FIRST_STEP, STEPS_MM, draw_set_up
from winder.screens.words import (
    AT_REST,
    AT_THE_END,
    FINISHED,
    MEASURE,
    certainty,
    count_bounds,
    counted,
    landing,
    moves,
    number,
    off_figure,
    ohms,
    sentence,
    turns_now,
)
from winder.wind.model import Certainty, Phase, WindView, WireView

Band = tuple[float, float, float]  # nominal, lowest, highest


def draw_wind(
    view: WindView,
    width: int,
    height: int,
    notices: tuple[str, ...] = (),
    step_mm: float = STEPS_MM[FIRST_STEP],
) -> Page:
    """The page for a view. ``notices`` are sentences worth saying now, the most pressing first."""
    page = Page(width, height)
    layout = choose_layout(width, height, by_hand=view.lay.lane is not None)
    if layout is None:
        _draw_lines(page, view, notices)
        return page
    draw_badge(page, view, layout)
    draw_name(page, view, layout)
    if view.phase in FINISHED and not layout.below_y:
        notices += (f"Then: {', '.join(step for step, _ in AT_THE_END)}.",)
    rows = _rows_above_figures(page, view, layout)
    left_over = draw_sentence(page, view, layout, notices, rows)
    if view.set_up:
        last = height - layout.bottom - 1 - min(len(left_over), layout.notice_rows)
        draw_set_up(page, view, layout.margin, layout.sentence_y + 3, last, step_mm)
        draw_notices(page, layout, left_over)
        draw_keys(page, view, height - layout.bottom, layout.margin)
        return page
    _draw_figures(page, view, layout)
    if view.lay.lane is not None:
        wide = width - 2 * layout.margin
        draw_hand_lane(page, view, layout.margin, layout.lane_y, wide, layout.lane_rows)
    _draw_progress(page, view, layout)
    if layout.below_y:
        _draw_below(page, view, layout)
    if layout.right_x:
        _draw_right(page, view, layout)
    draw_notices(page, layout, left_over)
    draw_keys(page, view, height - layout.bottom, layout.margin)
    return page


def _rows_above_figures(page: Page, view: WindView, layout: Layout) -> int:
    """Rows from the sentence to the count, one left blank: a count with two bounds is drawn smaller, and stands lower."""
    if view.set_up:
        return SENTENCE_ROWS
    size = _sizes(view, layout)[0]
    drawn = _figures_for(size, count_bounds(view), _figures_room(page, layout))
    spare = size.rows - (drawn[0].rows if drawn else 1)
    if layout.right_x:  # the second column is not lower for that
        spare = min(spare, 1)
    return max(SENTENCE_ROWS, layout.figures_y + spare - layout.sentence_y - 1)


def _draw_figures(page: Page, view: WindView, layout: Layout) -> None:
    """The count and below it what is left, with their words."""
    off = view.phase is Phase.TAKING_OFF
    count_size, left_size = _sizes(view, layout)
    room = _figures_room(page, layout)
    low, high = count_bounds(view)
    y = layout.figures_y
    y = _put_number(page, layout.margin, y, (low, high), count_size, room)
    label = f"turns of {number(view.coil.target_turns)}, {certainty(view)}"
    after = page.put(layout.margin, y, label, width=room)
    if (
        not layout.right_x and view.phase is not Phase.CONNECTING
    ):  # no second column tells the speed
        speed = _speed_words(view)
        if after + 2 + len(speed) <= page.width - layout.margin:
            page.put_right(page.width - layout.margin, y, speed, Ink.QUIET)
    y += 1 + layout.gap
    if off:
        _draw_off(page, view, layout, y, room)
        return
    over = low > view.coil.target_turns
    bounds = _left(view, low, high)
    y = _put_number(page, layout.margin, y, bounds, left_size, room)
    label = "turns over the target" if over else "turns to go"
    ahead = view.phase not in FINISHED and not over and view.count.remaining_turns > 0
    if view.motion.seconds_to_go is not None and ahead:
        label += f", {show_duration(view.motion.seconds_to_go)}"
    page.put(layout.margin, y, label, width=room)


def _sizes(view: WindView, layout: Layout) -> tuple[Figures, Figures]:
    """Of the count, and of what is left: the one that matters now is the bigger."""
    big, other = layout.sizes
    return (other, big) if landing(view) or _comes_off(view) else (big, other)


def _figures_room(page: Page, layout: Layout) -> int:
    return (layout.right_x or page.width) - layout.margin - 2


def _comes_off(view: WindView) -> bool:
    """It is known how many turns are to be taken off: the hand waits for that figure."""
    return view.phase is Phase.TAKING_OFF and view.count.off_turns is not None


def _draw_off(page: Page, view: WindView, layout: Layout, y: int, room: int) -> None:
    """What is still to be taken off, or that this is not known before it is measured."""
    if view.count.off_turns is None:
        words = "turns to take off: measure the coil to find out"
        page.put_rows(layout.margin, y, textwrap.wrap(words, room), Ink.STRONG)
        return
    figure, words = off_figure(view)
    y = _put_number(page, layout.margin, y, (figure, figure), layout.sizes[0], room)
    page.put(layout.margin, y, words, width=room)


def _left(view: WindView, low: int, high: int) -> tuple[int, int]:
    """Turns to go (or over the target), lowest and highest."""
    if view.count.truth.certainty is not Certainty.BETWEEN:
        left = abs(view.coil.target_turns - low)
        return left, left
    ends = sorted((abs(view.coil.target_turns - high), abs(view.coil.target_turns - low)))
    if low <= view.coil.target_turns <= high:
        return 0, ends[1]
    return ends[0], ends[1]


def _put_number(
    page: Page,
    x: int,
    y: int,
    bounds: tuple[int, int],
    size: Figures,
    room: int,
) -> int:
    """A figure, or two with "to" between, standing on the last row of its place; the row after."""
    drawn = _figures_for(size, bounds, room)
    low, high = bounds
    if drawn:
        page.put_rows(x, y + size.rows - drawn[0].rows, drawn[1], Ink.STRONG)
    else:
        text = number(low) if low == high else f"{number(low)} to {number(high)}"
        page.put(x, y + size.rows - 1, text, Ink.STRONG, width=room)
    return y + size.rows


def _figures_for(
    size: Figures, bounds: tuple[int, int], room: int
) -> tuple[Figures, list[str]] | None:
    """The largest figures, from ``size`` down, that have room, and their rows."""
    for figures in SIZES[SIZES.index(size) :]:
        rows = draw_bounds(figures, bounds)
        if len(rows[0]) <= room:
            return figures, rows
    return None


def _draw_progress(page: Page, view: WindView, layout: Layout) -> None:
    """How far, with the next planned pause marked; the guide's lane where no picture fits."""
    wide = page.width - 2 * layout.margin - 7
    target = max(1, view.coil.target_turns)
    low, _ = count_bounds(view)
    share = min(1.0, max(0.0, low / target))
    mark = None
    if view.motion.next_stop_is == "pause" and view.motion.next_stop_turns is not None:
        mark = (view.count.turns + view.motion.next_stop_turns) / target
    done, left = progress_bar(wide, share, mark)
    x = page.put(
        layout.margin, layout.progress_y, done, Ink.MOTION if turns_now(view) else Ink.STRONG
    )
    page.put(x, layout.progress_y, left, Ink.QUIET)
    page.put_right(page.width - layout.margin, layout.progress_y, f"{math.floor(share * 100)} %")
    if view.lay.guide_share is not None and not layout.below_y and layout.right_x:
        before, guide, after = lane(wide, view.lay.guide_share, view.lay.guide_rightward)
        y = layout.progress_y + 1
        x = page.put(layout.margin, y, before, Ink.QUIET)
        x = page.put(x, y, guide, Ink.MOTION if turns_now(view) else Ink.STRONG)
        page.put(x, y, after, Ink.QUIET)


def _speed_words(view: WindView) -> str:
    if view.phase is Phase.CONNECTING:
        return "not known yet"
    if view.phase is Phase.UNHEARD:
        return f"{number(round(view.motion.speed_rpm))} rpm when last heard"
    if view.phase in AT_REST and not moves(view) and view.motion.speed_rpm == 0:
        ahead = view.phase in (Phase.READY, Phase.PAUSED) and view.motion.planned_rpm > 0
        return "at rest" + (f", then {number(round(view.motion.planned_rpm))} rpm" if ahead else "")
    if view.motion.unwinds:
        return f"{number(abs(round(view.motion.speed_rpm)))} rpm backwards"
    planned = (
        f" of {number(round(view.motion.planned_rpm))} planned"
        if view.motion.planned_rpm > 0
        else ""
    )
    return f"{number(round(view.motion.speed_rpm))} rpm{planned}"


def _bands(view: WindView, at_the_end: str) -> tuple[tuple[str, Band | None], ...]:
    """The ohms, each with its name; of a coil that has all its turns there is only one."""
    now, end = view.ohm.now, view.ohm.end
    if now is not None and now == end:
        return (("ohm", now),)
    return (("ohm now", now), (at_the_end, end))


def _draw_below(page: Page, view: WindView, layout: Layout) -> None:
    """Below the progress bar: speed and ohms at the left, what happened at the right."""
    x, y = layout.margin, layout.below_y
    page.put(x, y, "speed", Ink.QUIET)
    page.put(x + 12, y, _speed_words(view))
    bar_wide = layout.right_x - x - 12 - 29
    for offset, (name, band) in enumerate(_bands(view, "at the end"), start=1):
        if band is not None:
            page.put(x, y + offset, name, Ink.QUIET)
            page.put(x + 12, y + offset, ohms(band[0]).rjust(6), Ink.STRONG)
            page.put(x + 20, y + offset, f"{ohms(band[1])} to {ohms(band[2])}")
            if bar_wide >= 9:
                page.put(x + 38, y + offset, band_bar(bar_wide, *band))
    last = page.height - layout.bottom - (2 if layout.bottom > 2 else 1)
    rows = max(0, last - y)
    if view.wire is not None and y + 3 <= last:
        page.put(x, y + 3, "wire", Ink.QUIET)
        page.put(x + 12, y + 3, _wire_words(view.wire), width=layout.right_x - x - 13)
    if view.phase in FINISHED:
        _draw_end(page, view, layout.right_x, y, last)
        return
    _draw_events(page, view, layout.right_x, y, rows, page.width - layout.right_x - layout.margin)


def _draw_events(page: Page, view: WindView, x: int, y: int, rows: int, width: int) -> None:
    """What happened, the newest last: as many as have room whole; only the newest may be cut."""
    shown: list[tuple[str, Ink]] = []
    for line in reversed(view.lines):
        ink = Ink.QUIET if shown else Ink.PLAIN
        wrapped = textwrap.wrap(plain_text(line), width)
        if len(wrapped) > rows - len(shown):
            if not shown:
                shown = [(part, ink) for part in wrapped[:rows]]
            break
        shown = [(part, ink) for part in wrapped] + shown
    for offset, (part, ink) in enumerate(shown):
        page.put(x, y + offset, part, ink)


def _draw_end(page: Page, view: WindView, x: int, y: int, last: int) -> None:
    """What is to be done with a coil that is wound, in place of what happened."""
    for step, how in AT_THE_END:
        if y > last:
            return
        if view.ohm.measured is not None and step == MEASURE:
            ohm, at_c = view.ohm.measured
            how = f"{ohm:g} ohm" + ("" if at_c is None else f" at {at_c:g} C")
        after = page.put(x, y, f"{step}", Ink.STRONG)
        page.put(after + 2, y, how, Ink.QUIET)
        y += 1


def _draw_right(page: Page, view: WindView, layout: Layout) -> None:
    """Beside the figures: the bobbin in section, or in narrow terminals the facts in words."""
    x, y = layout.right_x, layout.figures_y
    wide = page.width - x - layout.margin
    if layout.below_y:
        draw_lay(page, view, x, y, wide, layout.right_end_y - y)
        return
    page.put(x, y, "speed", Ink.QUIET)
    page.put(x, y + 1, _speed_words(view), width=wide)
    y += 3
    for name, band in _bands(view, "ohm at the end"):
        if band is not None:
            page.put(x, y, name, Ink.QUIET)
            text = f"{ohms(band[0])}, {ohms(band[1])} to {ohms(band[2])}"
            page.put(x, y + 1, text, width=wide)
            page.put(x, y + 2, band_bar(wide, *band))
            y += 4
    if view.coil.layers > 0 and view.lay.layer > 0 and view.lay.lane is None:  # the lane has it
        page.put(x, y, f"layer {view.lay.layer} of {view.coil.layers}", Ink.QUIET)
        y += 1
    if view.wire is not None:
        page.put(x, y, f"wire {_wire_words(view.wire)}", Ink.QUIET, width=wide)
        y += 1
    _draw_newest(page, view, x, y, layout.right_end_y, wide)


def _wire_words(wire: WireView) -> str:
    """What is on the spool, and the turns that it gives for sure; short, for a narrow terminal."""
    left = f"{wire.left_m:.0f} m"
    return left if wire.until_turns is None else f"{left}, {wire.until_turns:.0f}+ turns"


def _draw_newest(page: Page, view: WindView, x: int, top: int, last: int, width: int) -> None:
    """What happened last, ending on row ``last``; cut only where it is longer than the rows from ``top``."""
    wrapped = textwrap.wrap(plain_text(view.lines[-1]), width) if view.lines else []
    shown = wrapped[: max(0, last - top + 1)]
    page.put_rows(x, last + 1 - len(shown), shown, Ink.QUIET)


def _draw_lines(page: Page, view: WindView, notices: tuple[str, ...]) -> None:
    """A terminal too small for figures: the essentials as lines, keys last."""
    ink = Ink.MOTION_BLOCK if turns_now(view) else Ink.STRONG
    page.put(0, 0, f" {view.headline.upper()} ", ink)
    page.put(0, 1, counted(view))
    page.put(0, 2, f"{number(_left(view, *count_bounds(view))[1])} turns to go")
    if view.set_up:
        done = sum(line.done for line in view.set_up)
        page.put(0, 1, f"{done} of {len(view.set_up)} done")
        page.put(0, 2, " " * page.width)
    lines = textwrap.wrap(
        plain_text(notices[0] if notices else sentence(view.advice)), max(1, page.width)
    )
    page.put_rows(0, 3, lines[: max(0, page.height - 3 - KEY_ROWS)])
    draw_keys(page, view, max(0, page.height - KEY_ROWS), 0)
