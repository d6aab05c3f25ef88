"""Guard, wire sensor, pedal and stop switch: moved one way and back, and does the board see it?"""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import Flag, Has, State
from firmware_protocol.vocabulary import PedalFlag, Wired
from winder.errors import WinderError

from .asking import done, yes
from .dialogue import Deed
from .under_way import Lesson
from .writing import write

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
    _take_off(lesson, Wired.WIRE_SENSOR, what)
    lesson.tell(
        "The wire sensor is switched off in the board, on the cautious side. A broken wire will not stop the spindle. "
        "Once the sensor is fixed, teach again with --wiring."
    )


def learn_foot(lesson: Lesson) -> None:
    """The pedal, then the stop switch, as far as they are wired. A pedal that is not seen goes off the board's list.

    Raises ``WinderError`` for a stop switch that is not seen: who relies on it must know.
    """
    has = lesson.board.welcome.has
    if has & Has.PEDAL:
        lesson.learned.pedal = _learn_pedal(lesson)
    if has & Has.STOP_INPUT:
        _learn_stop(lesson)


def _learn_pedal(lesson: Lesson) -> bool:
    while True:
        pressed = _pressed(
            lesson, "Press the foot pedal and stay on it, then press Enter:", Deed.PEDAL_DOWN
        )
        released = not _pressed(
            lesson, "Take your foot off the pedal, then press Enter:", Deed.PEDAL_UP
        )
        if pressed and released:
            lesson.tell("The board sees the pedal pressed and let go.")
            return True
        what = "still sees the pedal pressed" if pressed else "does not see the pedal pressed"
        if not yes(lesson.person, f"The board {what}. Look at its contact. Try it again?"):
            break
    _take_off(lesson, Wired.PEDAL, what)
    lesson.tell(
        "The pedal is switched off in the board: nothing starts by foot. Once it is fixed, teach again."
    )
    return False


def _pressed(lesson: Lesson, what: str, deed: Deed) -> bool:
    done(lesson.person, what, deed)
    lesson.board.hear(SEES_S)
    pedal = lesson.board.pedal
    return pedal is not None and bool(pedal.flags & PedalFlag.PRESSED)


def _learn_stop(lesson: Lesson) -> None:
    while True:
        pressed = _seen(
            lesson, "Press the stop switch, then press Enter:", Deed.STOP_IN, Flag.STOP_PRESSED
        )
        still = _seen(
            lesson,
            "Pull the stop switch out again, then press Enter:",
            Deed.STOP_OUT,
            Flag.STOP_PRESSED,
        )
        if pressed and not still:
            lesson.tell("The board sees the stop switch pressed and pulled out.")
            return
        what = "still sees the stop switch pressed" if pressed else "does not see the stop switch"
        if not yes(lesson.person, f"The board {what}. Look at its contact. Try it again?"):
            raise WinderError(
                f"the board {what}: it would stop nothing",
                where=lesson.board.port,
                remedy="fix the switch or its wire, or say that there is none; then teach it again",
            )


def _take_off(lesson: Lesson, wired: Wired, what: str) -> None:
    """Off the board's list of what is wired. ``WinderError`` where the board keeps no such list."""
    if not lesson.keeps_settings:
        raise WinderError(
            f"the board {what}",
            where=lesson.board.port,
            remedy="fix it, or make the board know of none; then teach it again",
        )
    content = lesson.board.read_settings()
    write(lesson.board, replace(content, inputs=int(content.inputs) & ~int(wired)))


def _seen(lesson: Lesson, what: str, deed: Deed, flag: Flag) -> bool:
    done(lesson.person, what, deed)
    lesson.board.hear(SEES_S)
    return bool(lesson.board.newest.flags & flag)
