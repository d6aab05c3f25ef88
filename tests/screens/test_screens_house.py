"""House rules of the screens: no raw text into a widget, pictures that never differ."""

from __future__ import annotations

import ast
import asyncio
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

import winder.screens
from tests.pages.pictures import PICTURES, draw_scene, main
from winder.screens.plain import plain, plain_text

DOCS = Path(__file__).parents[2] / "docs"
ROOM = Path(winder.screens.__file__).parent
TAKES_TEXT = {"Static", "Label", "Button", "Option", "update", "notify", "Markdown", "Log", "write"}
TITLES = {"border_title", "border_subtitle", "tooltip", "sub_title"}


def raw_texts(source: str) -> list[int]:
    """Lines where something other than ``plain(...)`` is given to a widget that reads markup."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            called = node.func
            name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
            if name in TAKES_TEXT and node.args and not is_plain(node.args[0]):
                found.append(node.lineno)
        elif isinstance(node, ast.Assign):
            titles = [t for t in node.targets if isinstance(t, ast.Attribute) and t.attr in TITLES]
            if titles and not is_plain(node.value):
                found.append(node.lineno)
    return sorted(found)


def is_plain(node: ast.expr) -> bool:
    return isinstance(node, ast.Call) and getattr(node.func, "id", "") == "plain"


def test_the_search_for_raw_texts_finds_them():
    assert raw_texts("Static(name)\nw.update(f'{x}')\nw.border_title = name\nStatic(plain(x))") == [
        1,
        2,
        3,
    ]


@pytest.mark.parametrize("path", sorted(ROOM.glob("*.py")), ids=lambda path: path.name)
def test_no_raw_text_reaches_a_widget(path):
    assert raw_texts(path.read_text(encoding="utf-8")) == []


def test_plain_text_has_no_control_signs_and_no_markup():
    assert plain_text("a\x1b[2J\tb\x00\u202e\ud800") == "a?[2J b???"
    assert plain("[/x]\n[red]y\x07").plain == "[/x]\n[red]y?"
    assert plain("[red]y").spans == []


def test_the_room_loads_no_toolkit_before_a_screen_is_opened():
    code = "import winder.screens, sys; print('textual' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_picture_is_the_same_each_time_and_shows_the_scene():
    first = asyncio.run(draw_scene("winding", 80, 24))
    assert first == asyncio.run(draw_scene("winding", 80, 24))
    assert "kalimba" in first and "20" + "26-" not in first
    assert asyncio.run(draw_scene("trip", 80, 24)) != first


def test_a_picture_is_written_to_the_file_asked_for(tmp_path):
    out = tmp_path / "note.svg"
    assert main([str(out), "--size", "60x18", "--scene", "note"]) == 0
    said = " ".join(words_in(out.read_text(encoding="utf-8")))
    assert "Note for this coil" in said and "laidwell" in said


def words_in(svg: str) -> list[str]:
    """What a picture says, row by row; how the toolkit writes the file is its own affair."""
    texts = [node.text or "" for node in ElementTree.fromstring(svg).iter() if "text" in node.tag]
    return [text.replace("\xa0", " ") for text in texts]


@pytest.mark.parametrize(("name", "scene", "width", "height"), PICTURES)
def test_the_pictures_of_the_documentation_are_not_stale(name, scene, width, height):
    kept = (DOCS / name).read_text(encoding="utf-8")
    assert words_in(kept) == words_in(asyncio.run(draw_scene(scene, width, height))), (
        "draw them again: python -m tests.pages.pictures --all docs"
    )


def test_every_picture_of_the_screen_in_the_documentation_is_drawn_by_the_command():
    assert {path.name for path in DOCS.glob("wind_screen*.svg")} == {name for name, *_ in PICTURES}


def test_all_pictures_need_a_folder_that_is_there(tmp_path, capsys):
    with pytest.raises(SystemExit):
        main(["--all", str(tmp_path / "gone")])
    assert "name one that exists" in capsys.readouterr().err


def test_a_size_that_is_none_is_refused(tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        main([str(tmp_path / "x.svg"), "--size", "wide"])
    assert ended.value.code == 2
    assert "write columns x rows" in capsys.readouterr().err
