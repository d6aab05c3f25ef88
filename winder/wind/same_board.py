"""Is it still the board that counted the turns so far? A board with settings is asked its own lasting number.

The first answer is kept, in the journal too. After a reset, a lost session or a port that was opened again the board is
asked anew, and what it says is not believed before it has told its number: boards with equal settings look alike in
every other way. What has no number cannot be told apart.
"""

from __future__ import annotations

from firmware_protocol.settings import ReadSettings
from firmware_protocol.wire import Group
from winder.clock import NS_PER_MS

from .course import Course

ASKS_EVERY_NS = 300 * NS_PER_MS
ASKS_MOST = 10  # a line may swallow a frame
NOT_TOLD = "the board does not tell its number; reset it, then continue this coil"


class SameBoard:
    """``number``: of the board that counted; None: not known yet. ``holds``: it has to be known before anything goes on."""

    def __init__(self, course: Course, number: int | None) -> None:
        self._course = course
        self.number = number
        self.holds = False
        self._left = 0  # askings
        self._next_ns = 0

    def meet(self) -> None:
        """The first welcome: asked beside all else."""
        if self.number is None and self._keeps_number:
            self._ask()

    def meet_again(self) -> bool:
        """Whether the number of a board that was lost has to be waited for."""
        self.holds = self.number is not None
        if self.holds:
            self._ask()
        return self.holds

    @property
    def _keeps_number(self) -> bool:
        welcome = self._course.board.welcome
        return welcome is not None and welcome.groups[Group.SETTINGS - 1] > 0

    def _ask(self) -> None:
        self._left, self._next_ns = ASKS_MOST, self._course.now_ns
        self.tick()

    def tick(self) -> bool:
        """Asks again; False: it was asked often enough, and what waits for the answer waits in vain."""
        if self._course.now_ns < self._next_ns:
            return True
        self._next_ns = self._course.now_ns + ASKS_EVERY_NS
        if self._left:
            self._left -= 1
            self._course.requests.append(ReadSettings())
            return True
        given_up, self.holds = self.holds, False
        return not given_up

    def hear(self, number: int) -> str:
        """What to say where it is another board; "" where it is the same, or the first that says it."""
        self._left, self.holds = 0, False
        course = self._course
        if self.number is None:
            self.number = number
            if course.board.opened:
                course.tell("link", f"the board's number is {number:08x}", board_number=number)
        if number == self.number:
            return ""
        return (
            f"this is another board, number {number:08x}; number {self.number:08x} counted this coil. "
            "Plug that one in, then continue the coil"
        )
