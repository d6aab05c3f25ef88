"""The lesson: one step after the other, each told with what was found, and kept or measured again."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from firmware_protocol.messages import Has

from .asking import ask
from .bench import TaughtBoard
from .by_hand import learn_bounce, learn_counts
from .dialogue import Person, Step
from .guide import has_guide, learn_guide
from .inputs import learn_foot, learn_guard, learn_wire
from .keeping import keep_figures
from .motor import learn_curve, learn_direction, learn_slow_start, learn_speed, learn_steady
from .proof import prove
from .under_way import Lesson
from .wiring import wire_up
from .written import Learned


class Part(NamedTuple):
    """``when``: asked as the step comes up, for what is wired is known only then."""

    step: Step
    learn: Callable[[Lesson], None]
    when: Callable[[Lesson], bool]


def teach(board: TaughtBoard, person: Person, *, wiring: bool = False) -> Learned:
    """Everything that this machine's file must say. Raises ``WinderError``; then nothing was learned.

    What is wired to the board is asked where it does not know, or with ``wiring``.
    """
    lesson = Lesson(board, person, anew=wiring)
    board.watch = person.watch
    for place, part in enumerate(PARTS):
        if part.when(lesson):
            coming = tuple(later.step for later in PARTS[place + 1 :] if later.when(lesson))
            person.begin(part.step, coming)
            part.learn(lesson)
    return lesson.learned


def _name(lesson: Lesson) -> None:
    lesson.learned.name = ask(lesson.person, "What do you call this machine?") or "my machine"


def _wiring(lesson: Lesson) -> None:
    lesson.told = wire_up(lesson.board, lesson.person, anew=lesson.anew)


def _counts(lesson: Lesson) -> None:
    lesson.learned.motor = lesson.drives
    learn_counts(lesson)
    has = lesson.board.welcome.has
    lesson.learned.senses_direction = bool(has & Has.DIRECTION_SENSE)
    lesson.learned.limit_switch = bool(has & Has.LIMIT_SWITCH)


def _drives(lesson: Lesson) -> bool:
    return lesson.drives


def _wired(has: Has) -> Callable[[Lesson], bool]:
    return lambda lesson: lesson.drives and bool(lesson.board.welcome.has & has)


PARTS = (
    Part(Step.NAME, _name, lambda _: True),
    Part(Step.WIRING, _wiring, lambda lesson: lesson.keeps_settings),
    Part(Step.COUNTS, _counts, lambda _: True),
    Part(
        Step.BOUNCE, learn_bounce, lambda lesson: bool(lesson.implausible and lesson.keeps_settings)
    ),
    Part(Step.DIRECTION, learn_direction, lambda lesson: not lesson.drives),
    Part(Step.GUARD, learn_guard, _wired(Has.GUARD)),
    Part(Step.WIRE, learn_wire, _wired(Has.WIRE_SENSOR)),
    Part(Step.FOOT, learn_foot, _wired(Has.PEDAL | Has.STOP_INPUT)),
    Part(Step.SLOW, learn_slow_start, _drives),
    Part(Step.SPEED, learn_speed, _drives),
    Part(Step.STEADY, learn_steady, _drives),
    Part(Step.CURVE, learn_curve, _drives),
    Part(Step.GUIDE, learn_guide, lambda lesson: lesson.drives and has_guide(lesson)),
    Part(Step.KEEP, keep_figures, lambda lesson: lesson.drives and lesson.keeps_settings),
    Part(Step.PROOF, prove, _drives),
)
