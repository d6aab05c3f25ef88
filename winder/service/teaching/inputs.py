"""Guard and wire sensor: opened and closed, put in and taken out, and does the board see it?"""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import Flag, State
from firmware_protocol.vocabulary import Wired
from winder.errors import WinderError

from .asking import done, yes
from .dialogue import Deed
from .under_way import Lesson
from .wiring import write

SEES_S = 1.0


def learn_guard(lesson: Lesson) -> None:
    """Raises ``WinderError`` where the board does not see it: nothing may turn then."""
    while True:
        opened = _seen(
            lesson, "Open the guard, then press Enter:", Deed.OPEN_GUARD, Flag.GUARD_OPEN
        )
        closed = _seen(
            lesson, "Close the guard, then press Enter:", Deed.CLOSE_GUARD, Flag.GUARD_OPEN
        )
        if opened and not closed:
            lesson.tell("The board sees the guard open and close.")
            if lesson.board.newest.state is State.TRIPPED:
                lesson.board.clear_trip()
            return
        what = "does not see it open" if not opened else "still sees it open"
        if not yes(lesson.person, f"The board {what}. Look at its switch. Try it again?"):
            raise WinderError(
                f"the board {what}: the guard's switch protects nobody",
                where=lesson.board.port,
                remedy="fix the switch or its wire; no machine file was written; then teach it again",
            )


def learn_wire(lesson: Lesson) -> None:
    """A sensor that does not see is taken off the board's list: nobody shall rely on it."""
    while True:
        out = _seen(
            lesson, "Take the wire out of its sensor, then press Enter:", Deed.WIRE_OUT, Flag.WIRE_PRESENT
        )  # fmt: skip
        there = _seen(
            lesson,
            "Put a piece of wire into its sensor and leave it there for the whole lesson, then press Enter:",
            Deed.WIRE_IN,
            Flag.WIRE_PRESENT,
        )
        if there and not out:
            lesson.tell("The board sees the wire come and go.")
            return
        what = "does not see the wire" if not there else "sees a wire where there is none"
        if not yes(lesson.person, f"The board {what}. Look at the sensor. Try it again?"):
            break
    if not lesson.keeps_settings:
        raise WinderError(
            f"the board {what}",
            where=lesson.board.port,
            remedy="fix the sensor, or make the board know of none; then teach it again",
        )
    content = lesson.board.read_settings()
    write(lesson.board, replace(content, inputs=int(content.inputs) & ~int(Wired.WIRE_SENSOR)))
    lesson.tell(
        "The wire sensor is switched off in the board, on the cautious side. A broken wire will not stop the spindle. "
        "Once the sensor is fixed, teach again with --wiring."
    )


def _seen(lesson: Lesson, what: str, deed: Deed, flag: Flag) -> bool:
    done(lesson.person, what, deed)
    lesson.board.hear(SEES_S)
    return bool(lesson.board.newest.flags & flag)
