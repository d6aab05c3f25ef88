"""The workbench: what can be wound, on which port, and the shelf of coils made.

Winds that did not end properly are told first, because somebody has to look at them. Choosing a
recipe and a port opens a wind; nothing moves until it is started on the wind's own screen.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from winder.errors import WinderError
from winder.screens.asking import ShowRecord
from winder.screens.bench import RecipeEntry, ShelfEntry, Workbench
from winder.screens.face import BRIGHT, GROUND, QUIET, TEXT
from winder.screens.figures import draw_word
from winder.screens.plain import plain, plain_text

if TYPE_CHECKING:
    from winder.screens.app import WinderApp

KEYS = "Tab next list   Enter choose   w wind it   r look again   q leave"
UNFINISHED_SHOWN = 3  # the newest; the shelf has them all


class StartScreen(Screen[None]):
    CSS = f"""
    #name {{ height: 3; color: {BRIGHT}; margin: 1 3 0 3; }}
    #told {{ height: auto; margin: 1 3 0 3; color: {BRIGHT}; }}
    #lists {{ height: 1fr; margin: 1 3 0 3; }}
    #recipes-side {{ width: 3fr; }}
    #ports-side {{ width: 2fr; margin-left: 3; }}
    .list-name {{ color: {QUIET}; height: 1; }}
    OptionList, OptionList:focus {{
        background-tint: {GROUND} 0%;
        border: none; background: {GROUND}; color: {TEXT}; height: 1fr; padding: 0;
        scrollbar-size-vertical: 1; scrollbar-color: {QUIET}; scrollbar-background: {GROUND};
    }}
    OptionList > .option-list--option {{ padding: 0 1; }}
    OptionList > .option-list--option-highlighted {{
        background: {GROUND}; color: {BRIGHT}; text-style: bold;
    }}
    OptionList:focus > .option-list--option-highlighted {{
        background: {TEXT}; color: {GROUND}; text-style: bold;
    }}
    #shelf-side {{ height: 1fr; margin: 1 3 0 3; }}
    #keys {{ height: 1; margin: 1 3; text-style: bold; color: {BRIGHT}; }}
    """

    def __init__(self, workbench: Workbench) -> None:
        super().__init__()
        self._workbench = workbench
        self._recipes: Sequence[RecipeEntry] = ()
        self._shelf: Sequence[ShelfEntry] = ()
        self._ports: Sequence[str] = ()

    def compose(self) -> ComposeResult:
        yield Static(plain("\n".join(draw_word("winder") or ())), id="name")
        yield Static(plain(""), id="told")
        with Horizontal(id="lists"):
            with Vertical(id="recipes-side"):
                yield Static(plain("recipe"), classes="list-name")
                yield OptionList(id="recipes")
            with Vertical(id="ports-side"):
                yield Static(plain("port"), classes="list-name")
                yield OptionList(id="ports")
        with Vertical(id="shelf-side"):
            yield Static(plain("shelf"), classes="list-name")
            yield OptionList(id="shelf")
        yield Static(plain(KEYS), id="keys")

    def on_mount(self) -> None:
        self.reload()
        self.query_one("#recipes", OptionList).focus()

    def on_resize(self, event: events.Resize) -> None:
        self.query_one("#name").display = event.size.height >= 24

    def reload(self, trouble: str = "") -> None:
        """Look again at recipes, ports and shelf; ``trouble`` is told at the top."""
        told = [trouble] if trouble else []
        try:
            self._recipes = self._workbench.recipes()
            self._ports = self._workbench.ports()
            self._shelf = self._workbench.shelf()
            told += list(self._workbench.unfinished())[-UNFINISHED_SHOWN:]
        except WinderError as error:
            told.append(str(error))
        self._fill("recipes", [_recipe_line(entry) for entry in self._recipes], "no recipe yet")
        self._fill("ports", [_port_line(port) for port in self._ports], "no port")
        self._fill("shelf", [_shelf_line(entry) for entry in self._shelf], "no coil yet")
        self._tell(told)

    def on_key(self, event: events.Key) -> None:
        if event.key == "w":
            self._wind()
        elif event.key == "r":
            self.reload()
        elif event.key == "q":
            self._app.careful_exit()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if event.option_list.id == "recipes":
            self.query_one("#ports", OptionList).focus()
        elif event.option_list.id == "ports":
            self._wind()
        elif self._shelf:
            self._show_record(self._shelf[event.option_index])

    @property
    def _app(self) -> WinderApp:
        return cast("WinderApp", self.app)

    def _wind(self) -> None:
        recipe = self.query_one("#recipes", OptionList).highlighted
        port = self.query_one("#ports", OptionList).highlighted
        if recipe is None or port is None or not self._recipes or not self._ports:
            self._tell(["Choose a recipe and a port first."])
            return
        try:
            run = self._workbench.open_wind(self._recipes[recipe].path, self._ports[port])
        except WinderError as error:
            self._tell([str(error)])
            return
        self._tell([])
        self._app.begin(run)

    def _show_record(self, entry: ShelfEntry) -> None:
        try:
            record = self._workbench.shelf_record(entry.coil_id)
        except WinderError as error:
            self._tell([str(error)])
            return
        self.app.push_screen(ShowRecord(record))

    def _tell(self, sentences: Sequence[str]) -> None:
        told = self.query_one("#told", Static)
        told.update(plain("\n".join(sentences)))
        told.display = bool(sentences)

    def _fill(self, name: str, lines: Sequence[str], nothing: str) -> None:
        """Put the lines into a list, keeping the place; an empty list says so."""
        found = self.query_one(f"#{name}", OptionList)
        place = found.highlighted
        found.clear_options()
        found.add_options([Option(plain(line)) for line in lines or [nothing]])
        found.highlighted = min(place or 0, max(0, len(lines) - 1))


def _recipe_line(entry: RecipeEntry) -> str:
    return f"{plain_text(entry.name):<20}  {plain_text(entry.summary)}"


def _port_line(port: str) -> str:
    return "sim   the simulated machine" if port == "sim" else plain_text(port)


def _shelf_line(entry: ShelfEntry) -> str:
    name, rest = plain_text(entry.name), (entry.date, entry.turns, entry.truth, entry.state)
    return f"{name:<24.24}  {'  '.join(plain_text(part) for part in rest)}"
