"""The guide: how long a step is, how far it travels, and where it touches the flanges of a bobbin."""

from __future__ import annotations

import re
from dataclasses import replace

from firmware_protocol.messages import Side, TraverseMark, TraverseStep, Trip
from firmware_protocol.wire import Group

from .asking import agree, ask, done, measured, number, number_or_none, yes
from .bench import Tripped
from .dialogue import Deed
from .under_way import Lesson
from .wiring import write

GUIDE_MM = 20
STEP_MOST_MM = 50.0
STEPS_OFF_SHARE = 0.01  # of the length of a step: less is the caliper's own
PLAY_MM = 0.1  # between guide and caliper: more is play, or steps lost; our judgement, no source
MOVE_MOST_S = 60.0


def learn_guide(lesson: Lesson) -> None:
    _put_left(lesson, "Put the guide at its left end, then press Enter:")
    agree(lesson.person, f"Next the guide moves {GUIDE_MM} mm to the right.")
    moved_mm = _steps(lesson)
    lesson.learned.travel_mm = measured(lesson.person, lambda: _travel(lesson))
    if abs(moved_mm - GUIDE_MM) > STEPS_OFF_SHARE * GUIDE_MM and not lesson.keeps_settings:
        lesson.learned.travel_mm *= moved_mm / GUIDE_MM
    _touch_flanges(lesson)


def _put_left(lesson: Lesson, what: str) -> None:
    done(lesson.person, what, Deed.GUIDE_LEFT)
    board = lesson.board
    board.fresh_wind()
    board.must(board.make(TraverseMark, side=Side.LEFT, at_um=0))


# --- the length of a step -----------------------------------------------------------------------------


def _steps(lesson: Lesson) -> float:
    """How far 20 mm of the board's are; where it keeps settings they are put right."""
    _go(lesson, GUIDE_MM)
    moved_mm = number(lesson.person, "How far did it move, in mm, by your caliper?")
    if abs(moved_mm - GUIDE_MM) <= STEPS_OFF_SHARE * GUIDE_MM:
        lesson.tell(f"{moved_mm:g} mm of {GUIDE_MM}: the length of a step is right.")
    elif lesson.keeps_settings and moved_mm:
        content = lesson.board.read_settings()
        step_pm = max(round(content.step_pm * moved_mm / GUIDE_MM), 1)
        travel_steps = max(round(content.travel_steps * content.step_pm / step_pm), 1)
        write(lesson.board, replace(content, step_pm=step_pm, travel_steps=travel_steps))
        lesson.tell("The board's steps were off; it now knows how long they are.")
        _put_left(lesson, "Put the guide back at its left end, then press Enter:")
    else:
        factor = GUIDE_MM / moved_mm if moved_mm else 0.0
        lesson.tell(
            f"The board's steps are off. Multiply its steps per metre by {factor:.4f} before you wind with the guide."
        )
    return moved_mm


# --- led by the person ----------------------------------------------------------------------------------


def _travel(lesson: Lesson) -> float:
    """From the left end, where it was marked, to the right one."""
    place_mm, stopped = _lead(lesson, "its right end, not against a stop")
    if stopped:
        lesson.tell("That is as far as the board lets it go.")
    lesson.tell(f"It travels {place_mm:.1f} mm.")
    return place_mm


def _touch_flanges(lesson: Lesson) -> None:
    width_mm = number_or_none(
        lesson.person,
        "Put a bobbin on. How wide is it between the flanges, in mm by your caliper (just Enter skips this)?",
    )
    if width_mm is None:
        lesson.tell("Not tried: whether guide and caliper agree from flange to flange.")
        return

    def touched() -> None:
        left_mm, _ = _lead(lesson, "the left flange, until it just touches")
        right_mm, _ = _lead(lesson, "the right flange, until it just touches")
        off_mm = right_mm - left_mm - width_mm
        lesson.tell(
            f"From flange to flange {right_mm - left_mm:.2f} mm by the guide, {width_mm:g} mm by your caliper: "
            f"{abs(off_mm):.2f} mm apart."
        )
        if abs(off_mm) > PLAY_MM + STEPS_OFF_SHARE * width_mm:
            lesson.tell(
                "That is more than a caliper errs. Look for play in the screw or belt, or drive it slower."
            )

    measured(lesson.person, touched)


def _lead(lesson: Lesson, where: str) -> tuple[float, bool]:
    """By typed millimetres; its place at the end, and whether the board stopped it at its end of travel."""
    stopped = False
    while True:
        told = ask(
            lesson.person,
            f"Lead the guide to {where}. Type millimetres and it moves at once, - is to the left; just Enter: it is there.",
        )
        if not told:
            return lesson.board.newest.traverse_um / 1000, stopped
        if not re.fullmatch(r"[+-]?[0-9]{1,2}(\.[0-9]{1,3})?", told):
            lesson.tell(f"'{told[:20]}' is no distance; write 5 or -0.2.")
        elif round(abs(float(told)) * 1000) and abs(float(told)) <= STEP_MOST_MM:
            stopped = _go(lesson, float(told))
        else:
            lesson.tell(f"From 0.001 to {STEP_MOST_MM:g} mm at a time.")


def _go(lesson: Lesson, distance_mm: float) -> bool:
    """Moves it; whether it came to the end of its travel."""
    board = lesson.board
    try:
        board.move(
            lambda: board.make(TraverseStep, distance_um=round(distance_mm * 1000)), MOVE_MOST_S
        )
    except Tripped:
        if board.newest.trip is not Trip.TRAVERSE_LIMIT:
            raise
        if not yes(lesson.person, "The guide is at the end of its travel. Clear the trip?"):
            raise
        board.clear_trip()
        return True
    lesson.tell(f"It stands at {board.newest.traverse_um / 1000:.2f} mm.")
    return False


def has_guide(lesson: Lesson) -> bool:
    return lesson.board.has(Group.TRAVERSE)
