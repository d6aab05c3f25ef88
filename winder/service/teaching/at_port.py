"""A whole lesson: the port opened, the machine taught, its file written, and remembered."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from firmware_protocol.messages import Status
from firmware_protocol.records import dataclass
from winder.clock import SystemClock
from winder.errors import UserMistake
from winder.files.whole_file import write_new_file
from winder.service.bench_port import BenchPort, open_bench_port
from winder.service.recognising import remember_taught, who_is

from . import lesson
from .bench import TaughtBoard
from .dialogue import Person, Question
from .simulated import lend_hands
from .written import checked, machine_text

SCREENS_S = 0.0005  # a machine in virtual time leaves a screen no moment of its own


@dataclass(frozen=True, slots=True)
class Wish:
    """What to teach: the board at ``port``, into ``file``. ``wiring``: what is wired is asked again."""

    port: str
    file: Path
    wiring: bool = False
    baud: int | None = None

    def refuse_taken(self) -> None:
        """Raises ``UserMistake`` where the file is there already."""
        if self.file.exists():
            raise UserMistake(
                "already exists and is not overwritten",
                where=str(self.file),
                remedy="name a new file, or move this one away",
            )


def teach_at(wish: Wish, person: Person) -> str:
    """Writes the machine file; a sentence on what became of it. Raises ``WinderError``: then nothing was written."""
    wish.refuse_taken()
    at = open_bench_port(wish.port, baud=wish.baud)
    try:
        board = TaughtBoard(at.link, at.clock, wish.port)
    except BaseException:
        at.link.close()
        raise
    try:
        learned = lesson.teach(board, _at(at, person), wiring=wish.wiring)
        who = who_is(board)
    finally:
        board.close()
    text = machine_text(learned, wish.port, board.welcome.board)
    checked(text, wish.file)
    write_new_file(wish.file, text, "machine file")
    if at.simulated is not None:
        return f"{wish.file} is written."
    remark = remember_taught(wish.port, who, wish.file)
    told = f"{wish.file} is written. From now on 'winder wind RECIPE' finds this machine."
    return f"{told} {remark}".rstrip()


def _at(at: BenchPort, person: Person) -> Person:
    """At the simulated bench hands are lent, for nobody stands there."""
    return person if at.simulated is None else _Lent(person, lend_hands(at.simulated))


class _Lent:
    """The same person, whose hands are the simulated bench's."""

    def __init__(self, person: Person, hands: Callable[[Question], None]) -> None:
        self._person, self._hands = person, hands
        self._clock = SystemClock()
        self.begin, self.tell = person.begin, person.tell

    def watch(self, status: Status | None) -> bool:
        self._clock.sleep_s(SCREENS_S)
        return self._person.watch(status)

    def ask(self, question: Question) -> str:
        told = self._person.ask(question)
        self._hands(question)
        return told
