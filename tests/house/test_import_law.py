"""The import law seen from a fresh interpreter: what a room drags in when it is imported.

The layers between rooms are contracts of import-linter (``pyproject.toml``); this looks at the
libraries, which must stay in the rooms they belong to.
"""

from __future__ import annotations

import ast
import json
import subprocess
import sys

import pytest
from source_tree import ROOT, python_files

HOME_OF = {
    "textual": ("winder/screens/",),
    "serial": ("winder/links/",),
    "sqlite3": ("winder/shelf/",),
    "numpy": ("winder/coil/", "winder/simulator/"),
    "time": ("winder/clock.py",),
    "datetime": ("winder/clock.py",),
    "random": ("winder/simulator/", "winder/plan/", "winder/links/"),
    "secrets": ("winder/service/",),
}
HEAVY = ("numpy", "textual", "sqlite3", "serial", "rich")
# What nobody would see come back but in the time it takes: each drags in a dozen others.
COSTLY = (
    "asyncio",
    "difflib",
    "importlib.resources",
    "platformdirs",
    "secrets",
    "tempfile",
    "zipfile",
)
SENSOR = str(ROOT / "winder" / "recipe" / "examples" / "sensor.toml")
FAR_ROOMS = ("winder.laboratory", "winder.links", "winder.screens", "winder.shelf", "winder.wind")
# A verb, and what the shipped round coil needs none of for it.
SPARED = {
    "sheet": (*HEAVY, *COSTLY, *FAR_ROOMS, "winder.simulator", "firmware_protocol.messages"),
    "plan": (*HEAVY, *COSTLY, *FAR_ROOMS, "winder.simulator", "firmware_protocol.messages"),
    "rehearse": (
        *(name for name in HEAVY if name != "sqlite3"),  # its journal is one, in memory
        *COSTLY,
        "winder.laboratory",
        "winder.screens",
        "firmware_protocol.conformance",
        "firmware_protocol.explain",
    ),
}


def loaded_after(*words: str) -> set[str]:
    """Modules in ``sys.modules`` of a fresh interpreter after running the words."""
    code = "import sys, json, atexit\n" + "\n".join(words)
    code += "\nprint(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True
    )
    return set(json.loads(done.stdout.strip().splitlines()[-1]))


def test_help_loads_no_heavy_library():
    loaded = loaded_after(
        "from winder.commands.main import main",
        "try: main(['--help'])",
        "except SystemExit: pass",
    )
    assert loaded.isdisjoint(HEAVY), sorted(loaded.intersection(HEAVY))


@pytest.mark.parametrize("verb", SPARED)
def test_a_verb_loads_only_what_it_needs(verb):
    loaded = loaded_after(
        "from winder.commands.main import main", f"assert main([{verb!r}, {SENSOR!r}]) == 0"
    )
    assert f"winder.commands.{verb}" in loaded
    assert loaded.isdisjoint(SPARED[verb]), sorted(loaded.intersection(SPARED[verb]))


def test_the_protocol_stands_alone():
    loaded = loaded_after(
        "import firmware_protocol.connection, firmware_protocol.device",
        "import firmware_protocol.explain, firmware_protocol.generate",
    )
    assert "winder" not in loaded
    assert loaded.isdisjoint(HEAVY)


@pytest.mark.parametrize(
    ("module", "forbidden"),
    [
        ("winder.wind.session", {"numpy", "serial", "sqlite3", "textual"}),
        ("winder.simulator.machine", {"serial", "sqlite3", "textual"}),
        ("winder.shelf", {"serial", "textual"}),
    ],
)
def test_a_room_drags_in_no_stranger(module, forbidden):
    assert loaded_after(f"import {module}").isdisjoint(forbidden)


def imported_names(path) -> set[str]:
    tree = ast.parse(path.read_text())
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names.update(alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            names.add(node.module.split(".")[0])
    return names


@pytest.mark.parametrize("path", python_files("winder"), ids=lambda p: str(p.relative_to(ROOT)))
def test_libraries_stay_in_their_rooms(path):
    place = str(path.relative_to(ROOT))
    for name in imported_names(path) & set(HOME_OF):
        assert place.startswith(HOME_OF[name]), (
            f"{place} imports {name}: its home is {HOME_OF[name]}"
        )


@pytest.mark.parametrize(
    "path", python_files("firmware_protocol"), ids=lambda p: str(p.relative_to(ROOT))
)
def test_the_protocol_uses_the_standard_library_only(path):
    own = {"firmware_protocol"}
    assert imported_names(path) <= set(sys.stdlib_module_names) | own
