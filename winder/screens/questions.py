"""The small screens that a wind's keys open, and what becomes of their answers.

Nothing here is asked of the machine but through ``ask``; what would turn the spindle goes through ``arm`` instead, which
only prepares it.
"""

from __future__ import annotations

from collections.abc import Callable

from textual.app import App

from winder.errors import WinderError
from winder.screens.asking import AskNote, AskNumber, AskReading, AskTurns, AskYes
from winder.screens.plain import plain_text
from winder.screens.words import counted, number
from winder.service.estimating import said_reading
from winder.wind.model import Asked, Intent, Phase, TurnsOff, WindView

NOTE_AT_REST = "Stop first to write a note: press space to pause, then n."
HOMING = "The guide moves by itself, fast, to its limit switch and back to the flange. Fingers, hair and wire out of its way. Space stops it."
WIRE_OUT = "Take the wire out of it first."
TURNS_COMPLAINT = "Not a number of turns; write for example 12 or 12.5"


class Questions:
    """Opens a screen for each intent that needs words or a yes; keeps the draft of a note."""

    def __init__(
        self,
        app: Callable[[], App[int]],
        ask: Callable[[Asked], None],
        arm: Callable[[Asked], None],
        refuse: Callable[[str], None],
    ) -> None:
        self.note_draft = ""
        self._app, self._ask, self._arm, self._refuse = app, ask, arm, refuse

    def open(self, intent: Intent, view: WindView, *, moving: bool) -> bool:
        """Whether this intent is asked for by a screen of its own, which is open now."""
        push = self._app().push_screen
        if intent is Intent.NOTE and moving:  # its blanks would stop the machine
            self._refuse(NOTE_AT_REST)
        elif intent is Intent.NOTE:
            push(AskNote(self.note_draft), self._note_given)
        elif intent is Intent.SETTLE_COUNT:
            push(AskTurns(counted(view)), self._turns_given)
        elif intent is Intent.MEASURED:
            push(AskReading(), self._reading_given)
        elif intent is Intent.TURNS_OFF:
            said = "These were not counted by the board; your number is used."
            push(
                AskNumber("How many turns were taken off?", said, TURNS_COMPLAINT),
                self._turns_off_given,
            )
        elif intent is Intent.TAKE_OFF:
            push(self._take_off(view), self._take_off_given)
        elif intent is Intent.ADOPT_TURNS:
            self._open_adopt(view)
        elif intent is Intent.END_HERE:
            question = f"End this wind here? {how_far(view)} It cannot be continued."
            push(AskYes(question, "end here"), self._yes_to(Intent.END_HERE))
        elif intent is Intent.SET_TENSION:
            said = "The wire's tension, in cN (1 cN is about 1 gram-force); 0 if by feel."
            complaint = "Write for example 12 or 12.5"
            push(AskNumber("How hard is the wire held?", said, complaint), self._tension_given)
        else:
            return False
        return True

    def leaving(self, view: WindView, leave: Callable[[], None]) -> None:
        """Leave, after a yes where something would be left behind."""
        if view.phase is Phase.UNHEARD:
            does = "it comes to rest by itself" if view.board_stops else "nothing counts your turns"
            question = f"No signal from the board; {does}. Leave without it?"
        elif view.phase in (Phase.PAUSED, Phase.TAKING_OFF, Phase.TRIPPED):
            question = f"Leave this wind? {how_far(view)}"
        else:
            leave()
            return
        self._app().push_screen(AskYes(question, "leave"), lambda yes: leave() if yes else None)

    def homing(self, view: WindView, go: Callable[[], None]) -> None:
        """Let the guide go home, after a yes."""
        question = HOMING if view.lay.wire_mm is None else f"{HOMING} {WIRE_OUT}"
        ask = AskYes(question, "find its home")
        self._app().push_screen(ask, lambda yes: go() if yes else None)

    def _take_off(self, view: WindView) -> AskNumber:
        off = view.count.off_turns
        draft = f"{off:g}" if off is not None and off > 0 else ""
        said = "The spindle turns back slowly. Keep hands clear; take up the wire as it comes off."
        question = "How many turns should it turn back?"
        return AskNumber(question, said, TURNS_COMPLAINT, draft=draft, enter="goes on")

    def _open_adopt(self, view: WindView) -> None:
        if view.ohm.offered_turns is not None:
            new, old = number(view.ohm.offered_turns), number(view.coil.target_turns)
            question = f"Wind to {new} turns instead of {old}?"
            self._app().push_screen(AskYes(question, "adopt"), self._yes_to(Intent.ADOPT_TURNS))

    def _yes_to(self, intent: Intent) -> Callable[[bool | None], None]:
        return lambda yes: self._ask(Asked(intent)) if yes else None

    def _note_given(self, text: str | None) -> None:
        self.note_draft = ""
        if text:
            self._ask(Asked(Intent.NOTE, plain_text(text)))

    def _turns_given(self, turns: float | None) -> None:
        if turns is not None:
            self._ask(Asked(Intent.SETTLE_COUNT, turns))

    def _tension_given(self, numbers: tuple[float, ...] | None) -> None:
        if numbers is not None:
            self._ask(Asked(Intent.SET_TENSION, numbers[0]))

    def _turns_off_given(self, numbers: tuple[float, ...] | None) -> None:
        if numbers is not None:
            self._ask(Asked(Intent.TURNS_OFF, TurnsOff(numbers[0])))

    def _take_off_given(self, numbers: tuple[float, ...] | None) -> None:
        if numbers is not None:
            self._arm(Asked(Intent.TAKE_OFF, numbers[0]))

    def _reading_given(self, text: str | None) -> None:
        if text is None:
            return
        try:
            self._ask(Asked(Intent.MEASURED, said_reading(plain_text(text))))
        except WinderError as wrong:
            self._refuse(f"{wrong.what}; {wrong.remedy}" if wrong.remedy else wrong.what)


def how_far(view: WindView) -> str:
    count = counted(view)
    return f"{count[0].upper()}{count[1:]}, of {number(view.coil.target_turns)}."
