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
from winder.screens.face import BRIGHT, QUIET
from winder.screens.figures import draw_word
from winder.screens.first_steps import SHORT_STEP_KEYS, STEP_KEYS, take_step
from winder.screens.forms import LIST_CSS, AskChoice, AskLine
from winder.screens.plain import plain, plain_text
from winder.screens.shelf_screen import ShelfScreen
from winder.screens.teach_screen import TeachScreen
from winder.service.again import Again
from winder.service.going_on import GoesOn

if TYPE_CHECKING:
    from winder.screens.app import WinderApp

KEYS = "Tab next list  Enter choose  w wind it  c count only  s shelf  r refresh  q leave"
SHORT_KEYS = "Tab list  w wind  c count  s shelf  r refresh  q leave"
WIDE_COLUMNS = 76
AROUND_COLUMNS = (
    11  # of a coil's line: margins, the list's own, its bar, and what parts name and count
)
NAME_COLUMNS = (8, 24)  # the least and the most of a coil's name
TIGHT_ROWS = 20  # below, without the space around
ROOMY_COLUMNS = 110  # from here a recipe's line has all of it
SIMULATED = "of the simulated machine"
UNFINISHED_SHOWN = 3  # the newest; the shelf has them all
COILS_SHOWN = 100  # of each kind, likewise
FILE_OF_LESSON = (
    "Teach the machine on the chosen port: what is its file to be called?",
    "It is written once all is measured.",
)
NEW_FILE = "bench.toml"
OLDER = "older ones: s shelf"


class StartScreen(Screen[None]):
    CSS = f"""
    #name {{ height: 3; color: {BRIGHT}; margin: 1 3 0 3; }}
    #told {{ height: auto; margin: 1 3 0 3; color: {BRIGHT}; }}
    #lists {{ height: 1fr; margin: 1 3 0 3; }}
    #recipes-side {{ width: 3fr; }}
    #ports-side {{ width: 2fr; margin-left: 3; }}
    .list-name {{ color: {QUIET}; height: 1; }}
    {LIST_CSS}
    StartScreen OptionList {{ height: 1fr; }}
    #looked-at {{ height: auto; margin: 0 3; color: {QUIET}; }}
    #shelf-side {{ height: 1fr; margin: 1 3 0 3; }}
    #offer {{ height: auto; margin: 1 3 0 3; color: {BRIGHT}; text-style: bold; }}
    #keys {{ height: auto; margin: 1 3; text-style: bold; color: {BRIGHT}; }}
    #told.tight, #lists.tight, #looked-at.tight, #shelf-side.tight, #offer.tight, #keys.tight {{
        margin: 0 1;
    }}
    #shelf-side.tight, #keys.tight {{ margin: 1 1 0 1; }}
    """

    def __init__(self, workbench: Workbench) -> None:
        super().__init__()
        self._workbench = workbench
        self._recipes: Sequence[RecipeEntry] = ()
        self._shelf: Sequence[ShelfEntry | str] = ()  # words stand between coils
        self._ports: Sequence[str] = ()
        self._followed = ""  # the coil that the wind under way shall be like
        self._near: list[str] = []  # how near it came, until another is begun

    def compose(self) -> ComposeResult:
        yield Static(plain("\n".join(draw_word("winder") or ())), id="name")
        yield Static(plain(""), id="told")
        with Horizontal(id="lists"):
            with Vertical(id="recipes-side"):
                yield Static(plain("recipes"), classes="list-name")
                yield OptionList(id="recipes")
            with Vertical(id="ports-side"):
                yield Static(plain("ports"), classes="list-name")
                yield OptionList(id="ports")
        yield Static(plain(""), id="looked-at")
        with Vertical(id="shelf-side"):
            yield Static(plain("coils"), classes="list-name")
            yield OptionList(id="shelf")
        yield Static(plain(""), id="offer")
        yield Static(plain(f"{KEYS}\n{STEP_KEYS}"), id="keys")

    def on_mount(self) -> None:
        self.reload()
        self.query_one("#recipes", OptionList).focus()

    def on_resize(self, event: events.Resize) -> None:
        self.query_one("#name").display = event.size.height >= 24
        for part in self.children:
            part.set_class(event.size.height < TIGHT_ROWS, "tight")
        wide = event.size.width >= len(KEYS) + 6
        keys = (KEYS, STEP_KEYS) if wide else (SHORT_KEYS, SHORT_STEP_KEYS)
        self.query_one("#keys", Static).update(plain("\n".join(keys)))
        self._list()

    def reload(self, trouble: str = "") -> None:
        """Look again at recipes, ports and shelf; ``trouble`` is told at the top."""
        told = [trouble] if trouble else []
        try:
            self._recipes = self._workbench.recipes()
            self._ports = self._workbench.ports()
            self._shelf = parted(self._workbench.shelf(COILS_SHOWN + 1))
            told += list(self._workbench.unfinished())[-UNFINISHED_SHOWN:]
            followed, self._followed = self._followed, ""
            if followed:
                self._near = list(self._workbench.how_near(followed))
            told += self._near
        except WinderError as error:
            told.append(str(error))
        self._list()
        self._offer()
        self._tell(told)

    def _list(self) -> None:
        """The lists as there is room for them; of the recipe that is looked at all is told below them."""
        roomy, wide = self.size.width >= ROOMY_COLUMNS, self.size.width >= WIDE_COLUMNS
        recipes = [_recipe_line(entry) if roomy else entry.name for entry in self._recipes]
        self._fill("recipes", recipes, "no recipe yet")
        ports = [_port_line(port, roomy=roomy, wide=wide) for port in self._ports]
        self._fill("ports", ports, "no port")
        told = [
            "" if isinstance(coil, str) else _shelf_line(coil, wide=wide) for coil in self._shelf
        ]
        room = self.size.width - AROUND_COLUMNS - max(map(len, told), default=0)
        shelf = [
            coil if isinstance(coil, str) else _named(coil.name, line, room)
            for coil, line in zip(self._shelf, told, strict=True)
        ]
        self._fill("shelf", shelf, "no coil yet")

    def on_key(self, event: events.Key) -> None:
        if event.key == "w":
            self._wind()
        elif event.key == "c":
            self.app.push_screen(AskCount(), self._count)
        elif event.key == "g":
            self._go_on()
        elif event.key == "s":
            self.app.push_screen(ShelfScreen(self._workbench), self._from_shelf)
        elif event.key == "m":
            self.app.push_screen(AskLine(*FILE_OF_LESSON, draft=NEW_FILE), self._teach)
        elif event.key == "r":
            self.reload()
        elif event.key == "q":
            self._app.careful_exit()
        else:
            self._take_step(event.key)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if event.option_list.id == "recipes":
            self.query_one("#ports", OptionList).focus()
        elif event.option_list.id == "ports":
            self._wind()
        elif self._shelf and not isinstance(entry := self._shelf[event.option_index], str):
            self._show_record(entry)

    def _teach(self, file: str | None) -> None:
        """Teach the machine on the chosen port, into this file."""
        place = self.query_one("#ports", OptionList).highlighted or 0
        if file is None or not self._ports:
            self._tell([] if file is None else ["There is no port to teach on."])
            return
        try:
            run = self._workbench.teach(self._ports[place], file)
        except WinderError as error:
            self._tell([str(error)])
            return
        what = f"{file}, on {self._ports[place]}"
        self._app.teach(TeachScreen(run, what, self._app.clock), self.reload)

    @property
    def _app(self) -> WinderApp:
        return cast("WinderApp", self.app)

    def _take_step(self, key: str) -> None:
        """A rehearsal or the form; what was saved there is chosen afterwards."""
        place = self.query_one("#recipes", OptionList).highlighted
        chosen = self._recipes[place] if self._recipes and place is not None else None
        try:
            take_step(self, self._workbench, key, chosen, self._recipe_saved)
        except WinderError as error:
            self._tell([str(error)])

    def _recipe_saved(self, path: str | None) -> None:
        if path is None:
            return
        self.reload()
        places = [place for place, each in enumerate(self._recipes) if each.path == path]
        recipes = self.query_one("#recipes", OptionList)
        recipes.highlighted = places[0] if places else recipes.highlighted
        recipes.focus()
        if places:
            self._tell([f"Saved. {self._recipes[places[0]].summary}. w winds it, t rehearses it."])

    def _wind(self) -> None:
        recipe = self.query_one("#recipes", OptionList).highlighted
        if recipe is None or not self._recipes or not self._ports:
            self._tell(["Choose a recipe and a port first."])
            return
        path = self._recipes[recipe].path
        try:
            spools = self._workbench.spools(path)
        except WinderError as error:
            self._tell([str(error)])
            return
        if not spools:
            self._open(path)
            return

        def begin(chosen: int | None) -> None:
            if chosen is not None:
                self._open(path, spool=spools[chosen] if chosen < len(spools) else None)

        choices = [*spools, "another one, not in the logbook"]
        self.app.push_screen(AskChoice("From which spool?", choices), begin)

    def _from_shelf(self, wish: Again | GoesOn | None) -> None:
        """Wind what was asked for on the shelf, on the chosen port."""
        self.reload()
        if wish is None:
            return
        begun = self._begin(lambda port: self._workbench.open_from_shelf(wish, port))
        if begun and isinstance(wish, Again):
            self._followed, self._near = wish.coil, []

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
            looked_at = self._shelf[place]
            return looked_at if not isinstance(looked_at, str) and looked_at.goes_on else None
        coils = (entry for entry in self._shelf if not isinstance(entry, str))
        return next((entry for entry in coils if entry.goes_on), None)

    def _offer(self) -> None:
        """Say which coil could go on; nothing where there is none."""
        coil = self._unfinished_coil()
        offer = self.query_one("#offer", Static)
        offer.display = coil is not None
        if coil is not None:
            offer.update(plain(f"g continue coil {coil.coil_id}: {coil.name}"))

    def on_option_list_option_highlighted(self) -> None:
        self._offer()
        place = self.query_one("#recipes", OptionList).highlighted
        told = self.query_one("#looked-at", Static)
        told.display = False
        if self._recipes and place is not None:
            line = _recipe_line(self._recipes[place])
            room = self.query_one("#recipes").size.width - 2
            told.display = self.size.width < ROOMY_COLUMNS or len(line) > room > 0
            told.update(plain(plain_text(self._recipes[place].summary)))

    def on_descendant_focus(self) -> None:
        self._offer()

    def _count(self, wanted: tuple[int, str] | None) -> None:
        """Count a coil of which only a name and a number of turns are known."""
        if wanted is not None:
            self._begin(lambda port: self._workbench.open_count(*wanted, port))

    def _open(self, recipe_path: str, goes_on: int | None = None, spool: str | None = None) -> None:
        self._begin(lambda port: self._workbench.open_wind(recipe_path, port, goes_on, spool))

    def _begin(self, open_on: Callable[[str], WindRun]) -> bool:
        """Open a wind on the chosen port, or tell why not; whether it is open."""
        port = self.query_one("#ports", OptionList).highlighted or 0
        if not self._ports:
            self._tell(["There is no port to wind on."])
            return False
        try:
            run = open_on(self._ports[port])
        except WinderError as error:
            self._tell([str(error)])
            return False
        self._tell([])
        self._app.begin(run)
        return True

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


def parted(shelf: Sequence[ShelfEntry]) -> list[ShelfEntry | str]:
    """A line between the real coils and those of the simulated machine: they are never mixed; and one
    below either where there are older ones."""
    parts: list[ShelfEntry | str] = []
    for simulated in (False, True):
        kind = [entry for entry in shelf if entry.simulated is simulated]
        parts += [SIMULATED] if simulated and kind else []
        parts += [*kind[:COILS_SHOWN], *([OLDER] if len(kind) > COILS_SHOWN else [])]
    return parts


def _recipe_line(entry: RecipeEntry) -> str:
    return f"{plain_text(entry.name):<20}  {plain_text(entry.summary)}"


def _port_line(port: str, *, roomy: bool, wide: bool) -> str:
    """Of a long path the last part where there is no room for all: it tells the boards apart."""
    if port == "sim":
        return "sim   the simulated machine" if wide else port
    return plain_text(port if roomy or not port.startswith("/") else port.rpartition("/")[2])


def _shelf_line(entry: ShelfEntry, *, wide: bool) -> str:
    """Without the day, and why it is no surer, where there is no room for all."""
    truth = entry.truth if wide else entry.truth.split(":")[0].removesuffix(" by you")
    words = (*([entry.date[:10]] if wide else []), entry.turns, truth, entry.state)
    return "  ".join(plain_text(part) for part in words if part or wide)


def _named(name: str, told: str, room: int) -> str:
    """A coil's line, cut at its name alone: how sure its count is must be read whole."""
    column = max(NAME_COLUMNS[0], min(NAME_COLUMNS[1], room))
    return f"{plain_text(name):<{column}.{column}}  {told}"
