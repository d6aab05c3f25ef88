"""``winder recipe new``: the twelve lines that matter, and all of them with ``--full``."""

from __future__ import annotations

import tomllib

from winder.coil.known import coil_of
from winder.coil.winding import complaints
from winder.commands.main import main
from winder.recipe.reader import read_recipe_text
from winder.recipe.samples import SHORT, new_recipe_text, short_recipe_text


def keys_of(text: str) -> set[str]:
    found = set()
    for name, value in tomllib.loads(text).items():
        found |= {f"{name}.{key}" for key in value} if isinstance(value, dict) else {name}
    return found


def test_the_short_recipe_has_twelve_lines_and_can_be_wound_as_it_stands():
    text = short_recipe_text("bass")
    assert keys_of(text) == set(SHORT) and len(SHORT) == 12
    recipe = read_recipe_text(text, "bass.toml")
    assert recipe.name == "bass"
    assert not complaints(coil_of(recipe))
    assert max(map(len, text.splitlines())) <= 100


def test_each_of_its_lines_says_what_to_put_there():
    lines = [line for line in short_recipe_text("x").splitlines() if " = " in line.split("#")[0]]
    assert len(lines) == 12 and all("  # " in line for line in lines)


def test_the_command_writes_the_short_one_and_with_full_every_key(tmp_path, capsys):
    short, full = tmp_path / "short.toml", tmp_path / "full.toml"
    assert main(["recipe", "new", str(short)]) == 0
    assert main(["recipe", "new", "--full", str(full)]) == 0
    assert short.read_text() == short_recipe_text("short")
    assert full.read_text() == new_recipe_text("full")
    assert keys_of(short.read_text()) <= keys_of(full.read_text()) | {
        "bobbin.margin",
        "winding.speed",
    }
    assert main(["recipe", "check", str(short)]) == 0
    assert main(["recipe", "new", str(short)]) == 2
    assert "this name is taken already" in capsys.readouterr().err


def test_a_hostile_name_stays_a_name():
    text = short_recipe_text('a"\n[target]\nturns=1 \\')
    assert tomllib.loads(text)["target"]["turns"] == 5000
