"""The form for a recipe: measure this, type it here, and see at once what the coil will be.

What is shown is the recipe's text and nothing beside it: every letter typed goes into the text, the text is judged
as a whole, and what is wrong with it stands below the field it is about. Saving writes that text, with all that
the form does not ask for and every comment in it. Nothing here moves anything.
"""

from __future__ import annotations

from pathlib import Path

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from winder.errors import Complaint, WinderError
from winder.machine.model import MachineProfile
from winder.recipe.samples import short_recipe_text
from winder.screens.asking import AskYes
from winder.screens.editor import edited
from winder.screens.face import BRIGHT, GROUND, QUIET, TEXT, Face
from winder.screens.form_fields import Draft
from winder.screens.form_line import FormLine
from winder.screens.form_side import draw_side
from winder.screens.plain import plain, plain_text
from winder.service.drafting import Judged, file_for, judge, read_draft, save_draft

KEYS = "Enter next  Left Right choose  Ctrl+S save  Ctrl+E editor  Esc leave  F1 help"
SHORT_KEYS = "Enter next  Ctrl+S save  Ctrl+E editor  Esc leave  F1 help"
FIRST_LOOK_S = 0.02
KEYS_COLUMNS = len(KEYS) + 6
SIDE_COLUMNS = 76  # narrower, the figures stand below the fields, without the drawing
NEW_RECIPE = short_recipe_text("my coil")


class RecipeForm(Screen[str | None]):
    """Gives back the path of the recipe that was saved; None: nothing was.

    ``path`` is the recipe to change; None: a new one, which begins as ``text``.
    """

    CSS = f"""
    RecipeForm {{ background: {GROUND}; color: {TEXT}; }}
    #what {{ height: 1; margin: 0 2; text-style: bold; color: {BRIGHT}; }}
    #form {{ height: 1fr; margin: 1 2 0 2; }}
    #fields {{ width: 1fr; max-width: 64; height: 1fr; }}
    #side {{ width: 1fr; margin-left: 3; }}
    #page.narrow #form {{ layout: vertical; margin: 0 1; }}
    #page.narrow #fields {{ height: 1fr; max-width: 100%; width: 100%; }}
    #page.narrow #side {{ height: 5; width: 100%; margin: 1 0 0 0; }}
    #page.narrow #what, #page.narrow #hint, #page.narrow #form-keys {{ margin: 0 1; }}
    FormLine {{ height: auto; }}
    FormLine Horizontal {{ height: 1; }}
    FormLine .label {{ width: 16; color: {QUIET}; }}
    FormLine Input, FormLine Input:focus {{
        width: 1fr; max-width: 26; background: {GROUND}; color: {TEXT}; background-tint: {GROUND} 0%;
        padding: 0; height: 1; border: none;
    }}
    FormLine Input:focus {{ color: {BRIGHT}; text-style: bold; }}
    FormLine Input > .input--placeholder {{ color: {QUIET}; }}
    Chooser {{ width: 1fr; max-width: 26; height: 1; }}
    Chooser:focus {{ background: {TEXT}; color: {GROUND}; text-style: bold; }}
    FormLine.here .label {{ color: {BRIGHT}; text-style: bold; }}
    FormLine .wrong {{ height: auto; margin: 0 0 0 2; color: {BRIGHT}; text-style: bold; }}
    #hint {{ height: auto; max-height: 3; margin: 0 2; }}
    #form-keys {{ height: auto; margin: 0 2 0 2; text-style: bold; color: {BRIGHT}; }}
    """

    def __init__(
        self,
        path: Path | None,
        folder: Path,
        machine: MachineProfile,
        text: str = NEW_RECIPE,
    ) -> None:
        """Raises ``UserMistake`` where the recipe cannot be read, or is not TOML."""
        super().__init__()
        self._path, self._folder, self._machine = path, folder, machine
        self._before = None if path is None else read_draft(path)
        self._begun = text if self._before is None else self._before
        self._draft = Draft(self._begun)
        self._judged: Judged = judge(self._draft.text, "recipe", machine)
        self._said = ""

    def compose(self) -> ComposeResult:
        with Vertical(id="page"):
            yield Static(plain(""), id="what")
            with Horizontal(id="form"):
                yield VerticalScroll(*self._lines(), id="fields", can_focus=False)
                side = Face()
                side.id = "side"
                yield side
            yield Static(plain(""), id="hint")
            yield Static(plain(KEYS), id="form-keys")

    def on_mount(self) -> None:
        self._focus(0)
        self.set_timer(
            FIRST_LOOK_S, self._show
        )  # the terminal's size may come without another event

    def on_resize(self, event: events.Resize) -> None:
        narrow = event.size.width < SIDE_COLUMNS
        self.query_one("#page").set_class(narrow, "narrow")
        self.query_one("#form-keys", Static).update(
            plain(KEYS if event.size.width >= KEYS_COLUMNS else SHORT_KEYS)
        )
        self.call_after_refresh(self._show)

    def take(self, key: str) -> bool:
        """A key of the form as a whole, taken before any field sees it: what is typed next goes to the next field."""
        steps = {"enter": 1, "down": 1, "up": -1}
        if key in steps:
            self._focus(self._place + steps[key])
        elif key == "ctrl+s":
            self._save()
        elif key == "ctrl+e":
            self._edit()
        elif key == "escape":
            self._leave()
        else:
            return False
        return True

    def on_descendant_focus(self) -> None:
        for line in self._all:
            line.set_class(line is self._here, "here")
        self._show()

    async def on_form_line_changed(self, event: FormLine.Changed) -> None:
        before = [entry.path for entry in self._draft.entries()]
        if event.line.entry.path not in before:
            return  # typed into a line that is about to go: another kind was chosen just before
        try:
            self._draft.change(event.line.entry, event.typed)
        except WinderError as wrong:
            self._say(str(wrong))
            return
        self._say("")
        if [entry.path for entry in self._draft.entries()] != before:
            await self._lay_out(event.line.entry.path)
        self._judge()

    # What is on the screen

    @property
    def _all(self) -> list[FormLine]:
        return list(self.query(FormLine))

    @property
    def _here(self) -> FormLine | None:
        """The line that has the focus."""
        return next((line for line in self._all if line.has_focus_within), None)

    @property
    def _place(self) -> int:
        return next((place for place, line in enumerate(self._all) if line is self._here), 0)

    def _path_place(self, path: str) -> int:
        paths = [line.entry.path for line in self._all]
        return paths.index(path) if path in paths else 0

    def _lines(self) -> list[FormLine]:
        return [FormLine(entry, self._draft.shown(entry)) for entry in self._draft.entries()]

    def _focus(self, place: int) -> None:
        lines = self._all
        if lines:
            line = lines[max(0, min(place, len(lines) - 1))]
            self.set_focus(line.asks)  # at once: the next key may be here already
            line.scroll_visible(animate=False)

    async def _lay_out(self, path: str) -> None:
        """Other lines, after another kind was chosen or the text came back from an editor."""
        fields = self.query_one("#fields", VerticalScroll)
        moved_on = self._place - self._path_place(path)  # while this was coming
        with self.app.batch_update():
            await fields.remove_children()
            await fields.mount_all(self._lines())
        self._focus(self._path_place(path) + moved_on)

    def _judge(self) -> None:
        self._judged = judge(self._draft.text, "recipe", self._machine)
        self._show()

    def _say(self, text: str) -> None:
        self._said = text

    def _show(self) -> None:
        """The complaints at their fields, the drawing, the hint and the title."""
        if not self.is_attached or not self.query("#what"):
            return
        left = dict(enumerate(self._judged.complaints))
        for line in self._all:
            mine = [place for place, each in left.items() if each.field == line.entry.path]
            line.complain("; ".join(_words(left.pop(place)) for place in mine))
        self.query_one("#what", Static).update(plain(self._title()))
        others = "; ".join(f"{plain_text(each.field)}: {_words(each)}" for each in left.values())
        here = self._here
        said = self._said or others or (here.entry.hint if here is not None else "")
        self.query_one("#hint", Static).update(plain(said))
        self._draw()

    def _title(self) -> str:
        saved = "saved" if self._draft.text == self._before else "not saved"
        return f"Recipe: {plain_text(self._file.name)}, {saved}"

    @property
    def _file(self) -> Path:
        name = (
            next(line.typed for line in self._all if line.entry.path == "name") if self._all else ""
        )
        return self._path or file_for(name, self._folder)

    def _draw(self) -> None:
        side = self.query_one("#side", Face)
        width, height = side.size
        if not width or not height:
            return
        shown = {entry.path: self._draft.shown(entry) for entry in self._draft.entries()}
        here = self._here
        part = here.entry.part if here is not None else ""
        side.show(draw_side(self._judged, shown, part, width, height))

    # Saving, the editor, leaving

    def _save(self) -> None:
        path = self._file
        try:
            save_draft(path, self._draft.text, self._before)
        except WinderError as error:
            self._say(str(error))
            self._show()
            return
        self.dismiss(str(path))

    def _edit(self) -> None:
        try:
            text = edited(self.app, self._draft.text)
            draft = Draft(text)
        except WinderError as error:
            self._say(str(error))
            self._show()
            return
        self._draft = draft
        self.call_next(self._lay_out, "name")
        self.call_next(self._judge)

    def _leave(self) -> None:
        if self._draft.text == self._begun:
            self.dismiss(None)
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self.dismiss(None)

        self.app.push_screen(AskYes("Leave without saving?", "leave"), answered)


def _words(complaint: Complaint) -> str:
    return plain_text(f"{complaint.what}; {complaint.remedy}")
