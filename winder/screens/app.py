"""The terminal program: one tick, one place that sees every key first, one careful way out.

The toolkit hands a printable key to the widget that has the focus before anything else, so a stop
key cannot be a binding: ``on_event`` looks at each key before any screen, input or dialogue does.
Once slows the spindle down, once more, or holding the key, cuts the power to the motor. Leaving is the
same whichever key asks for it: if something moves it stops, the screen says so and goes when it is at
rest; asked again it cuts, and a third time it goes at once, and the board's lease brings it to rest.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import events
from textual.app import App
from textual.binding import BindingType
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input

from firmware_protocol.seam import Clock
from winder.clock import SystemClock
from winder.errors import WinderError
from winder.screens.bench import WindRun, Workbench
from winder.screens.calls import RINGS, Caller, Calling
from winder.screens.command_list import Command, CommandList, commands_of
from winder.screens.face import BRIGHT, GROUND, QUIET, TEXT
from winder.screens.keys import STOP_KEYS
from winder.screens.moment_help import MomentHelp, help_for
from winder.screens.recipe_form import RecipeForm
from winder.screens.start_screen import StartScreen
from winder.screens.teach_screen import TeachScreen
from winder.screens.topics import topic_named
from winder.screens.wind_screen import WindScreen
from winder.wind.model import Phase

TICK_S = 1 / 15  # fast enough for the eye, far younger than the second the sign of life allows
CLOSE_WAIT_S = 3.0  # a spindle slows down, the journal is committed
GOINGS_MAX = 2  # slow down, cut; the next time the program goes at once
EXIT_KEYS = frozenset({"ctrl+c", "ctrl+q"})
LEFT_IN_TROUBLE = frozenset(phase for phase in Phase if phase.moves) | {
    Phase.TRIPPED,
    Phase.ALARM,
    Phase.UNHEARD,
    Phase.LOST,
}


STYLE = f"""
Screen, ModalScreen {{ background: {GROUND}; color: {TEXT}; }}
AskNote, AskCount, AskTurns, AskNumber, AskReading, AskYes, ShowFinding {{ align: center bottom; background: transparent; }}
.asking {{
    width: 64; max-width: 94%; height: auto; padding: 0 2;
    background: {GROUND}; border: heavy {BRIGHT}; margin-bottom: 3;
}}
.asking-title {{ text-style: bold; color: {BRIGHT}; }}
#cautions .asking-title {{ margin-bottom: 1; }}
.asking-keys {{ color: {BRIGHT}; margin-top: 1; text-style: bold; }}
.asking Input, .asking Input:focus {{
    border: none; border-left: heavy {BRIGHT}; background: {GROUND}; color: {BRIGHT}; height: 1;
    padding: 0 1; background-tint: {GROUND} 0%;
}}
Input > .input--selection {{ background: {TEXT}; color: {GROUND}; }}
.caution {{ margin-bottom: 1; padding: 0 2; border-left: heavy {QUIET}; }}
.close Input > .input--selection {{ background: {TEXT}; color: {GROUND}; }}
.caution {{ margin-bottom: 0; }}
#cautions, #record {{ width: 1fr; max-width: 100; height: 1fr; padding: 1 3; }}
#cautions.tight {{ padding: 0 1; }}
AskCautions, ShowRecord {{ align: center top; }}
#cautions VerticalScroll, #record VerticalScroll {{ height: 1fr; }}
VerticalScroll {{ scrollbar-color: {QUIET}; scrollbar-background: {GROUND}; scrollbar-size: 1 1; }}
"""


class Farewell(Message):
    """The terminal or the system asked the program to go; the wind was closed already."""


class WinderApp(App[int]):
    """A wind, a lesson, or the workbench with both one after the other."""

    CSS = STYLE
    ENABLE_COMMAND_PALETTE = False  # its quit and its keys would be a second way past the stop key
    ESCAPE_TO_MINIMIZE = False
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(
        self,
        run: WindRun | None = None,
        workbench: Workbench | None = None,
        clock: Clock | None = None,
        *,
        cautions_accepted: bool = False,
        calling: Calling = RINGS,
        lesson: TeachScreen | None = None,
    ) -> None:
        super().__init__()
        assert run is not None or workbench is not None or lesson is not None
        self.lesson: TeachScreen | None = None
        self._first_lesson = lesson
        self.title = "winder"
        self.wind: WindScreen | None = None
        self.cautions_accepted = cautions_accepted
        self._first_run = run
        self._workbench = workbench
        self.clock: Clock = clock or SystemClock()
        self._calling = calling
        self._goings = 0  # how often a person asked to leave

    def on_mount(self) -> None:
        if self._workbench is not None:
            self.push_screen(StartScreen(self._workbench))
        if self._first_run is not None:
            run, self._first_run = self._first_run, None
            self.begin(run)
        if self._first_lesson is not None:
            self.teach(self._first_lesson, lambda _: self.exit(0))
        self.set_interval(TICK_S, self.tick)

    def teach(self, lesson: TeachScreen, told: Callable[[str], None]) -> None:
        """Show a lesson; ``told`` gets what became of it once its screen is closed."""

        def closed(ended: str | None) -> None:
            self.lesson = None
            told(ended or "")

        self.lesson = lesson
        self.push_screen(lesson, closed)

    def begin(self, run: WindRun) -> None:
        """Show a wind."""
        caller = Caller(self._calling, self.bell)
        self.wind = WindScreen(run, self.clock, caller, cautions_accepted=self.cautions_accepted)
        self.push_screen(self.wind)

    @property
    def run_under_way(self) -> WindRun | None:
        return self.wind.run_of_wind if self.wind is not None else self._first_run

    def tick(self) -> None:
        wind = self.wind
        if wind is None or not wind.is_mounted or not self.screen_stack:
            return  # no wind yet, or the app is on its way out
        wind.pull()
        self.cautions_accepted = wind.cautions_accepted
        if wind.may_go:
            self._end_wind(wind)

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and not event.is_forwarded and self._taken(event.key):
            return
        await super().on_event(event)

    def careful_exit(self) -> None:
        """Leave the program: at once when nothing moves, else when it is at rest; the second time cuts the motor."""
        wind = self.wind
        if self.lesson is not None and not self.lesson.over and self._goings < GOINGS_MAX:
            self._goings += 1
            self.lesson.lesson.leave()  # and what moves is stopped; then its screen says so
            return
        if wind is None:
            self.exit(0)
            return
        self._goings += 1
        if self._goings == 1:
            wind.leave()
        else:
            wind.stop()
        if wind.may_go or self._goings > GOINGS_MAX:
            self._go(wind)

    async def action_quit(self) -> None:
        self.careful_exit()

    def action_help_quit(self) -> None:
        self.careful_exit()

    def on_farewell(self) -> None:
        self.exit(1, return_code=1)

    def _taken(self, key: str) -> bool:
        """Whether a key was for the program as a whole: leaving, or stopping the machine."""
        wind = self.wind
        if key in EXIT_KEYS:
            held = wind is not None and wind.is_held(key)
            if not held or self._goings < GOINGS_MAX:  # held, it cuts the motor and does not go
                self.careful_exit()
            return True
        if wind is not None and key in STOP_KEYS and (wind.may_move or self.screen is wind):
            wind.stop()
            return True
        if self.lesson is not None and key in STOP_KEYS and self.lesson.moves:
            self.lesson.stop()
            return True
        form = self.screen
        return (isinstance(form, RecipeForm) and form.take(key)) or self._helped(key)

    def _helped(self, key: str) -> bool:
        """Help, or the list of commands, over a screen that asks nothing; a ? that is typed is a sign."""
        typing = isinstance(self.focused, Input)
        if isinstance(self.screen, ModalScreen):
            return False
        if key == "f1" or (key == "question_mark" and not typing):
            self.push_screen(MomentHelp(*help_for(self.screen)))
        elif key == "ctrl+p":
            self.push_screen(CommandList(commands_of(self.screen)), self._commanded)
        else:
            return False
        return True

    def _commanded(self, command: Command | None) -> None:
        """What was chosen from the list: its key is pressed, or its topic shown."""
        if command is None:
            return
        topic = topic_named(command.topic)
        if topic is not None:
            self.push_screen(MomentHelp(topic.title, topic.text))
        else:
            self.simulate_key(command.key)

    def _end_wind(self, wind: WindScreen) -> None:
        """Back to the workbench, or out of the program."""
        if self._goings or self._workbench is None:
            self._go(wind)
            return
        wind.run_of_wind.close(CLOSE_WAIT_S)
        trouble = wind.run_of_wind.trouble
        self.wind = None
        self.pop_screen()
        start = self.screen
        if isinstance(start, StartScreen):
            start.reload(str(trouble) if isinstance(trouble, WinderError) else "")

    def _go(self, wind: WindScreen) -> None:
        phase = wind.run_of_wind.view.phase
        done = (
            phase not in LEFT_IN_TROUBLE if self._workbench is not None else phase is Phase.COMPLETE
        )
        code = 0 if done else 1
        self.exit(code, return_code=code)
