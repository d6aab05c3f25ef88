"""The workbench: what can be wound, on which port, and the shelf of coils made.

Winds that did not end properly are told first, because somebody has to look at them, and a coil that is
not done is offered to go on with. Choosing a recipe and a port opens a wind; nothing moves until it is started on the wind's own screen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, cast

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from winder.errors import WinderError
from winder.screens.asking import AskCount, ShowRecord
from winder.screens.bench import RecipeEntry, ShelfEntry, WindRun, Workbench
from winder.screens.face import BRIGHT, GROUND, QUIET, TEXT
from winder.screens.figures import draw_word
from winder.screens.plain import plain, plain_text

if TYPE_CHECKING:
    from winder.screens.app import WinderApp

KEYS = "Tab next list   Enter choose   w wind it   c count only   r look again   q leave"
SHORT_KEYS = "Tab list  Enter choose  w wind  c count  r again  q leave"
WIDE_COLUMNS = 76
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
    OptionList {{ text-wrap: nowrap; text-overflow: clip; }}
    OptionList > .option-list--option {{ padding: 0 1; }}
    OptionList > .option-list--option-highlighted {{
        background: {GROUND}; color: {BRIGHT}; text-style: bold;
    }}
    OptionList:focus > .option-list--option-highlighted {{
        background: {TEXT}; color: {GROUND}; text-style: bold;
    }}
    #shelf-side {{ height: 1fr; margin: 1 3 0 3; }}
    #offer {{ height: auto; margin: 1 3 0 3; color: {BRIGHT}; text-style: bold; }}
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
        yield Static(plain(""), id="offer")
        yield Static(plain(KEYS), id="keys")

    def on_mount(self) -> None:
        self.reload()
        self.query_one("#recipes", OptionList).focus()

    def on_resize(self, event: events.Resize) -> None:
        self.query_one("#name").display = event.size.height >= 24
        keys = KEYS if event.size.width >= WIDE_COLUMNS else SHORT_KEYS
        self.query_one("#keys", Static).update(plain(keys))

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
        self._offer()
        self._tell(told)

    def on_key(self, event: events.Key) -> None:
        if event.key == "w":
            self._wind()
        elif event.key == "c":
            self.app.push_screen(AskCount(), self._count)
        elif event.key == "g":
            self._go_on()
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
        if recipe is None or not self._recipes or not self._ports:
            self._tell(["Choose a recipe and a port first."])
            return
        self._open(self._recipes[recipe].path)

    def _go_on(self) -> None:
        """A new wind of the coil that is offered, by the recipe that winds it."""
        coil = self._unfinished_coil()
        if coil is None:
            return
        if coil.counted:
            self._open("", coil.coil_id)
            return
        chosen = self.query_one("#recipes", OptionList).highlighted or 0
        fit = [entry for entry in self._recipes if entry.coil_name == coil.name]
        if not fit or not self._ports:
            self._tell([f"No recipe here winds {coil.name!r}: start where its file is."])
            return
        same = self._recipes[chosen] if self._recipes[chosen] in fit else fit[0]
        self._open(same.path, coil.coil_id)

    def _unfinished_coil(self) -> ShelfEntry | None:
        """The coil of the shelf to go on with: the one that is looked at, else the newest."""
        shelf = self.query_one("#shelf", OptionList)
        place = shelf.highlighted
        if shelf.has_focus and place is not None and place < len(self._shelf):
            return self._shelf[place] if self._shelf[place].goes_on else None
        return next((entry for entry in self._shelf if entry.goes_on), None)

    def _offer(self) -> None:
        """Say which coil could go on; nothing where there is none."""
        coil = self._unfinished_coil()
        offer = self.query_one("#offer", Static)
        offer.display = coil is not None
        if coil is not None:
            turns = coil.turns if "turns" in coil.turns else f"{coil.turns} turns"
            offer.update(plain(f"g go on with coil {coil.coil_id}: {coil.name}, {turns}"))

    def on_option_list_option_highlighted(self) -> None:
        self._offer()

    def on_descendant_focus(self) -> None:
        self._offer()

    def _count(self, wanted: tuple[int, str] | None) -> None:
        """Count a coil of which only a name and a number of turns are known."""
        if wanted is not None:
            self._begin(lambda port: self._workbench.open_count(*wanted, port))

    def _open(self, recipe_path: str, goes_on: int | None = None) -> None:
        self._begin(lambda port: self._workbench.open_wind(recipe_path, port, goes_on))

    def _begin(self, open_on: Callable[[str], WindRun]) -> None:
        """Open a wind on the chosen port, or tell why not."""
        port = self.query_one("#ports", OptionList).highlighted or 0
        if not self._ports:
            self._tell(["There is no port to wind on."])
            return
        try:
            run = open_on(self._ports[port])
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
