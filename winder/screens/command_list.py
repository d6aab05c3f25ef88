"""Every command of the moment in one list, found by typing a part of its words.

The list holds what the screen's keys can do now and the topics of the help. Choosing a command is pressing its
key: whatever asks before something moves asks here too.
"""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.screen import ModalScreen, Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from firmware_protocol.records import dataclass
from winder.screens.face import GROUND, TEXT
from winder.screens.first_steps import STEPS
from winder.screens.forms import Dialogue
from winder.screens.keys import shown_keys
from winder.screens.moment_help import MEANS, key_lines
from winder.screens.plain import plain
from winder.screens.recipe_form import RecipeForm
from winder.screens.start_screen import StartScreen
from winder.screens.topics import TOPICS
from winder.screens.wind_screen import WindScreen

START = {
    **STEPS,
    "w": "wind the chosen recipe on the chosen port",
    "g": "continue the unfinished coil",
    "m": "teach the machine on the chosen port",
    "r": "refresh recipes, ports and shelf",
    "q": "leave the program",
}
FORM = {
    "ctrl+s": "save the recipe",
    "ctrl+e": "open the recipe in your editor",
    "escape": "leave the form",
}
ROWS_MAX = 12


@dataclass(frozen=True, slots=True)
class Command:
    """``key`` as the toolkit calls it, or the name of a topic."""

    words: str
    key: str = ""
    topic: str = ""


def commands_of(screen: Screen[object]) -> tuple[Command, ...]:
    """What can be done on a screen as it is now, then the topics."""
    found: list[Command] = []
    if isinstance(screen, WindScreen):
        told = {line.split()[0]: line.partition("  ")[2].strip() for line in key_lines(screen.view)}
        found = [
            Command(told[key.cap], key.names[0])
            for key in shown_keys(screen.view)
            if screen.view.phase in MEANS
        ]
    elif isinstance(screen, Dialogue):
        found = [Command(words, key) for key, words in screen.KEYS.items()]
    elif isinstance(screen, RecipeForm):
        found = [Command(words, key) for key, words in FORM.items()]
    elif isinstance(screen, StartScreen):
        found = [Command(words, key) for key, words in START.items()]
    return (*found, *(Command(f"help: {topic.title}", topic=topic.name) for topic in TOPICS))


class CommandList(ModalScreen[Command | None]):
    """Gives back the command that was chosen; None: none was."""

    CSS = f"""
    CommandList {{ align: center middle; background: transparent; }}
    CommandList OptionList, CommandList OptionList:focus {{
        height: auto; max-height: {ROWS_MAX}; background: {GROUND}; color: {TEXT}; border: none;
        padding: 0; scrollbar-size-vertical: 1; background-tint: {GROUND} 0%;
    }}
    CommandList OptionList > .option-list--option-highlighted {{
        background: {TEXT}; color: {GROUND}; text-style: bold;
    }}
    """

    def __init__(self, commands: tuple[Command, ...]) -> None:
        super().__init__()
        self._commands = commands
        self._shown = commands

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain("What would you like to do?"), classes="asking-title")
            yield Input(max_length=40)
            yield OptionList()
            yield Static(
                plain("Type to find   Enter does it   Esc goes back"), classes="asking-keys"
            )

    def on_mount(self) -> None:
        field = self.query_one(Input)
        field.cursor_blink = False
        field.focus()
        self.query_one(OptionList).can_focus = False
        self.query_one(OptionList).styles.max_height = max(
            3, min(ROWS_MAX, self.app.size.height - 9)
        )
        self._fill("")

    def on_input_changed(self, event: Input.Changed) -> None:
        self._fill(event.value)

    def on_input_submitted(self) -> None:
        place = self.query_one(OptionList).highlighted
        if self.is_current and place is not None and self._shown:
            self.dismiss(self._shown[place])

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if self.is_current:
            self.dismiss(self._shown[event.option_index])

    def on_key(self, event: events.Key) -> None:
        options = self.query_one(OptionList)
        if event.key == "escape":
            event.stop()
            if self.is_current:
                self.dismiss(None)
        elif event.key in ("up", "down"):
            event.stop()
            (options.action_cursor_up if event.key == "up" else options.action_cursor_down)()

    def _fill(self, typed: str) -> None:
        """The commands that have every word typed in them."""
        words = typed.lower().split()
        self._shown = tuple(
            each for each in self._commands if all(word in each.words.lower() for word in words)
        )
        options = self.query_one(OptionList)
        options.clear_options()
        options.add_options(
            [Option(plain(each.words)) for each in self._shown]
            or [Option(plain("nothing like that"))]
        )
        options.highlighted = 0
