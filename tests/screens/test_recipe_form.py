"""The form for a recipe: typed, judged, drawn, saved; and the first steps on the start screen."""

from __future__ import annotations

import re
import tomllib
from contextlib import nullcontext
from pathlib import Path

import pytest
from pages import SIZES_ASKED
from piloting import Stage, on_stage
from textual import events
from textual.widgets import OptionList

from tests.pages.still import InventedRecipe, StillBench
from winder.commands.main import main
from winder.machine.model import SIMULATED_BENCH
from winder.recipe.reader import read_recipe
from winder.recipe.samples import example_recipes
from winder.screens.first_steps import STEPS
from winder.screens.form_fields import SHAPE, TARGET_KIND, WIRE_KIND, Draft
from winder.screens.form_line import FormLine
from winder.screens.form_side import figures
from winder.screens.recipe_form import NEW_RECIPE, RecipeForm
from winder.screens.rehearsing import Rehearsing
from winder.service.drafting import judge, save_draft
from winder.service.workbench import LocalWorkbench

MINE = """\
# wound for the invented kalimba
name = "bass"  # the low one

[wire]
gauge = "42 AWG"  # from the label
film = "single"

[bobbin]
shape = "obround"
length = "24 mm"   # measured three times
thickness = "4 mm"
width = "9.5 mm"
flange_height = "4 mm"

[target]
turns = 5000

[winding]
direction = "clockwise"
pauses = [2500]  # measure half-way
"""


class FolderBench(StillBench):
    """Recipes are the files of a folder, as in the real workbench."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self._folder = folder

    def recipes(self):
        found = sorted(self._folder.glob("*.toml"))
        examples = [(name, path) for name, path in example_recipes()]
        entries = [*((path.name, path) for path in found), *examples]
        return tuple(InventedRecipe(name, str(path), f"of {name}", name) for name, path in entries)


def in_folder(tmp_path, monkeypatch, play, size=(100, 30)) -> None:
    monkeypatch.chdir(tmp_path)
    on_stage(play, workbench=FolderBench(tmp_path), size=size)


async def type_over(stage: Stage, *fields: str) -> int:
    """Each text into the next typed field, over the words to choose; how many keys were no figures."""
    presses = 0
    for text in fields:
        while not hasattr(stage.app.focused, "value"):
            await stage.send("enter")
            presses += 1
        names = {".": "full_stop", ",": "comma", " ": "space"}
        await stage.send(*(names.get(sign, sign) for sign in text), "enter")
        presses += 1
    return presses


def test_from_winder_to_a_finished_rehearsal_takes_one_key(tmp_path, monkeypatch):
    async def play(stage: Stage) -> None:
        keys = ["t"]
        await stage.send(*keys)
        screen = stage.app.screen
        assert isinstance(screen, Rehearsing)
        for _ in range(600):
            await stage.pilot.pause(0.1)
            if screen.finished:
                break
        await stage.settle()
        assert "complete" in stage.text and "of 5000" in stage.text
        assert len(keys) <= 6

    in_folder(tmp_path, monkeypatch, play)


def test_by_the_form_to_a_planned_coil_takes_few_fields_and_few_keys(tmp_path, monkeypatch):
    """At most 10 typed fields and 60 other key presses; all others have a default that is taken."""
    fields = ["bass", "43", "25", "5", "8.5", "4.2", "0.3", "4200"]

    async def play(stage: Stage) -> None:
        await stage.send("f")
        presses = 1 + await type_over(stage, *fields)
        await stage.settle()
        assert "4200," in stage.text and "of winding" in stage.text, (
            "the plan's time stands beside it"
        )
        await stage.send("ctrl+s")
        await stage.settle()
        presses += 1
        assert len(fields) <= 10 and presses <= 60
        assert presses <= 20, presses  # what it takes today
        assert "Saved." in stage.text

    in_folder(tmp_path, monkeypatch, play)
    recipe = read_recipe(tmp_path / "bass.toml")
    assert (recipe.name, recipe.width_m, recipe.target.turns) == ("bass", 8.5e-3, 4200)
    assert judge(recipe.text, "bass", SIMULATED_BENCH).duration_s


def test_keys_that_come_faster_than_the_screen_go_where_they_were_meant(tmp_path, monkeypatch):
    async def play(stage: Stage) -> None:
        await stage.send("f")
        for key in [*["enter"] * 5, "2", "3", "enter", "3", "enter", "8", "enter", "up", "up"]:
            stage.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await stage.pilot.pause(0.3)
        assert re.search(r"core length +23 ", stage.text)
        assert re.search(r"core thickness +3 ", stage.text) and re.search(r"width +8 ", stage.text)
        assert "The shorter side of the core." in stage.text

    in_folder(tmp_path, monkeypatch, play)


def test_what_is_wrong_stands_below_its_field_as_it_is_typed(tmp_path, monkeypatch):
    async def play(stage: Stage) -> None:
        await stage.send("f", *["enter"] * 7)
        await stage.send("9", "comma")
        await stage.settle()
        assert "write the number with a point" not in stage.text  # "9," is no number yet
        await stage.send("5")
        await stage.settle()
        lines = stage.text.splitlines()
        place = next(n for n, line in enumerate(lines) if line.strip().startswith("width"))
        assert "has a decimal comma" in lines[place + 1]
        assert "not yet" in stage.text and "of winding" not in stage.text
        await stage.send("backspace", "backspace", "full_stop", "5")
        await stage.settle()
        assert "decimal comma" not in stage.text and "of winding" in stage.text

    in_folder(tmp_path, monkeypatch, play)


def test_turns_that_do_not_fit_are_complained_of_at_the_flange(tmp_path, monkeypatch):
    async def play(stage: Stage) -> None:
        await stage.send("f")
        await type_over(stage, "x", "42", "24", "4", "9.5", "1")
        await stage.settle()
        assert "does not fit" in stage.text
        lines = {line.entry.path: line.wrong for line in stage.app.screen.query(FormLine)}
        assert "wind at most about" in lines.pop("bobbin.flange_height")
        assert not any(lines.values())

    in_folder(tmp_path, monkeypatch, play, size=(120, 40))


def test_a_recipe_that_is_there_keeps_its_comments_and_what_the_form_does_not_ask(
    tmp_path, monkeypatch
):
    (tmp_path / "bass.toml").write_text(MINE)

    async def play(stage: Stage) -> None:
        await stage.send("e")
        assert isinstance(stage.app.screen, RecipeForm)
        await type_over(stage, "bass", "42 AWG", "24.5")
        await stage.send("ctrl+s")
        await stage.settle()

    in_folder(tmp_path, monkeypatch, play)
    after = (tmp_path / "bass.toml").read_text()
    assert after == MINE.replace('length = "24 mm"   #', 'length = "24.5 mm" #')


def test_an_example_of_the_program_is_never_changed(tmp_path, monkeypatch):
    before = {path: path.read_text() for _, path in example_recipes()}

    async def play(stage: Stage) -> None:
        await stage.send("e", *"mine", "ctrl+s")
        await stage.settle()

    in_folder(tmp_path, monkeypatch, play)
    assert {path: path.read_text() for path in before} == before
    assert tomllib.loads((tmp_path / "mine.toml").read_text())["name"] == "mine"


def test_leaving_with_something_typed_asks_first(tmp_path, monkeypatch):
    async def play(stage: Stage) -> None:
        await stage.send("f", "escape")
        assert not isinstance(stage.app.screen, RecipeForm)
        await stage.send("f", "x", "escape")
        await stage.settle()
        assert "Leave without saving?" in stage.text
        await stage.send("n")
        assert isinstance(stage.app.screen, RecipeForm)
        await stage.send("escape", "y")
        assert not isinstance(stage.app.screen, RecipeForm)

    in_folder(tmp_path, monkeypatch, play)
    assert list(tmp_path.iterdir()) == []


def test_choosing_another_kind_changes_the_fields(tmp_path, monkeypatch):
    async def play(stage: Stage) -> None:
        await stage.send("f", *["enter"] * 4, "right")
        await stage.settle()
        await stage.settle()
        assert "core diameter" in stage.text and "core thickness" not in stage.text
        await stage.send("left")
        await stage.settle()
        await stage.settle()
        assert "core thickness" in stage.text

    in_folder(tmp_path, monkeypatch, play)


def test_what_is_typed_into_a_line_that_is_about_to_go_is_not_kept(tmp_path, monkeypatch):
    async def play(stage: Stage) -> None:
        await stage.send("f")
        form = stage.app.screen
        assert isinstance(form, RecipeForm)
        going = next(line for line in form.query(FormLine) if line.entry.label == "core thickness")
        kind = next(line for line in form.query(FormLine) if line.entry is SHAPE)
        kind.post_message(FormLine.Changed(kind, "round"))
        going.post_message(FormLine.Changed(going, "9"))
        await stage.settle()
        await stage.settle()
        assert "core diameter" in stage.text and "thickness" not in stage.text

    in_folder(tmp_path, monkeypatch, play)


@pytest.mark.parametrize("kind", [WIRE_KIND, SHAPE, TARGET_KIND], ids=lambda kind: kind.label)
def test_every_kind_gives_a_recipe_that_can_be_read_and_leads_back(kind):
    draft = Draft(NEW_RECIPE)
    before = tomllib.loads(draft.text)
    for word in (*kind.options[1:], kind.options[0]):
        draft.change(kind, word)
        assert draft.shown(kind) == word
        wrong = judge(draft.text, "x", SIMULATED_BENCH).complaints
        assert all("missing" not in each.what and "beside" not in each.what for each in wrong)
    assert tomllib.loads(draft.text) == before
    assert "# on the spool's label" in draft.text


def test_the_editor_has_the_same_text_and_gives_it_back(tmp_path, monkeypatch):
    script = tmp_path / "edit.sh"
    script.write_text("#!/bin/sh\nsed -i 's/5000/1234/' \"$1\"\n")
    script.chmod(0o755)
    monkeypatch.setenv("EDITOR", str(script))
    monkeypatch.delenv("VISUAL", raising=False)
    folder = tmp_path / "recipes"
    folder.mkdir()

    async def play(stage: Stage) -> None:
        monkeypatch.setattr(stage.app, "suspend", nullcontext)  # there is no terminal to give away
        await stage.send("f", *["enter"] * 7, "8", "ctrl+e")
        await stage.settle()
        await stage.settle()
        assert "1234," in stage.text and re.search(r"width +8 mm", stage.text)
        script.write_text("#!/bin/sh\necho '[[[' > \"$1\"\n")
        await stage.send("ctrl+e")
        await stage.settle()
        assert "is not TOML" in stage.text and "1234," in stage.text

    in_folder(folder, monkeypatch, play)


def test_without_an_editor_the_form_says_how_to_name_one(tmp_path, monkeypatch):
    monkeypatch.delenv("EDITOR", raising=False)
    monkeypatch.delenv("VISUAL", raising=False)

    async def play(stage: Stage) -> None:
        await stage.send("f", "ctrl+e")
        await stage.settle()
        assert "$EDITOR: no editor is set" in stage.text

    in_folder(tmp_path, monkeypatch, play)


def test_a_recipe_that_is_not_toml_is_told_and_not_opened(tmp_path, monkeypatch):
    (tmp_path / "bass.toml").write_text("[wire\n")

    async def play(stage: Stage) -> None:
        await stage.send("e")
        await stage.settle()
        assert not isinstance(stage.app.screen, RecipeForm)
        assert "not TOML" in " ".join(stage.text.split())

    in_folder(tmp_path, monkeypatch, play)


def test_a_file_that_another_program_changed_is_not_written_over(tmp_path):
    path = tmp_path / "bass.toml"
    path.write_text("one")
    with pytest.raises(Exception, match="another program has changed this file"):
        save_draft(path, "mine", "other")
    assert path.read_text() == "one"
    with pytest.raises(Exception, match="taken already"):
        save_draft(path, "mine", None)
    link = tmp_path / "link.toml"
    link.symlink_to(path)
    path.chmod(0o640)
    save_draft(link, "two", "one")
    assert link.is_symlink() and path.read_text() == "two"
    assert path.stat().st_mode & 0o777 == 0o640
    assert sorted(each.name for each in tmp_path.iterdir()) == ["bass.toml", "link.toml"]


def test_hostile_text_in_a_field_stays_text(tmp_path, monkeypatch):
    draft = Draft(NEW_RECIPE)
    name = draft.entries()[0]
    draft.change(name, 'x"]\\ [red] \x1b[2J')
    assert tomllib.loads(draft.text)["name"] == 'x"]\\ [red] [2J'

    async def play(stage: Stage) -> None:
        await stage.send("f", "left_square_bracket", "slash", "x", "right_square_bracket")
        await stage.settle()
        assert "[/x]" in stage.text

    in_folder(tmp_path, monkeypatch, play)


@pytest.mark.parametrize("size", SIZES_ASKED, ids=lambda size: f"{size[0]}x{size[1]}")
def test_the_form_says_everything_at_every_size(tmp_path, monkeypatch, size):
    async def play(stage: Stage) -> None:
        await stage.send("f")
        await stage.settle()
        text = " ".join(stage.text.split())
        assert "turns 5000, 41 layers" in text
        assert "Ctrl+S save" in text and "Esc leave" in text and "F1 help" in text
        form = stage.app.screen
        assert isinstance(form, RecipeForm)
        for line in list(form.query(FormLine)):  # every field can be reached
            await stage.settle()
            assert line.entry.label in stage.text and line.entry.hint in " ".join(
                stage.text.split()
            )
            await stage.send("enter")

    in_folder(tmp_path, monkeypatch, play, size)


def test_the_figures_are_those_of_the_command_line(capsys, tmp_path):
    path = tmp_path / "bass.toml"
    path.write_text(NEW_RECIPE)
    assert main(["recipe", "check", str(path)]) == 0
    out = capsys.readouterr().out
    told = dict(figures(judge(NEW_RECIPE, "x", SIMULATED_BENCH)))
    assert "5000 turns" in out and told["turns"].startswith("5000,")
    ohms = re.findall(r"[\d.]+ k?ohm", told["ohms"])
    assert len(ohms) == 3 and all(figure in out for figure in ohms)


def test_the_real_workbench_lists_what_the_form_saved(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    bench = LocalWorkbench(str(tmp_path / "book"))

    async def play(stage: Stage) -> None:
        await stage.send("f", *"treble", "ctrl+s")
        await stage.settle()
        recipes = stage.app.screen.query_one("#recipes", OptionList)
        assert recipes.highlighted == 0
        assert "Saved." in stage.text and "treble.toml" in stage.text

    on_stage(play, workbench=bench, size=(100, 30))


def test_the_first_steps_are_written_on_the_start_screen():
    async def play(stage: Stage) -> None:
        for key in STEPS:
            assert re.search(rf"(^ *|  ){key} ", stage.text, re.MULTILINE), key

    for size in SIZES_ASKED:
        on_stage(play, workbench=StillBench(), size=size)
