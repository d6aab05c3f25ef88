"""The page for contributors names what is there: every file, every module that is run, every name of its worked examples."""

from __future__ import annotations

import importlib.util
import re

import pytest
from source_tree import ROOT

from firmware_protocol.vocabulary import Group
from firmware_protocol.wire import REGISTER
from winder.screens.forms import Dialogue
from winder.screens.pair_screen import PairScreen
from winder.screens.shelf_screen import ShelfScreen
from winder.screens.spool_screen import SpoolScreen
from winder.screens.topics import topic_named

PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CODE = re.findall(r"`([^`\n]+)`", PAGE)
FOLDERS = (ROOT, ROOT / "firmware_protocol", ROOT / "firmware_protocol" / "firmware", ROOT / "winder" / "simulator",
           ROOT / "firmware_protocol" / "firmware" / "ports" / "smallest", ROOT / "tests" / "campaigns")  # fmt: skip
A_PATH = re.compile(r"\.?[\w.*-]+(/[\w.*-]+)+|[\w*]+\.(c|h|md|py|mjs|hex)")
BUILT = {"build/fuzz-core"}  # by make, not in the tree
# Names of the worked examples, and where each is.
NAMES = {
    "firmware_protocol/vocabulary.py": ("Group",),
    "firmware_protocol/messages.py": ("message", "Sender"),
    "firmware_protocol/explain.py": ("SENTENCES",),
    "winder/screens/forms.py": ("Dialogue", "KEYS", "TOPIC"),
    "winder/recipe/model.py": ("Core",),
    "winder/recipe/parts.py": ("_MEASURES", "read_core"),
    "winder/simulator/wrong_motion.py": ("sentence", "sees", "alters", "welcomes"),
    "winder/simulator/scene.py": ("WORLD",),
}


def paths_named() -> list[str]:
    words = {word.rstrip(",.:") for code in CODE for word in code.split()}
    return sorted(word for word in words if A_PATH.fullmatch(word) and word not in BUILT)


def test_every_file_and_folder_is_there():
    assert len(paths_named()) > 40
    missing = [path for path in paths_named() if not any(any(f.glob(path)) for f in FOLDERS)]
    assert not missing


def test_every_module_that_is_run_is_there():
    modules = sorted(set(re.findall(r"python -m ([\w.]+)", PAGE)))
    assert len(modules) > 8
    assert not [module for module in modules if importlib.util.find_spec(module) is None]


@pytest.mark.parametrize("path", NAMES)
def test_the_names_of_the_examples_are_where_they_are_said_to_be(path):
    text = (ROOT / path).read_text(encoding="utf-8")
    assert path in PAGE or path.rpartition("/")[2] in PAGE
    for name in NAMES[path]:
        assert re.search(rf"\b{name}\b", text), name
        assert name in PAGE, name


def test_the_message_of_the_example_is_free():
    (number, group), *_ = re.findall(r"@message\((0x[0-9a-f]+), Group\.(\w+)", PAGE)
    assert int(number, 16) not in REGISTER
    assert group not in Group.__members__


def test_the_shape_of_the_example_is_not_there_yet():
    assert "EllipticCore" in PAGE
    assert "EllipticCore" not in (ROOT / "winder" / "recipe" / "model.py").read_text("utf-8")


@pytest.mark.parametrize("screen", Dialogue.__subclasses__(), ids=lambda screen: screen.__name__)
def test_every_dialogue_has_what_the_example_asks_for(screen):
    assert screen.KEYS and all(screen.KEYS.values())
    assert topic_named(screen.TOPIC) is not None


def test_the_dialogues_are_all_looked_at():
    assert {PairScreen, ShelfScreen, SpoolScreen} <= set(Dialogue.__subclasses__())
