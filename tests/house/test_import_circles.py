"""No two files need each other: the arrows between files, drawn as a graph, never lead back.

Imports inside functions count: they only put a circle off until the function runs. What stands under
``if TYPE_CHECKING`` does not: nothing of it is there when the program runs.
"""

from __future__ import annotations

import ast
import graphlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from source_tree import PACKAGES, ROOT, python_files


def module_name(path: Path, root: Path = ROOT) -> str:
    """``winder.coil.wire`` for its file; a package is its ``__init__``."""
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_of(tree: ast.AST) -> Iterator[ast.Import | ast.ImportFrom]:
    """All that run at some time: at the top or in a function, not for the type checker alone."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            for other in node.orelse:
                yield from imports_of(other)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            yield node
        else:
            yield from imports_of(node)


def arrows_of(name: str, path: Path, modules: set[str]) -> set[str]:
    """The modules of ``modules`` that this one imports."""
    found = set()
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    for node in imports_of(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            wanted = [alias.name for alias in node.names]
        else:
            base = node.module or ""
            if node.level:
                above = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*above, base] if base else above)
            inside = [f"{base}.{alias.name}" for alias in node.names]
            # ``from package import file`` needs the file; ``from file import name`` needs the file too.
            wanted = [each if each in modules else base for each in inside]
        found.update(each for each in wanted if each in modules and each != name)
    return found


def circle_in(files: dict[str, Path]) -> list[str]:
    """One circle of files that import each other, or nothing."""
    modules = set(files)
    graph = {name: arrows_of(name, path, modules) for name, path in files.items()}
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        return [str(name) for name in error.args[1]]
    return []


def test_no_files_import_each_other_in_a_circle():
    circle = circle_in({module_name(path): path for path in python_files(*PACKAGES)})
    assert not circle, " <- ".join(circle)


@pytest.mark.parametrize(
    ("first", "second", "closed"),
    [
        ("from room import second", "from room.first import thing", True),
        ("from room.second import thing", "def late():\n    from .first import thing", True),
        ("import room.second", "import room.first", True),
        (
            "from room.second import thing",
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from room.first import thing",
            False,
        ),
        ("from room.second import thing", "import math", False),
    ],
)
def test_the_search_finds_a_circle_and_nothing_else(tmp_path, first, second, closed):
    room = tmp_path / "room"
    room.mkdir()
    files = {"room": "", "room.first": first, "room.second": second}
    places = {
        "room": room / "__init__.py",
        "room.first": room / "first.py",
        "room.second": room / "second.py",
    }
    for name, text in files.items():
        places[name].write_text(text)
    assert bool(circle_in(places)) is closed
